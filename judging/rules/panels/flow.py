"""The flow behind a panel: looks are added one by one, each along a cheapest chain of judges."""

from __future__ import annotations

import random
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

Entry = Hashable
Judge = Hashable
# A mapping's key type is invariant, so Any lets every dict of entries, judges or sections in.
Names = Mapping[Any, str]
T = TypeVar("T", bound=Hashable)


@dataclass(frozen=True)
class JudgeOffer:
    """What one judge may be asked to do at this show.

    Parameters
    ----------
    judge
        The judge, any hashable value.
    sections
        Sections the judge is qualified for.
    barred
        Entries the judge is in conflict with and is never seated at.
    max_seats
        Most seats the judge takes [seats]; ``None`` for no limit.
    """

    judge: Judge
    sections: frozenset[str]
    barred: frozenset[Entry] = frozenset()
    max_seats: int | None = None

    def __post_init__(self) -> None:
        if self.max_seats is not None and self.max_seats < 0:
            raise ValueError("a judge's limit of seats cannot be below zero")

    def may_sit(self, entry: Entry, section: str) -> bool:
        """Whether the judge is qualified for the section and not in conflict with the entry."""
        return section in self.sections and entry not in self.barred


@dataclass
class Place:
    """One section of one entry while it is being filled; judges are positions in the offers."""

    entry: Entry
    section: str
    needed: int
    allowed: frozenset[int]
    sitting: set[int] = field(default_factory=set)

    @property
    def short(self) -> int:
        return self.needed - len(self.sitting)

    @property
    def open_to(self) -> Iterator[int]:
        return (judge for judge in self.allowed if judge not in self.sitting)


class Table:
    """The flow so far: who sits where, and who could hand a seat on to whom."""

    def __init__(self, places: list[Place], judges: Sequence[JudgeOffer], seed: int) -> None:
        self.places = places
        self.offers = judges
        self.loads = [0] * len(judges)
        rng = random.Random(seed)
        self.rank = list(range(len(judges)))
        rng.shuffle(self.rank)
        self.turns = [p for p, place in enumerate(places) for _ in range(place.needed)]
        rng.shuffle(self.turns)
        # handovers[a][b]: places where a sits and b, not sitting there, could take over.
        self.handovers = [[0] * len(judges) for _ in judges]
        self.successors: list[set[int]] = [set() for _ in judges]

    def of_section(self, section: str) -> list[Place]:
        return [place for place in self.places if place.section == section]

    def full(self, judge: int) -> bool:
        limit = self.offers[judge].max_seats
        return limit is not None and self.loads[judge] >= limit

    def seat(self, place: Place, judge: int) -> None:
        for other in place.sitting:
            self._count(other, judge, -1)
        place.sitting.add(judge)
        for other in place.open_to:
            self._count(judge, other, +1)

    def unseat(self, place: Place, judge: int) -> None:
        for other in place.open_to:
            self._count(judge, other, -1)
        place.sitting.remove(judge)
        for other in place.sitting:
            self._count(other, judge, +1)

    def _count(self, giver: int, taker: int, by: int) -> None:
        row = self.handovers[giver]
        row[taker] += by
        if row[taker] == 0:
            self.successors[giver].discard(taker)
        elif row[taker] == by == 1:
            self.successors[giver].add(taker)

    def add_look(self, place: Place) -> bool:
        """Fill one look by handing seats on until the least loaded reachable judge takes one."""
        chain = self._cheapest_chain(place)
        if not chain:
            return False
        for giver, taker in zip(chain[-2::-1], chain[:0:-1], strict=True):
            given = next(
                seat
                for seat in self.places
                if giver in seat.sitting and taker in seat.allowed and taker not in seat.sitting
            )
            self.unseat(given, giver)
            self.seat(given, taker)
        self.seat(place, chain[0])
        self.loads[chain[-1]] += 1
        return True

    def _cheapest_chain(self, place: Place) -> list[int]:
        """Judges from the one who takes the look to the one whose load grows; empty if none."""
        queue = sorted(place.open_to, key=lambda judge: (self.loads[judge], self.rank[judge]))
        came_from: dict[int, int | None] = dict.fromkeys(queue)
        least = min(
            (load for judge, load in enumerate(self.loads) if not self.full(judge)), default=0
        )
        best: int | None = None
        for judge in queue:  # grows while it is walked
            if not self.full(judge) and (best is None or self.loads[judge] < self.loads[best]):
                best = judge
                if self.loads[best] == least:
                    break
            for other in sorted(self.successors[judge] - came_from.keys(), key=self._order):
                came_from[other] = judge
                queue.append(other)
        chain: list[int] = []
        while best is not None:
            chain.append(best)
            best = came_from[best]
        return chain[::-1]

    def _order(self, judge: int) -> tuple[int, int]:
        return self.loads[judge], self.rank[judge]


def once(values: Iterable[T]) -> list[T]:
    return list(dict.fromkeys(values))
