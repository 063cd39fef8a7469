"""A running day in the words of a rotation problem: what is left, from where everybody stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from judging.rules.windows.problem import (
    Break,
    Entry,
    Judge,
    Rotation,
    RotationProblem,
    Span,
    Visit,
    VisitNeed,
)
from judging.rules.windows.verify import gaps, rests

Key = tuple[Entry, Judge]

FROZEN_MINUTES = 10


@dataclass(frozen=True)
class Stand:
    """Where a judge is when the day is taken up; it plays a wagon that nobody else comes to."""

    judge: Judge


@dataclass(frozen=True)
class Case:
    """What has become of an announced day.

    Parameters
    ----------
    problem
        Every visit that is wanted now, done or not; walks, resets, breaks and all spans away as
        they are known now. Visits of a judge who is gone or of a wagon that is scratched are left
        out, visits given to another judge stand in it.
    announced
        The rotation everybody was told.
    now
        [min from the opening].
    window_minutes
        The window; the announced end unless given [min].
    frozen_minutes
        Visits announced to begin before so many minutes from now keep their times unless that is
        impossible; no other is moved to begin so soon [min].
    done, under_way
        Visits with their real begins, and real or expected ends [min].
    judge_ready
        Minute and row of the walking table where a judge is free again; where it is missing, the
        end of the judge's last visit done or under way, else the gate at minute 0.
    crew_ready
        Minute a crew is free again; where it is missing, a reset after the last visit [min].
    """

    problem: RotationProblem
    announced: Rotation
    now: int
    window_minutes: int | None = None
    frozen_minutes: int = FROZEN_MINUTES
    done: tuple[Visit, ...] = ()
    under_way: tuple[Visit, ...] = ()
    judge_ready: Mapping[Any, tuple[int, int]] = field(default_factory=dict)
    crew_ready: Mapping[Any, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.now < 0 or self.frozen_minutes < 0:
            raise ValueError("minutes of the day are counted from its opening")
        for judge, (minute, row) in self.judge_ready.items():
            if minute < 0 or not 0 <= row < len(self.problem.walk):
                raise ValueError(f"{judge} is ready at minute {minute}, row {row}: no such place")
        for visit in (*self.done, *self.under_way):
            if not 0 <= visit.start <= visit.end:
                raise ValueError(f"{visit.judge} was at {visit.entry} for less than no time")

    @cached_property
    def window(self) -> int:
        """The window [min]."""
        known = self.window_minutes
        return self.announced.makespan if known is None else known

    @cached_property
    def was(self) -> dict[Key, int]:
        """Announced starts [min]."""
        return {(visit.entry, visit.judge): visit.start for visit in self.announced.visits}

    @cached_property
    def seen(self) -> tuple[Visit, ...]:
        """Visits done and under way, by start."""
        return tuple(sorted((*self.done, *self.under_way), key=lambda visit: visit.start))

    @cached_property
    def left(self) -> tuple[VisitNeed, ...]:
        """Visits still to come, by announced start, those not announced last."""
        begun = {(visit.entry, visit.judge) for visit in self.seen}
        needs = [need for need in self.problem.visits if (need.entry, need.judge) not in begun]
        last = max(self.was.values(), default=0) + 1
        return tuple(sorted(needs, key=lambda need: self.was.get((need.entry, need.judge), last)))

    @cached_property
    def gone(self) -> tuple[Visit, ...]:
        """Announced visits that nobody wants any more."""
        wanted = {(need.entry, need.judge) for need in self.problem.visits}
        begun = {(visit.entry, visit.judge) for visit in self.seen}
        return tuple(
            visit
            for visit in self.announced.visits
            if (visit.entry, visit.judge) not in wanted | begun
        )

    @cached_property
    def last_known_end(self) -> int:
        """End of what has begun already [min]."""
        return max((visit.end for visit in self.seen), default=0)

    def soonest(self, key: Key) -> int:
        """First minute a visit may be moved to [min]."""
        was = self.was.get(key)
        if was is not None and was < self.now + self.frozen_minutes:
            return max(self.now, was)
        return self.now + self.frozen_minutes

    def holds(self, visit: Visit) -> bool:
        """Whether a new time is the announced one, and so soon that it must stay."""
        was = self.was.get((visit.entry, visit.judge))
        return was == visit.start and was < self.now + self.frozen_minutes

    @cached_property
    def standing_visits(self) -> tuple[Visit, ...]:
        """The stands as the visits they are in the adjusted problem."""
        return tuple(
            Visit(Stand(judge), judge, 0, minute) for judge, (minute, _) in self.stands.items()
        )

    @cached_property
    def stands(self) -> dict[Judge, tuple[int, int]]:
        """Minute and row from which each judge with visits left goes on; none at the gate."""
        found = {}
        for judge in dict.fromkeys(need.judge for need in self.left):
            own = [visit for visit in self.seen if visit.judge == judge]
            if judge in self.judge_ready:
                minute, row = self.judge_ready[judge]
                if (minute, row) != (0, 0):
                    found[judge] = max(1, minute), row
            elif own:
                last = max(own, key=lambda visit: visit.end)
                found[judge] = max(1, last.end), self.problem.spot[last.entry]
        return found

    def crews(self) -> dict[Entry, int]:
        """First minute at which each wagon with visits left can take one [min]."""
        ready = {need.entry: self.now for need in self.left}
        for visit in self.seen:
            if visit.entry in ready and visit.entry not in self.crew_ready:
                after = visit.end + self.problem.crew_reset_minutes
                ready[visit.entry] = max(ready[visit.entry], after)
        return {
            entry: max(minute, self.crew_ready.get(entry, 0)) for entry, minute in ready.items()
        }

    def owed(self, judge: Judge) -> tuple[Break, ...]:
        """Breaks a judge has had no room for so far, those that must end first in front."""
        own = [visit for visit in self.seen if visit.judge == judge]
        past = gaps(self.problem, judge, own)[:-1]
        had: list[Break] = []
        owed = []
        for each in sorted(self.problem.breaks.get(judge, ()), key=lambda rest: rest.latest):
            if rests(past, [*had, each]) is None:
                owed.append(each)
            else:
                had.append(each)
        return tuple(owed)


def adjusted(case: Case, breaks: Mapping[Judge, Sequence[Break]]) -> RotationProblem:
    """Write what is left of a day as a problem that any solver and the checker read.

    Parameters
    ----------
    case
        With at least one visit left.
    breaks
        What each judge is still to rest.

    Returns
    -------
    RotationProblem
        Minutes count from the opening as before. A judge who has begun stands at a place of his
        own (`Stand`) from minute 0 until he is ready, which is a visit like others; nobody comes
        to a wagon before its crew is ready, nor before now. First and last stops are no longer
        spread.
    """
    problem, stands = case.problem, case.stands
    walk = [list(row) for row in problem.walk]
    spot = {need.entry: problem.spot[need.entry] for need in case.left}
    visits = list(case.left)
    for judge, (minute, row) in stands.items():
        place = len(walk)
        ways = list(walk[row])
        for other, way in zip(walk, ways, strict=True):
            other.append(way)
        walk.append([*ways, 0])
        walk[0][place] = walk[place][0] = 0
        spot[Stand(judge)] = place
        visits.append(VisitNeed(Stand(judge), judge, minute))
    judges = dict.fromkeys(need.judge for need in case.left)
    return replace(
        problem,
        visits=tuple(visits),
        walk=tuple(tuple(row) for row in walk),
        spot=spot,
        judge_away={
            judge: _after(problem.judge_away.get(judge, ()), stands.get(judge, (0, 0))[0])
            for judge in judges
        },
        crew_away={
            entry: (*problem.crew_away.get(entry, ()), *([(0, ready)] if ready > 0 else []))
            for entry, ready in case.crews().items()
        },
        breaks={judge: tuple(breaks.get(judge, ())) for judge in judges},
        fair_ends=False,
    )


def _after(spans: Sequence[Span], minute: int) -> tuple[Span, ...]:
    return tuple((max(a, minute), b) for a, b in spans if b > minute)
