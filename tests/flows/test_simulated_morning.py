"""A simulated morning of fifteen wagons and five judges that goes another way three times.

Judges follow the announced times; their phones send what they touch, stamped by the phone's own
clock, each of which is off. A judge loses 25 minutes, a crew is away for 30, a judge falls ill.
"""

from __future__ import annotations

import random
import threading
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from uuid import uuid4

import pytest

from entries.models import Entry
from judging.actions import plan_jobs
from judging.actions.record_events import record_events
from judging.actions.replan_day import (
    Happening,
    What,
    announce_replan,
    ask_replan,
    solve_replan,
)
from judging.models import Announcement, Card, Device, Judge, PlanJob, Seat, Visit
from judging.queries.day_case import day_case
from judging.queries.difference import Difference, difference
from judging.queries.visit_times import visit_times
from judging.rules.windows.replan import push
from showrun.shows.models import Show
from tests.judged_show import (
    OPENS_AT,
    build_show,
    card_events,
    entry_of,
    judge_of,
    moved_much,
    office_of,
    open_window,
    pair,
)
from tests.round_events import opened

pytestmark = pytest.mark.django_db

SEARCH_S = 4


def minute(m: float) -> datetime:
    return OPENS_AT + timedelta(minutes=m)


@dataclass
class Phone:
    """A judge's phone; its clock is off by some minutes."""

    device: Device
    off: timedelta
    seq: int = 0

    def send(self, events, m):
        stamped = []
        for event in events:
            self.seq += 1
            claimed = (minute(m) + self.off).isoformat()
            stamped.append({"id": str(uuid4()), "seq": self.seq, "at": claimed, **event})
        sent_at = minute(m) + self.off
        for start in range(0, len(stamped), 40):
            batch = stamped[start : start + 40]
            record_events(device=self.device, events=batch, sent_at=sent_at, at=minute(m))


@dataclass
class Morning:
    """The ground: who is where, minute by minute."""

    show: Show
    phones: dict[int, Phone]
    rng: random.Random
    now: int = 0
    ends: dict[int, tuple[int, int]] = field(default_factory=dict)  # judge: (entry, minute)
    crew_free: dict[int, int] = field(default_factory=dict)
    held_until: dict[int, int] = field(default_factory=dict)
    away: dict[int, tuple[int, int]] = field(default_factory=dict)
    gone: set[int] = field(default_factory=set)
    done: set[tuple[int, int]] = field(default_factory=set)
    planned: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)

    def read_announced(self):
        """Everybody looks at the times as they are told now."""
        self.planned = {
            (visit.judge_id, visit.entry_id): (
                round((visit.starts_at - OPENS_AT).total_seconds() / 60),
                round((visit.ends_at - visit.starts_at).total_seconds() / 60),
            )
            for visit in Visit.objects.all()
        }

    def run_to(self, m: int):
        """Let the morning go on, up to this minute."""
        while self.now < m:
            self._end_visits()
            self._begin_visits()
            self.now += 1

    def run_out(self):
        """Go on until every announced visit is done."""
        while self.planned.keys() - self.done:
            assert self.now < 600, "the day does not end"
            self.run_to(self.now + 1)

    def _end_visits(self):
        for judge_id, (entry_id, end) in list(self.ends.items()):
            if end > self.now:
                continue
            del self.ends[judge_id]
            self.crew_free[entry_id] = end + self.show.crew_reset_minutes
            self.done.add((judge_id, entry_id))
            if judge_id not in self.gone:
                judge = Judge.objects.get(pk=judge_id)
                entry = Entry.objects.get(pk=entry_id)
                self.phones[judge_id].send(card_events(judge, entry), self.now)

    def _begin_visits(self):
        busy = {entry_id for entry_id, _ in self.ends.values()}
        for (judge_id, entry_id), (start, length) in sorted(
            self.planned.items(), key=lambda item: item[1]
        ):
            if (judge_id, entry_id) in self.done or judge_id in self.ends or judge_id in self.gone:
                continue
            begin, end = self.away.get(entry_id, (0, 0))
            kept = self.now + length > begin and self.now < end
            if (
                start > self.now or entry_id in busy or kept
                or self.held_until.get(judge_id, 0) > self.now
                or self.crew_free.get(entry_id, 0) > self.now
            ):  # fmt: skip
                continue
            took = max(1, round(length * self.rng.uniform(0.9, 1.05)))
            self.ends[judge_id] = entry_id, self.now + took
            busy.add(entry_id)
            self.phones[judge_id].send([opened(Entry.objects.get(pk=entry_id))], self.now)


