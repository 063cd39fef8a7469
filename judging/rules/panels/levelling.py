"""Minutes made equal, and limits of minutes kept: what the flow of seats cannot do by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import gcd, inf
from typing import Literal

from judging.rules.panels.flow import Place, Table
from judging.rules.panels.integer import Program
from judging.rules.panels.pins import Task

BalanceBy = Literal["seats", "minutes"]

# Beyond this many possible seats the last minute of imbalance takes longer than a page may; the
# bound then says how far the exchanges may be from the best.
MOST_SEATS_TO_PROVE = {"seats": 3000, "minutes": 300}
OVER = 10**9  # a minute over a limit weighs more than any imbalance


@dataclass(frozen=True)
class Balance:
    """How equal the loads are.

    Parameters
    ----------
    by
        What is made equal: ``"seats"`` or ``"minutes"``.
    squares
        Sum of the squared loads of the judges [seats² or min²].
    bound
        No panel that keeps the rules has a smaller sum.
    """

    by: BalanceBy
    squares: int
    bound: int

    @property
    def proved(self) -> bool:
        """Whether no panel is more equal."""
        return self.squares == self.bound


def level(table: Table, task: Task, by: BalanceBy) -> Balance | None:
    """Level the loads of a filled table; ``None`` when limits of minutes cannot be kept."""
    bound = sum(load**2 for load in table.loads)
    loads = _Loads(table, task, by)
    if by == "seats" and not loads.over:
        return Balance(by, bound, bound)
    loads.descend()
    if by == "minutes":
        bound = _least_squares(task, sum(loads.minutes))
    if loads.over:
        found = Program(task, table.places, table.limits).any_panel()
        if found is None:
            return None
        loads = _take(table, task, by, found.sitting)
        loads.descend()
    if loads.squares > bound and _small(table.places, by):
        found = Program(task, table.places, table.limits).balanced(by)
        if found is not None:
            bound = max(bound, found.bound)
            if found.squares < loads.squares:
                loads = _take(table, task, by, found.sitting)
    return Balance(by, loads.squares, min(bound, loads.squares))


def within_minutes(table: Table, task: Task) -> bool:
    """Whether handing on and exchanging keeps a filled table within the limits of minutes."""
    loads = _Loads(table, task, "seats")
    if loads.over:
        loads.descend()
    return not loads.over


def _small(places: Sequence[Place], by: BalanceBy) -> bool:
    return sum(len(place.allowed) for place in places) <= MOST_SEATS_TO_PROVE[by]


def _take(table: Table, task: Task, by: BalanceBy, sitting: Sequence[set[int]]) -> _Loads:
    """Sit as found; who could hand on to whom is not counted any more after this."""
    table.loads = [0] * len(table.offers)
    for place, judges in zip(table.places, sitting, strict=True):
        place.sitting = set(judges)
        for judge in judges:
            table.loads[judge] += 1
    return _Loads(table, task, by)


def _least_squares(task: Task, total: int) -> int:
    """Least sum of squares of whole loads within the limits, in what all looks have in common."""
    unit = gcd(*(task.weight(section) for _, section in task.places()), 0) or 1
    left, loads = total // unit, []
    most = sorted(inf if o.max_minutes is None else o.max_minutes // unit for o in task.judges)
    for done, limit in enumerate(most):
        load = min(left // (len(most) - done), limit)  # those with more room share the rest
        loads.append(int(load))
        left -= int(load)
    return unit**2 * sum(load**2 for load in loads)


class _Loads:
    """Minutes and seats of each judge, and exchanges that make them more equal."""

    def __init__(self, table: Table, task: Task, by: BalanceBy) -> None:
        self.table, self.by = table, by
        self.most = [offer.max_minutes for offer in task.judges]
        self.weight = {place.section: task.weight(place.section) for place in table.places}
        self.minutes = [0] * len(task.judges)
        self.own: list[list[Place]] = [[] for _ in task.judges]
        for place in table.places:
            for judge in place.sitting:
                self.minutes[judge] += self.weight[place.section]
                self.own[judge].append(place)

    @property
    def over(self) -> int:
        """Minutes beyond the judges' limits."""
        return sum(
            max(0, minutes - most)
            for minutes, most in zip(self.minutes, self.most, strict=True)
            if most is not None
        )

    def _is_over(self, judge: int) -> bool:
        most = self.most[judge]
        return most is not None and self.minutes[judge] > most

    @property
    def squares(self) -> int:
        loads = self.table.loads if self.by == "seats" else self.minutes
        return sum(load**2 for load in loads)

    def descend(self) -> None:
        """Hand on and exchange between two judges as long as that makes the loads more equal."""
        better = True
        while better:
            better = False
            order = sorted(range(len(self.minutes)), key=lambda j: (-self.minutes[j], j))
            for a, b in combinations(order, 2):
                # Minutes move from the busier to the less busy, or away from a limit.
                if self.minutes[a] - self.minutes[b] > 1 or self.over:
                    better |= self._improve(a, b)
                if self.minutes[b] - self.minutes[a] > 1 or self._is_over(b):
                    better |= self._improve(b, a)

    def _cost(self, judge: int, minutes: int, seats: int) -> int:
        most, limit = self.most[judge], self.table.limits[judge]
        over = max(0, minutes - most) if most is not None else 0
        if limit is not None and seats > limit:
            over = OVER  # the flow keeps these limits; they are not broken for minutes
        return OVER * over + (seats if self.by == "seats" else minutes) ** 2

    def _improve(self, a: int, b: int) -> bool:
        """Let `a` hand a seat to `b`, perhaps for a shorter one, if that is better."""
        gives, takes = self._offers(a, b), self._offers(b, a)
        back: dict[int, Place | None] = {0: None, **takes}
        minutes, seats = self.minutes, self.table.loads
        best, chosen = (
            self._cost(a, minutes[a], seats[a]) + self._cost(b, minutes[b], seats[b]),
            None,
        )
        for (w, given), (v, returned) in product(gives.items(), back.items()):
            less, fewer = w - v, 0 if returned else 1
            cost = self._cost(a, minutes[a] - less, seats[a] - fewer)
            cost += self._cost(b, minutes[b] + less, seats[b] + fewer)
            if cost < best and given is not returned:
                best, chosen = cost, (given, returned)
        if chosen is None:
            return False
        self._hand(chosen[0], a, b)
        if chosen[1] is not None:
            self._hand(chosen[1], b, a)
        return True

    def _offers(self, a: int, b: int) -> dict[int, Place]:
        """One seat of each length that `a` could hand to `b`."""
        found: dict[int, Place] = {}
        for place in self.own[a]:
            weight = self.weight[place.section]
            if weight not in found and place.may_hand(a, b):
                found[weight] = place
        return found

    def _hand(self, place: Place, giver: int, taker: int) -> None:
        weight = self.weight[place.section]
        place.sitting.remove(giver)
        place.sitting.add(taker)
        self.own[giver].remove(place)
        self.own[taker].append(place)
        for judge, by in ((giver, -1), (taker, +1)):
            self.minutes[judge] += by * weight
            self.table.loads[judge] += by
