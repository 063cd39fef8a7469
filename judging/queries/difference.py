"""Announced times beside times worked out anew: what would move, from when to when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from entries.models import Entry
from judging.models import Judge, PlanJob, Visit
from judging.queries.window import window_of
from showrun.shows.models import Show

Pair = tuple[int, int]
Times = tuple[datetime, datetime]
PUSH, SEARCH = "push", "search"


@dataclass(frozen=True)
class MovedVisit:
    """One announced visit whose time would change; `was` is None for a new one."""

    judge: Judge
    entry: Entry
    was: Times | None
    now: Times

    @property
    def minutes(self) -> int | None:
        """Later by so many minutes; negative: earlier; None: a new visit."""
        if self.was is None:
            return None
        return round((self.now[0] - self.was[0]).total_seconds() / 60)


@dataclass(frozen=True)
class Proposal:
    """Times worked out anew, against those announced."""

    way: str
    moved: tuple[MovedVisit, ...]
    ends_at: datetime
    over_minutes: int
    said: str = ""

    @property
    def visits(self) -> int:
        """How many visits move, or are new."""
        return len(self.moved)

    @property
    def wagons(self) -> int:
        """At how many wagons."""
        return len({line.entry.pk for line in self.moved})

    @property
    def largest_minutes(self) -> int:
        """The largest shift of a visit that was announced."""
        return max((abs(line.minutes or 0) for line in self.moved), default=0)


@dataclass(frozen=True)
class Difference:
    """Both ways on, and what is called off either way."""

    job: PlanJob
    cause: str
    push: Proposal
    search: Proposal | None
    called_off: tuple[tuple[Judge, Entry, Times], ...]
    ends_before: datetime | None

    @property
    def best(self) -> Proposal:
        """What is advised: the search's answer where there is one."""
        return self.search or self.push


def proposed_times(rows: Sequence[Sequence[int]], opens_at: datetime) -> dict[Pair, Times]:
    """Return the times of a plan's visits, kept as [judge, entry, start minute, end minute]."""
    return {
        (judge, entry): (
            opens_at + timedelta(minutes=start),
            opens_at + timedelta(minutes=end),
        )
        for judge, entry, start, end in rows
    }


def difference(show: Show, job: PlanJob) -> Difference | None:
    """Return what a re-plan would change; None where there is no published window any more."""
    window = window_of(show)
    if window is None or window.published_at is None or "push" not in job.case:
        return None
    announced = {
        (judge, entry): (start, end)
        for judge, entry, start, end in Visit.objects.filter(window=window).values_list(
            "judge_id", "entry_id", "starts_at", "ends_at"
        )
    }
    judges = Judge.objects.filter(show=show).select_related("person").in_bulk()
    entries = Entry.objects.filter(show=show).select_related("spot").in_bulk()
    closes = window.opens_at + timedelta(minutes=window.available_minutes)
    off = {(judge, entry) for judge, entry in job.case["called_off"]}
    past = [end for pair, (_, end) in announced.items() if pair not in off]

    def proposal(way: str, plan: Mapping[str, Any]) -> Proposal:
        times = proposed_times(plan["visits"], window.opens_at)
        moved = [
            MovedVisit(judges[pair[0]], entries[pair[1]], announced.get(pair), now)
            for pair, now in times.items()
            if announced.get(pair) != now
        ]
        moved.sort(key=lambda line: (line.now[0], line.judge.code))
        kept = [announced[pair][1] for pair in announced if pair not in times and pair not in off]
        ends_at = max([*(end for _, end in times.values()), *kept], default=window.opens_at)
        over = -int((closes - ends_at).total_seconds() // 60)
        return Proposal(way, tuple(moved), ends_at, max(0, over), plan.get("said", ""))

    found = job.result if job.result.get("visits") else None
    return Difference(
        job=job,
        cause=job.case["cause"],
        push=proposal(PUSH, job.case["push"]),
        search=proposal(SEARCH, found) if found else None,
        called_off=tuple(
            (judges[pair[0]], entries[pair[1]], announced[pair])
            for pair in sorted(off & announced.keys())
        ),
        ends_before=max(past, default=None),
    )
