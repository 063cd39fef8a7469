"""New times on the running day: worked out from what has happened, announced by the office.

What happened is noted at once: a pause, a judge who left, a wagon scratched. Announced times change
only in `announce_replan`; whatever becomes of the search, they stand until then.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from django.db import transaction

from entries.actions.decide_entry import scratch_entry
from entries.models import Entry
from judging.actions.announce import REASON_MAX, change_times
from judging.actions.engage_judge import judge_leaves
from judging.actions.mend_panel import mend_panel
from judging.actions.plan_jobs import Report, ask_for_plan
from judging.actions.set_day import add_pause
from judging.models import Announcement, Judge, PlanJob
from judging.queries.announcements import last_number
from judging.queries.day_case import DayCase, day_case
from judging.queries.difference import PUSH, SEARCH, Times, proposed_times
from judging.queries.running_day import OPEN_STATES
from judging.queries.visit_times import visit_times
from judging.queries.window import window_of
from judging.rules.windows.replan import Replan, push, replan
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

LIMIT_S = 10
# The office reads before it announces; a visit told to begin now may be told a little later.
GRACE = timedelta(minutes=5)


class What(StrEnum):
    """What may happen to a day."""

    LATE = "late"
    GONE = "gone"
    CREW = "crew"
    STOP = "stop"
    SCRATCHED = "scratched"
    DRIFT = "drift"


@dataclass(frozen=True)
class Happening:
    """What happened; which fields are set depends on the kind."""

    what: What
    judge: Judge | None = None
    entry: Entry | None = None
    minutes: int | None = None
    starts_at: datetime | None = None
    ends_at: datetime | None = None
    reason: str = ""


@transaction.atomic
def ask_replan(*, show: Show, happening: Happening, by: Person, at: datetime) -> PlanJob:
    """Note what happened, push at once, and want a shorter list of changes looked for."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    window = window_of(show)
    if window is None or window.published_at is None:
        raise NotYet(_("The times are not published yet; publish the window first."))
    cause = _note(show, happening, by, at)
    day = day_case(show, at=at)
    if not day.case.left and not day.called_off:
        raise Conflict(_("Every visit has begun or is done; there is nothing left to move."))
    _overtake(show)
    pushed = push(day.case)
    job = ask_for_plan(
        show=show,
        kind=PlanJob.Kind.REPLAN,
        case={
            "cause": cause,
            "asked": at.isoformat(),
            "announcement": last_number(show),
            "seats": _seats(day),
            "called_off": day.called_off,
            "push": _result(day, pushed),
        },
        limit_s=LIMIT_S,
        by=by,
        at=at,
    )
    if pushed.score == (0, 0, 0):
        # Nobody can do better than not to move anybody.
        job.state, job.finished_at = PlanJob.State.DONE, at
        job.save(update_fields=["state", "finished_at"])
    return job


def _overtake(show: Show) -> None:
    """A newer question takes the place of one that is still open."""
    PlanJob.objects.filter(show=show, kind=PlanJob.Kind.REPLAN, state__in=OPEN_STATES).update(
        state=PlanJob.State.STALE, stop_wanted=True, said="A newer re-plan took its place."
    )


def _note(show: Show, happening: Happening, by: Person, at: datetime) -> str:
    """Note what happened where it belongs, and say it in a sentence."""
    noted = {
        What.LATE: _late,
        What.GONE: _gone,
        What.CREW: _crew,
        What.STOP: _stop,
        What.SCRATCHED: _scratched,
        What.DRIFT: _drift,
    }[happening.what](show, happening, by, at)
    reason = happening.reason.strip().rstrip(".")
    return (f"{noted}: {reason}." if reason else f"{noted}.")[:REASON_MAX]


def _late(show: Show, happening: Happening, by: Person, at: datetime) -> str:
    judge, minutes = happening.judge, happening.minutes
    if judge is None or not minutes:
        raise InvalidInput(_("Say which judge, and by how many minutes."))
    free_at = at
    for time in visit_times(show):
        if time.judge_id == judge.pk and time.began_at and time.ended_at is None:
            length = time.ends_at - time.starts_at
            free_at = max(free_at, time.began_at + length)
    add_pause(
        show=show,
        judge=judge,
        starts_at=free_at,
        ends_at=free_at + timedelta(minutes=minutes),
        why=happening.reason.strip() or "held up",
        by=by,
        at=at,
    )
    return f"{judge.code} is held up by {minutes} minute{'s' if minutes > 1 else ''}"


def _gone(show: Show, happening: Happening, by: Person, at: datetime) -> str:
    if happening.judge is None:
        raise InvalidInput(_("Say which judge is gone."))
    judge_leaves(judge=happening.judge, reason=happening.reason, by=by, at=at)
    mend_panel(show=show, by=by, at=at, reason=happening.reason, retime=False)
    return f"{happening.judge.code} is gone"


def _scratched(show: Show, happening: Happening, by: Person, at: datetime) -> str:
    if happening.entry is None:
        raise InvalidInput(_("Say which wagon is scratched."))
    scratch_entry(entry=happening.entry, by=by, at=at, reason=happening.reason)
    mend_panel(show=show, by=by, at=at, reason=happening.reason, retime=False)
    return f"Wagon {happening.entry.number} is scratched"


def _crew(show: Show, happening: Happening, by: Person, at: datetime) -> str:
    if happening.entry is None:
        raise InvalidInput(_("Say which crew is away."))
    return f"The crew of wagon {happening.entry.number} is away {_pause(show, happening, by, at)}"


def _stop(show: Show, happening: Happening, by: Person, at: datetime) -> str:
    return f"Everybody stops {_pause(show, happening, by, at)}"