@pytest.fixture
def morning():
    show = build_show(n_entries=15, n_judges=5, judges_per_section=4, kin=False)
    open_window(show)
    phones = {
        judge.pk: Phone(pair(judge)[0], timedelta(minutes=off))
        for judge, off in zip(Judge.objects.filter(show=show), (0, 7, -11, 90, -240), strict=True)
    }
    day = Morning(show, phones, random.Random(15))
    day.read_announced()
    return day


def happen(day: Morning, what: What, **facts) -> Difference:
    """Tell the office what happened; look at the difference; announce it; all look again."""
    show, at = day.show, minute(day.now)
    before = dict(day.planned)
    job = ask_replan(show=show, happening=Happening(what, **facts), by=office_of(show), at=at)
    PlanJob.objects.filter(pk=job.pk).update(limit_s=SEARCH_S)
    if job.state == PlanJob.State.WANTED:
        claimed = plan_jobs.claim(job_id=job.pk, at=at)
        assert claimed is not None
        result = solve_replan(claimed, threading.Event(), lambda minutes, bound: None)
        plan_jobs.finish(job_id=job.pk, result=result, said=result["said"], at=at)
    job = PlanJob.objects.get(pk=job.pk)
    found = difference(show, job)
    assert found is not None
    day.read_announced()
    assert day.planned == before, "nothing is told before it is announced"
    told = announce_replan(show=show, job=job, way=found.best.way, by=office_of(show), at=at)
    assert len(told.changes) == found.best.visits + len(found.called_off)
    day.read_announced()
    left = day_case(show, at=at).case
    again = push(left)
    assert again.faults() == ()
    assert again.score == (0, 0, 0), "what is left holds as announced"
    return found


def test_a_morning_with_three_delays(morning):
    show = morning.show
    assert len(morning.planned) >= 70
    morning.run_to(20)
    late = judge_of(show, "J1")
    busy_until = morning.ends.get(late.pk, (0, morning.now))[1]
    first = happen(morning, What.LATE, judge=late, minutes=25, reason="thrown shoe")
    morning.held_until[late.pk] = busy_until + 25
    morning.run_to(morning.now + 35)

    entry = _busy_crew(morning)
    span = (morning.now + 2, morning.now + 32)
    second = happen(
        morning, What.CREW, entry=entry, starts_at=minute(span[0]), ends_at=minute(span[1])
    )
    morning.away[entry.pk] = span
    morning.run_to(morning.now + 25)

    ill = judge_of(show, "J3")
    morning.gone.add(ill.pk)
    third = happen(morning, What.GONE, judge=ill, reason="heat")
    morning.run_out()

    for found in (first, second):
        assert found.search is not None
        # Fewer move than by pushing everybody.
        assert moved_much(found.search) < moved_much(found.push)
        assert found.search.over_minutes <= found.push.over_minutes
    assert third.called_off
    assert {judge.pk for judge, _, _ in third.called_off} == {ill.pk}
    _everything_seen(show)
    assert [one.number for one in Announcement.objects.all()] == [4, 3, 2, 1]


def _busy_crew(day: Morning) -> Entry:
    """A crew with a visit in the half hour to come, and nobody there now."""
    taken = {entry_id for entry_id, _ in day.ends.values()}
    soon = [
        (start, entry_id)
        for (judge_id, entry_id), (start, _) in day.planned.items()
        if day.now + 3 < start < day.now + 25
        and entry_id not in taken
        and (judge_id, entry_id) not in day.done
    ]
    counts = {entry_id: sum(other == entry_id for _, other in soon) for _, entry_id in soon}
    return Entry.objects.get(pk=max(sorted(counts), key=lambda entry_id: counts[entry_id]))


def _everything_seen(show: Show) -> None:
    """Every wagon was seen by everybody who sits there, and every card is in."""
    seats = set(Seat.objects.filter(judge__show=show).values_list("judge_id", "entry_id"))
    times = visit_times(show)
    assert {time.pair for time in times} == seats
    assert all(time.ended_at for time in times)
    assert {time.entry_id for time in times} == {entry_of(show, n).pk for n in range(1, 16)}
    cards = Card.objects.filter(judge__show=show, handed_in_at__isnull=False)
    assert set(cards.values_list("judge_id", "entry_id")) == seats
    # Though every phone's clock is off, no visit is told to lie in another one of its judge.
    for judge_id in {judge for judge, _ in seats}:
        own = sorted(
            (time.began_at, time.ended_at) for time in times
            if time.judge_id == judge_id and time.began_at and time.ended_at
        )  # fmt: skip
        assert all(one[1] <= other[0] for one, other in pairwise(own))
