"""The flow behind a panel: looks are added one by one, each along a cheapest chain of judges."""

from __future__ import annotations

import random
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

from judging.rules.panels.pins import Entry, Judge, JudgeOffer, Names, Task

__all__ = ["Entry", "Judge", "JudgeOffer", "Names", "Place", "Table", "fill", "once", "places_of"]

T = TypeVar("T", bound=Hashable)


@dataclass
class Place:
    """One section of one entry while it is being filled; judges are positions in the offers.

    `fixed` judges sit there whatever comes. Of the `novices` at most `most_novices` may sit
    there; ``None`` for no such limit. This is the side node of the flow.
    """

    entry: Entry
    section: str
    needed: int
    allowed: frozenset[int]
    sitting: set[int] = field(default_factory=set)
    fixed: frozenset[int] = frozenset()
    novices: frozenset[int] = frozenset()
    most_novices: int | None = None

    @property
    def short(self) -> int:
        return self.needed - len(self.sitting)

    @property
    def closed_to_novices(self) -> bool:
        return (
            self.most_novices is not None and len(self.sitting & self.novices) >= self.most_novices
        )

    @property
    def open_to(self) -> Iterator[int]:
        """Who could sit down beside those who sit there."""
        closed = self.novices if self.closed_to_novices else frozenset()
        return (j for j in self.allowed if j not in self.sitting and j not in closed)

    def may_hand(self, giver: int, taker: int) -> bool:
        """Whether one who sits there could hand the seat on to the other."""
        return (
            giver in self.sitting
            and giver not in self.fixed
            and taker in self.allowed
            and taker not in self.sitting
            and (taker not in self.novices or giver in self.novices or not self.closed_to_novices)
        )


class Table:
    """The flow so far: who sits where, and who could hand a seat on to whom."""

    def __init__(
        self,
        places: list[Place],
        judges: Sequence[JudgeOffer],
        seed: int,
        limits: Sequence[int | None] | None = None,
    ) -> None:
        self.places = places
        self.offers = judges
        self.limits = [offer.max_seats for offer in judges] if limits is None else list(limits)
        self.loads = [0] * len(judges)
        rng = random.Random(seed)
        self.rank = list(range(len(judges)))
        rng.shuffle(self.rank)
        self.turns = [
            p for p, place in enumerate(places) for _ in range(place.needed - len(place.fixed))
        ]
        rng.shuffle(self.turns)
        # handovers[a][b]: places where a sits and b, not sitting there, could take over.
        self.handovers = [[0] * len(judges) for _ in judges]
        self.successors: list[set[int]] = [set() for _ in judges]
        for place in places:
            for judge in place.fixed:
                self.seat(place, judge)
                self.loads[judge] += 1

    def of_section(self, section: str) -> list[Place]:
        return [place for place in self.places if place.section == section]

    def full(self, judge: int) -> bool:
        limit = self.limits[judge]
        return limit is not None and self.loads[judge] >= limit

    def seat(self, place: Place, judge: int) -> None:
        if place.most_novices is not None:
            self._count_all(place, -1)
            place.sitting.add(judge)
            self._count_all(place, +1)
            return
        for other in place.sitting - place.fixed:
            self._count(other, judge, -1)
        place.sitting.add(judge)
        if judge not in place.fixed:
            for other in place.open_to:
                self._count(judge, other, +1)

    def unseat(self, place: Place, judge: int) -> None:
        if place.most_novices is not None:
            self._count_all(place, -1)
            place.sitting.remove(judge)
            self._count_all(place, +1)
            return
        for other in place.open_to:
            self._count(judge, other, -1)
        place.sitting.remove(judge)
        for other in place.sitting - place.fixed:
            self._count(other, judge, +1)

    def _count_all(self, place: Place, by: int) -> None:
        """Count, or take back, every handing on at a place whose novices are limited."""
        waiting = place.allowed - place.sitting
        seniors = waiting - place.novices if place.closed_to_novices else waiting
        for giver in place.sitting - place.fixed:
            for taker in waiting if giver in place.novices else seniors:
                self._count(giver, taker, by)

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
            given = next(place for place in self.places if place.may_hand(giver, taker))
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
    """Keep each value where it first comes."""
    return list(dict.fromkeys(values))


def exchange(one: Place, other: Place, a: int, b: int) -> None:
    """Let `a` of the one place and `b` of the other change places."""
    one.sitting.remove(a)
    other.sitting.remove(b)
    one.sitting.add(b)
    other.sitting.add(a)


def places_of(task: Task) -> list[Place]:
    """Return every place of the task, empty, with who may and who must sit there."""
    banned, pinned = task.banned(), task.pinned()
    novices = frozenset(j for j, offer in enumerate(task.judges) if offer.novice)
    places = []
    for entry, section in task.places():
        needed = task.judges_per_section[section]
        fixed = frozenset(pinned.get((entry, section), ()))
        allowed = fixed | {
            j
            for j, offer in enumerate(task.judges)
            if offer.may_sit(entry, section) and (offer.judge, entry, section) not in banned
        }
        limited = task.novices_beside_seniors and needed > 0 and bool(allowed & novices)
        places.append(
            Place(
                entry,
                section,
                needed,
                allowed,
                fixed=fixed,
                novices=allowed & novices,
                most_novices=needed - 1 if limited else None,
            )
        )
    return places


def fill(task: Task, places: list[Place], seed: int) -> Table:
    """Fill the places as far as can be, loads of seats as equal as can be."""
    table = Table(places, task.judges, seed, [task.seats_at_most(o) for o in task.judges])
    for turn in table.turns:
        table.add_look(places[turn])
    return table
