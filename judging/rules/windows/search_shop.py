"""A rotation in bare numbers, and judges who walk through it one visit at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from judging.rules.windows.problem import Entry, Judge, RotationProblem, Span
from judging.rules.windows.search_day import Rest, fitted, merged, reached, rests
from judging.rules.windows.walk import WalkMinutes, shortest_walk


@dataclass(frozen=True)
class Shop:
    """A rotation in bare numbers; a plan is an order of visits, each starting as early as it can.

    Parameters
    ----------
    entry_of, judge_of, minutes
        Per visit: position of its entry, of its judge, and its length [min].
    spot
        Per entry: row of ``walk``.
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min]; row 0 is the gate.
    reset
        The crew's time between two visits [min].
    n_judges
        Number of judges.
    closed
        Per visit: spans it must not overlap, its crew's and its judge's together [min].
    away
        Per judge: spans away [min].
    rests
        Per judge: breaks in the order in which they are taken.
    most_ends
        No more judges may begin, or end, at one wagon; None where that is free.
    """

    entry_of: tuple[int, ...]
    judge_of: tuple[int, ...]
    minutes: tuple[int, ...]
    spot: tuple[int, ...]
    walk: WalkMinutes
    reset: int
    n_judges: int
    closed: tuple[tuple[Span, ...], ...] = ()
    away: tuple[tuple[Span, ...], ...] = ()
    rests: tuple[tuple[Rest, ...], ...] = ()
    most_ends: int | None = None
    plain: bool = field(default=False, init=False)
    rest_of: tuple[int, ...] = field(default=(), init=False)

    def __post_init__(self) -> None:
        """Fill what was left out, and note whether anybody is away or rests at all."""
        put = object.__setattr__
        put(self, "closed", self.closed or ((),) * len(self.minutes))
        put(self, "away", self.away or ((),) * self.n_judges)
        put(self, "rests", self.rests or ((),) * self.n_judges)
        put(self, "plain", not any((*self.closed, *self.away, *self.rests)))
        put(self, "rest_of", tuple(j for j, own in enumerate(self.rests) for _ in own))

    @property
    def mean_minutes(self) -> float:
        """Mean length of a visit [min], the natural size of a disturbance."""
        return sum(self.minutes) / len(self.minutes)

    def visits_of(self, judge: int) -> list[int]:
        """All visits of one judge."""
        return [visit for visit, who in enumerate(self.judge_of) if who == judge]

    def own_walk(self, judge: int) -> tuple[list[int], int]:
        """The judge's visits along their own shortest walk, and its minutes."""
        visits = self.visits_of(judge)
        way = shortest_walk(self.walk, [self.spot[self.entry_of[visit]] for visit in visits])
        rank = {row: r for r, row in enumerate(way.order)}
        return sorted(visits, key=lambda v: rank[self.spot[self.entry_of[v]]]), way.minutes

    def busiest_first(self) -> list[int]:
        """Judges by minutes of visits, own walk, breaks and time away, the busiest first."""
        work = [
            sum(self.minutes[visit] for visit in visits)
            + walking
            + sum(rest.minutes for rest in self.rests[judge])
            + sum(ends - begins for begins, ends in self.away[judge])
            for judge in range(self.n_judges)
            for visits, walking in [self.own_walk(judge)]
        ]
        return sorted(range(self.n_judges), key=lambda judge: -work[judge])