def _drift(show: Show, happening: Happening, by: Person, at: datetime) -> str:
    return "The day has drifted"


def _pause(show: Show, happening: Happening, by: Person, at: datetime) -> str:
    starts_at, ends_at = happening.starts_at, happening.ends_at
    if starts_at is None or ends_at is None:
        raise InvalidInput(_("Say from when to when."))
    if ends_at <= at:
        raise InvalidInput(
            _("That time is over already."), fields={"ends": _("A time still to come, please.")}
        )
    add_pause(
        show=show,
        entry=happening.entry,
        starts_at=starts_at,
        ends_at=ends_at,
        why=happening.reason.strip() or "away on the day",
        by=by,
        at=at,
    )
    local = [moment.astimezone(show.tz).strftime("%H:%M") for moment in (starts_at, ends_at)]
    return f"from {local[0]} to {local[1]}"


def _seats(day: DayCase) -> list[list[int]]:
    """Who is to see whom, as it was when the times were worked out."""
    return sorted(list(pair) for pair in day.wanted)


def _result(day: DayCase, found: Replan) -> dict[str, Any]:
    return {
        "visits": day.rows(found.rotation),
        "makespan": found.end,
        "bound": found.rotation.lower_bound,
        "proven": found.proven,
        "solver": found.solver,
        "moved": found.visits_moved,
        "over": found.overrun,
    }


def solve_replan(job: PlanJob, stop: threading.Event, report: Report) -> dict[str, Any]:
    """Look for new times that move fewer people than the push; changes no row."""
    show = Show.objects.get(pk=job.show_id)
    asked = datetime.fromisoformat(job.case["asked"])
    day = day_case(show, at=asked)
    if _seats(day) != job.case["seats"]:
        raise Conflict(_("The panel changed meanwhile; work the times out again."))
    report(job.case["push"]["makespan"], day.case.last_known_end)
    found = replan(day.case, limit_s=job.limit_s, seed=job.seed, stop=stop)
    faults = found.faults()
    if faults:
        raise Conflict(
            _("The times found break a rule: {why}.").format(why=faults[0]), code="rotation-faulty"
        )
    report(found.end, day.case.last_known_end)
    said = "No other times move fewer visits." if found.proven else ""
    return {**_result(day, found), "likely": None, "chance": None, "said": said}


def announce_replan(
    *, show: Show, job: PlanJob, way: str, by: Person, at: datetime
) -> Announcement:
    """Announce times worked out; refused where the day has gone on without them."""
    with transaction.atomic():
        show = Show.objects.select_for_update().get(pk=show.pk)
        job = PlanJob.objects.select_for_update().get(pk=job.pk, show=show)
        if job.kind != PlanJob.Kind.REPLAN or job.state not in OPEN_STATES:
            raise Conflict(
                _("Those times were announced, left or overtaken already. Work them out again."),
                code="stale",
            )
        times = _times_of(show, job, way)
        stale = _why_stale(show, job, times, at)
        if stale:
            PlanJob.objects.filter(pk=job.pk).update(
                state=PlanJob.State.STALE, stop_wanted=True, said=stale[:300], finished_at=at
            )
        else:
            told = change_times(
                show=show,
                times=times,
                called_off=[(judge, entry) for judge, entry in job.case["called_off"]],
                reason=job.case["cause"],
                by=by,
                at=at,
            )
            PlanJob.objects.filter(pk=job.pk).update(
                state=PlanJob.State.USED, stop_wanted=True, finished_at=at
            )
    if stale:
        raise Conflict(_("{stale} Work the times out again.").format(stale=_(stale)), code="stale")
    return told


def _times_of(show: Show, job: PlanJob, way: str) -> dict[tuple[int, int], Times]:
    plans = {PUSH: job.case["push"], SEARCH: job.result}
    if way not in plans:
        raise InvalidInput(_("Choose the times re-planned or the push."))
    rows = plans[way].get("visits")
    window = window_of(show)
    if rows is None or window is None:
        raise NotYet(_("Those times are not worked out yet."))
    return proposed_times(rows, window.opens_at)


def _why_stale(show: Show, job: PlanJob, times: dict[tuple[int, int], Times], at: datetime) -> str:
    """Say what happened since that the times do not know of; nothing where they still hold."""
    if last_number(show) != job.case["announcement"]:
        return N_("Other times were announced meanwhile.")
    day = day_case(show, at=at)
    if _seats(day) != job.case["seats"] or day.called_off != job.case["called_off"]:
        return N_("The panel changed meanwhile.")
    begun = {time.pair: time for time in day.times if time.began_at}
    announced = {time.pair: (time.starts_at, time.ends_at) for time in day.times}
    for pair, span in times.items():
        if announced.get(pair) == span:
            continue
        if pair in begun:
            return N_("A visit that would move has begun meanwhile.")
        if span[0] + GRACE < at:
            return N_("The first of the new times has passed meanwhile.")
    return ""


@transaction.atomic
def leave_replan(*, show: Show, job: PlanJob, by: Person, at: datetime) -> None:
    """Put times worked out aside; those announced stand."""
    left = PlanJob.objects.filter(
        pk=job.pk, show=show, kind=PlanJob.Kind.REPLAN, state__in=OPEN_STATES
    )
    if not left.update(
        state=PlanJob.State.STALE, stop_wanted=True, finished_at=at, said="Looked at, and left."
    ):
        raise Conflict(_("Those times were announced, left or overtaken already."))
    record_change(show=show, actor=by, at=at, verb="left", subject="changed times as announced")
