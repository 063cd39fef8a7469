"""The judging day while it runs: who is where, how far behind, and when it will end."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from entries.models import Entry
from judging.models import Judge, PlanJob, Window
from judging.queries.panel import judges_with_phones
from judging.queries.visit_times import VisitTime, visit_times
from judging.queries.window import window_of
from judging.rules.windows.next_step import Standing, next_step
from judging.rules.windows.pace import Pace, Stop, pace
from showrun.language import gettext as _
from showrun.shows.models import Show

OPEN_STATES = (*PlanJob.UNFINISHED, *PlanJob.READY, PlanJob.State.FAILED)


@dataclass(frozen=True)
class JudgeNow:
    """How one judge stands against the announced times."""

    judge: Judge
    pace: Pace
    at: Entry | None
    since: datetime | None
    next: Entry | None
    next_at: datetime | None
    done: int
    of: int
    heard_at: datetime | None
    has_phone: bool
    due: bool

    @property
    def finished(self) -> bool:
        """Whether all the judge's visits are done."""
        return self.of > 0 and self.done == self.of

    @property
    def where(self) -> str:
        """The wagon where the judge is, or the next one."""
        wagon = self.at or self.next
        return _("wagon {number}").format(number=wagon.number) if wagon else ""


@dataclass(frozen=True)
class RunningDay:
    """Everything the office's board shows of the day."""

    window: Window | None
    judges: tuple[JudgeNow, ...] = ()
    unseen: tuple[Entry, ...] = ()
    times: tuple[VisitTime, ...] = ()
    job: PlanJob | None = None

    @property
    def published(self) -> bool:
        """Whether there are announced times at all."""
        return self.window is not None and self.window.published_at is not None

    @property
    def done(self) -> int:
        """Visits that are over."""
        return sum(time.ended_at is not None for time in self.times)

    @property
    def closes_at(self) -> datetime | None:
        """When the window closes."""
        if self.window is None:
            return None
        return self.window.opens_at + timedelta(minutes=self.window.available_minutes)

    @property
    def last_ends_at(self) -> datetime | None:
        """The announced end of the last visit."""
        return max((time.ends_at for time in self.times), default=None)


def open_replan(show: Show) -> PlanJob | None:
    """Return the changed times that were worked out last, if nobody decided on them yet."""
    jobs = PlanJob.objects.filter(show=show, kind=PlanJob.Kind.REPLAN)
    job = jobs.order_by("-asked_at", "-id").first()
    return job if job and job.state in OPEN_STATES else None


def running_day(show: Show, *, at: datetime) -> RunningDay:
    """Return how the day stands; the same number of queries, however many wagons."""
    window = window_of(show)
    if window is None or window.published_at is None:
        return RunningDay(window)
    times = visit_times(show)
    entries = Entry.objects.confirmed().filter(show=show).select_related("spot").in_bulk()
    own: dict[int, list[VisitTime]] = defaultdict(list)
    for time in times:
        own[time.judge_id].append(time)
    judges = tuple(
        _judge_now(judge, own[judge.pk], entries, at)
        for judge in judges_with_phones(show)
        if judge.pk in own
    )
    seen = {time.entry_id for time in times if time.began_at}
    wanted = {time.entry_id for time in times}
    unseen = [entry for pk, entry in entries.items() if pk in wanted - seen]
    unseen.sort(key=lambda entry: entry.number or 0)
    return RunningDay(window, judges, tuple(unseen), tuple(times), open_replan(show))


def _judge_now(
    judge: Judge, own: list[VisitTime], entries: dict[int, Entry], at: datetime
) -> JudgeNow:
    found = pace([_stop(time) for time in own], at.timestamp())
    by_entry = {time.entry_id: time for time in own}
    here = by_entry.get(found.at) if isinstance(found.at, int) else None
    after = by_entry.get(found.next) if isinstance(found.next, int) else None
    heard = [device.last_seen_at for device in judge.devices.all() if device.revoked_at is None]
    known = [moment for moment in heard if moment is not None]
    return JudgeNow(
        judge=judge,
        pace=found,
        at=entries.get(here.entry_id) if here else None,
        since=here.began_at if here else None,
        next=entries.get(after.entry_id) if after else None,
        next_at=after.starts_at if after else None,
        done=sum(time.ended_at is not None for time in own),
        of=len(own),
        heard_at=max(known, default=None),
        has_phone=bool(heard),
        due=any(time.ended_at is None and time.starts_at <= at for time in own),
    )


def _stop(time: VisitTime) -> Stop:
    return Stop(
        time.entry_id,
        time.starts_at.timestamp(),
        time.ends_at.timestamp(),
        time.began_at.timestamp() if time.began_at else None,
        time.ended_at.timestamp() if time.ended_at else None,
    )


def step_of(day: RunningDay, *, chance: float | None, at: datetime) -> str:
    """Say what the office does next."""
    if not day.published or day.window is None:
        return _("Publish the window first; the running day is followed by its announced times.")
    until = (day.window.opens_at - at).total_seconds() / 60
    return next_step(
        list(_standings(day.judges, at)),
        waits_for_decision=day.job is not None,
        chance=chance,
        minutes_to_opening=max(0, -int(-until // 1)),
    )


def _standings(judges: Iterable[JudgeNow], at: datetime) -> Iterable[Standing]:
    for line in judges:
        quiet = int((at - line.heard_at).total_seconds() // 60) if line.heard_at else None
        yield Standing(
            line.judge.code,
            line.where,
            line.pace.behind_minutes,
            quiet,
            due=line.due,
            done=line.finished,
        )
