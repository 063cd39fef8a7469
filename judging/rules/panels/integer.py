"""The same panel as an integer program, for what is no flow: minutes, and the least change."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import ceil, gcd, inf

import numpy as np
import scipy
from numpy.typing import NDArray

from judging.rules.panels.flow import Place
from judging.rules.panels.pins import Task

# Nodes of the search are counted, not timed, so that a panel can be drawn again.
MANY_SEATS = 300
MOST_NODES, FEW_NODES = 200, 5
LONGEST_S = 5.0  # a far limit, for looks of odd lengths that nearly fill everybody's minutes


@dataclass(frozen=True)
class Found:
    """Who sits where, place by place; what was to be small; and what it cannot be below."""

    sitting: list[set[int]]
    squares: int
    bound: int


class Program:
    """Seats as 0 or 1, places filled exactly, novices, seats and minutes within their limits."""

    def __init__(self, task: Task, places: Sequence[Place], limits: Sequence[int | None]) -> None:
        self.task, self.places = task, places
        self.seats = [(p, j) for p, place in enumerate(places) for j in sorted(place.allowed)]
        self.column = {seat: c for c, seat in enumerate(self.seats)}
        self.low = [float(j in places[p].fixed) for p, j in self.seats]
        self.high = [1.0] * len(self.seats)
        self.cost = [0.0] * len(self.seats)
        self.rows: list[dict[int, float]] = []
        self.least: list[float] = []
        self.most: list[float] = []
        for p, place in enumerate(places):
            self._row({self.column[p, j]: 1.0 for j in place.allowed}, place.needed, place.needed)
            if place.most_novices is not None:
                novices = {self.column[p, j]: 1.0 for j in place.novices}
                self._row(novices, -inf, place.most_novices)
        self.own: list[list[int]] = [[] for _ in task.judges]
        for c, (_, j) in enumerate(self.seats):
            self.own[j].append(c)
        for j, offer in enumerate(task.judges):
            if (limit := limits[j]) is not None:
                self._row(dict.fromkeys(self.own[j], 1.0), -inf, limit)
            if offer.max_minutes is not None:
                self._row(self._minutes(j), -inf, offer.max_minutes)

    def shared_out(self) -> bool:
        """Whether the looks could be given were a seat something to share by the minute."""
        return self._solve(shared=True) is not None

    def any_panel(self) -> Found | None:
        """A panel that keeps the rules; ``None`` if none was found."""
        return self._solve() if self.shared_out() else None

    def balanced(self, by: str) -> Found | None:
        """The panel with the least squared loads found; ``None`` if there is none."""
        unit = 1
        if by == "minutes":
            unit = gcd(*(self.task.weight(place.section) for place in self.places), 0) or 1
        for j in range(len(self.own)):
            self._add_steps(j, by, unit)
        return self._solve(unit)

    def least_changed(self, kept: Collection[tuple[int, int]], by: str) -> Found | None:
        """The panel with the fewest seats not among the kept, and of those the most equal."""
        new = {c: 1.0 for c, seat in enumerate(self.seats) if seat not in kept}
        for c in new:
            self.cost[c] = 1.0
        fewest = self._solve()
        if fewest is None:
            return None
        self._row(new, -inf, fewest.squares)
        self.cost = [0.0] * len(self.cost)
        return self.balanced(by) or fewest

    def _row(self, row: dict[int, float], least: float, most: float) -> None:
        self.rows.append(row)
        self.least.append(least)
        self.most.append(most)

    def _minutes(self, judge: int) -> dict[int, float]:
        return {
            c: float(self.task.weight(self.places[self.seats[c][0]].section))
            for c in self.own[judge]
        }

    def _add_steps(self, judge: int, by: str, unit: int) -> None:
        """A judge's load as steps of cost 1, 3, 5 ...: their sum is the load squared."""
        load = dict.fromkeys(self.own[judge], 1.0)
        if by == "minutes":
            load = {c: minutes / unit for c, minutes in self._minutes(judge).items()}
        first, steps = len(self.cost), round(sum(load.values()))
        self.cost += [2.0 * step + 1 for step in range(steps)]
        self.low += [0.0] * steps
        self.high += [1.0] * steps
        self._row({**load, **dict.fromkeys(range(first, first + steps), -1.0)}, 0, 0)

    def _solve(self, unit: int = 1, *, shared: bool = False) -> Found | None:
        if not self.seats:
            return None if any(place.needed for place in self.places) else Found([], 0, 0)
        whole: NDArray[np.int_] = np.zeros(len(self.cost), dtype=int)
        whole[: 0 if shared else len(self.seats)] = 1
        nodes = MOST_NODES if len(self.seats) <= MANY_SEATS else FEW_NODES
        values = [value for row in self.rows for value in row.values()]
        at = [c for row in self.rows for c in row]
        ends = np.cumsum([0, *(len(row) for row in self.rows)])
        matrix = scipy.sparse.csr_array((values, at, ends), shape=(len(self.rows), len(self.cost)))
        answer = scipy.optimize.milp(
            np.array(self.cost),
            integrality=whole,
            bounds=scipy.optimize.Bounds(np.array(self.low), np.array(self.high)),
            constraints=scipy.optimize.LinearConstraint(
                matrix, np.array(self.least), np.array(self.most)
            ),
            options={"node_limit": nodes, "time_limit": LONGEST_S, "mip_rel_gap": 0.0},
        )
        if answer.x is None:
            return None
        sitting: list[set[int]] = [set() for _ in self.places]
        for c, (p, j) in enumerate(self.seats):
            if answer.x[c] > 0.5:
                sitting[p].add(j)
        bound = answer.mip_dual_bound
        return Found(
            sitting,
            round(answer.fun) * unit**2,
            0 if bound is None else ceil(bound - 1e-4) * unit**2,
        )