def shop_of(problem: RotationProblem) -> tuple[Shop, list[Entry], list[Judge]]:
    """Put a problem into bare numbers, with the entries and judges its positions stand for.

    Raises
    ------
    ValueError
        When a judge has no time for a break.

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> shop_of(RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1}))[1:]
    ([1], ['gear'])
    """
    entries = list(dict.fromkeys(need.entry for need in problem.visits))
    judges = list(dict.fromkeys(need.judge for need in problem.visits))
    entry_at = {entry: e for e, entry in enumerate(entries)}
    judge_at = {judge: j for j, judge in enumerate(judges)}
    away = {judge: merged(problem.judge_away.get(judge, ())) for judge in judges}
    shop = Shop(
        entry_of=tuple(entry_at[need.entry] for need in problem.visits),
        judge_of=tuple(judge_at[need.judge] for need in problem.visits),
        minutes=tuple(need.minutes for need in problem.visits),
        spot=tuple(problem.spot[entry] for entry in entries),
        walk=problem.walk,
        reset=problem.crew_reset_minutes,
        n_judges=len(judges),
        closed=tuple(
            merged((*problem.crew_away.get(need.entry, ()), *away[need.judge]))
            for need in problem.visits
        ),
        away=tuple(away.values()),
        rests=tuple(
            tuple(rests(problem.breaks.get(judge, ()), away[judge], judge)) for judge in judges
        ),
        most_ends=-(-len(judges) // len(entries)) if problem.fair_ends else None,
    )
    return shop, entries, judges


class Walker:
    """One judge on the way: where, free from when, and which breaks are behind.

    A break is taken as late as it must be, or in time spent waiting anyway.
    """

    __slots__ = ("away", "free", "rested", "resting", "rests", "up", "where")

    def __init__(self, shop: Shop, judge: int) -> None:
        self.away = shop.away[judge]
        self.rests = shop.rests[judge]
        self.free = 0  # end of the last visit
        self.where = 0
        self.rested = 0  # breaks behind
        self.resting = 0  # minutes of breaks since the last visit
        self.up = 0  # end of the last break since the last visit

    @classmethod
    def resumed(cls, shop: Shop, judge: int, state: tuple[list[int], ...]) -> Walker:
        """One judge of a state that `search.Tour` keeps."""
        walker = cls(shop, judge)
        free, _, where, rested, resting, up, _ = state
        walker.free, walker.where = free[judge], where[judge]
        walker.rested, walker.resting, walker.up = rested[judge], resting[judge], up[judge]
        return walker

    @property
    def breaks(self) -> tuple[int, int, int]:
        """Breaks behind, minutes of those since the last visit, and when the last of them ends."""
        return self.rested, self.resting, self.up

    def arrival(self, way: int) -> int:
        """When the judge is there after so many minutes' walk and the breaks taken since."""
        if self.away:
            return max(reached(self.free, way + self.resting, self.away), self.up)
        return max(self.free + way + self.resting, self.up)

    def may_leave_at(self, minute: int) -> bool:
        """Whether the next break can still wait until then."""
        return self.rested == len(self.rests) or minute <= self.rests[self.rested].last_begin

    def next_rest_ends(self) -> int:
        """When the next break would be over if it came now."""
        rest = self.rests[self.rested]
        begin = fitted(max(self.free, self.up, rest.earliest), rest.minutes, self.away)
        return begin + rest.minutes

    def rest(self) -> None:
        """Take the next break now."""
        self.up = self.next_rest_ends()
        self.resting += self.rests[self.rested].minutes
        self.rested += 1

    def meet(self, way: int, ready: int, minutes: int, closed: Sequence[Span]) -> int:
        """Start of a visit, after the breaks that cannot wait and those that cost no time."""
        start = fitted(max(self.arrival(way), ready), minutes, closed)
        while self.rested < len(self.rests):
            if self.may_leave_at(start + minutes) and not self._rests_meanwhile(way, start):
                break
            self.rest()
            start = fitted(max(self.arrival(way), ready), minutes, closed)
        return start

    def look(self, way: int, ready: int, minutes: int, closed: Sequence[Span]) -> int:
        """Start the visit would have, with nothing done about it."""
        before = self.breaks
        start = self.meet(way, ready, minutes, closed)
        self.rested, self.resting, self.up = before
        return start

    def _rests_meanwhile(self, way: int, start: int) -> bool:
        more = way + self.resting + self.rests[self.rested].minutes
        return reached(self.free, more, self.away) <= start and self.next_rest_ends() <= start

    def go(self, end: int, where: int) -> None:
        """Be done with a visit."""
        self.free, self.where = end, where
        self.resting = self.up = 0


class Field:
    """Where the judges are and when each judge and each crew is free."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.walkers = [Walker(shop, judge) for judge in range(shop.n_judges)]
        self.ready = [0] * len(shop.spot)

    def legs(self, visit: int) -> int:
        """Walk of the visit's judge to it [min]."""
        shop = self.shop
        return shop.walk[self.walkers[shop.judge_of[visit]].where][shop.spot[shop.entry_of[visit]]]

    def earliest(self, visit: int) -> int:
        """When a visit could start [min]."""
        shop = self.shop
        return self.walkers[shop.judge_of[visit]].look(
            self.legs(visit),
            self.ready[shop.entry_of[visit]],
            shop.minutes[visit],
            shop.closed[visit],
        )

    def go(self, visit: int) -> int:
        """Make a visit and say when it starts [min]."""
        shop = self.shop
        walker, entry = self.walkers[shop.judge_of[visit]], shop.entry_of[visit]
        start = walker.meet(
            self.legs(visit), self.ready[entry], shop.minutes[visit], shop.closed[visit]
        )
        end = start + shop.minutes[visit]
        walker.go(end, shop.spot[entry])
        self.ready[entry] = end + shop.reset
        return start
