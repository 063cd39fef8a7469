"""Whether one judge alone can be done by a minute: every set of visits, the soonest end of each."""

from __future__ import annotations

import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from judging.rules.windows.problem import Break, RotationProblem, Span
from judging.rules.windows.search_day import merged, rests

Minutes = NDArray[np.int16]
Sets = NDArray[np.int64]

SETS_UP_TO = 20  # visits of one judge; above, the sets of visits do not fit into memory
BREAKS_UP_TO = 2  # breaks of one judge that count, the longest
LATEST = 8_000  # minutes that fit the tables with room to spare
NEVER = np.int16(16_000)
GATE = -1


@dataclass
class JudgeAlone:
    """A problem of one judge, in tables over sets of visits; visit i is bit i of a set.

    Parameters
    ----------
    problem
        Visits of one judge, no more than `SETS_UP_TO`.
    """

    problem: RotationProblem
    away: tuple[Span, ...] = field(init=False)
    breaks: list[Break] = field(init=False)
    must_begin: list[int] = field(init=False)
    minutes: Minutes = field(init=False)
    walk: Minutes = field(init=False)

    def __post_init__(self) -> None:
        problem, judge = self.problem, self.problem.visits[0].judge
        self.away = merged(problem.judge_away.get(judge, ()))
        own = sorted(problem.breaks.get(judge, ()), key=lambda rest: -rest.minutes)
        self.breaks = own[:BREAKS_UP_TO]
        self.must_begin = [
            alone.last_begin for rest in self.breaks for alone in rests([rest], self.away, judge)
        ]
        spots = [problem.spot[need.entry] for need in problem.visits]
        table = np.array(problem.walk, dtype=np.int16)
        # Row n is the gate.
        self._ways = table[np.ix_([*spots, 0], spots)]
        n = len(spots)
        self.minutes = np.zeros(1 << n, dtype=np.int16)
        for i, need in enumerate(problem.visits):
            self.minutes[1 << i : 2 << i] = self.minutes[: 1 << i] + need.minutes
        self.walk = self._shortest_ways(n)

    def _shortest_ways(self, n: int) -> Minutes:
        """Shortest way from each visit past a set of others, shape ``(n, 2 ** n)`` [min].

        By highest member of the set, so that every smaller set is there before it is needed.
        """
        ways = np.full((n, 1 << n), NEVER, dtype=np.int16)
        ways[:, 0] = 0
        size = np.zeros(1 << n, dtype=np.int8)
        for i in range(n):
            size[1 << i : 2 << i] = size[: 1 << i] + 1
        order = np.argsort(size, kind="stable")
        begins = np.searchsorted(size[order], np.arange(n + 2))
        for count in range(1, n + 1):
            sets = order[begins[count] : begins[count + 1]]
            for k in range(n):
                inside = sets[sets >> k & 1 == 1]
                left = ways[k, inside ^ (1 << k)]
                for i in range(n):
                    if i != k:
                        ways[i, inside] = np.minimum(ways[i, inside], left + self._ways[i, k])
        return ways

    def done_by(
        self,
        latest: int,
        *,
        limit: int,
        until: float | None = None,
        stop: threading.Event | None = None,
    ) -> bool | None:
        """Say whether the judge can be done by a minute; None where that was not found out.

        Parameters
        ----------
        latest
            The last visit must have ended by then [min].
        limit
            Steps from visit to visit to be looked at before it is given up.
        until, stop
            Given up as well after this reading of the monotonic clock [s], or when called off.
        """
        n, full = len(self.problem.visits), len(self.minutes) - 1
        steps = self._steps(latest)
        states: dict[tuple[int, int], tuple[Sets, Minutes]] = {
            (GATE, 0): (np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int16))
        }
        soonest = np.full(full + 1, NEVER, dtype=np.int16)
        looked = 0
        for _ in range(n):
            after: dict[tuple[int, int], tuple[Sets, Minutes]] = {}
            for k in range(n):
                for taken in range(1 << len(self.breaks)):
                    touched: list[Sets] = []
                    for (last, had), (sets, ends) in states.items():
                        step = steps.get((last, k, taken ^ had))
                        if had & ~taken or step is None:
                            continue
                        free = sets >> k & 1 == 0
                        came, end = sets[free] | 1 << k, step[ends[free]]
                        looked += len(came)
                        good = self._left(came ^ full, end, k, taken) <= latest
                        came, end = came[good], end[good]
                        soonest[came] = np.minimum(soonest[came], end)
                        touched.append(came)
                    if touched and any(map(len, touched)):
                        sets = np.unique(np.concatenate(touched))
                        after[k, taken] = sets, soonest[sets]
                        soonest[sets] = NEVER
                if looked > limit or called_off(until, stop):
                    return None
            states = after
        return bool(states)

    def _left(self, left: Sets, end: Minutes, k: int, taken: int) -> NDArray[np.int32]:
        """Return the soonest end of the day from a state, as far as sums tell."""
        done: NDArray[np.int32] = end.astype(np.int32) + self.minutes[left] + self.walk[k, left]
        rest = np.zeros_like(done)
        for b, each in enumerate(self.breaks):
            if not taken >> b & 1:
                late = done > self.must_begin[b]
                # With nothing left a break that comes too late now has been missed.
                rest[late] += np.where(left[late] == 0, int(NEVER), each.minutes)
        done += rest
        return done

    def _steps(self, latest: int) -> dict[tuple[int, int, int], Minutes]:
        """End of visit k, by the end of visit i and the breaks between the two [min]."""
        times = np.arange(latest + 1, dtype=np.int16)
        found = {}
        groups = [
            group
            for number in range(len(self.breaks) + 1)
            for group in combinations(range(len(self.breaks)), number)
        ]
        for group in groups:
            up, never = times, np.zeros(latest + 1, dtype=bool)
            resting = sum(self.breaks[b].minutes for b in group)
            for b in group:
                rest = self.breaks[b]
                begin = _fitted(np.maximum(times, rest.earliest), rest.minutes, self.away)
                never = never | (begin + rest.minutes > rest.latest)
                up = np.maximum(up, begin + rest.minutes)
            mask = sum(1 << b for b in group)
            for k, need in enumerate(self.problem.visits):
                closed = merged((*self.away, *self.problem.crew_away.get(need.entry, ())))
                for i in (GATE, *range(len(self.problem.visits))):
                    if i == k:
                        continue
                    way = int(self._ways[i, k]) + resting
                    start = np.maximum(_reached(times, way, self.away), up)
                    end = _fitted(start, need.minutes, closed) + need.minutes
                    found[i, k, mask] = np.where(never | (end > latest), NEVER, end).astype(
                        np.int16
                    )
        return found


def called_off(until: float | None, stop: threading.Event | None) -> bool:
    """Whether the time is up, or somebody asked to stop."""
    return (until is not None and time.monotonic() > until) or (stop is not None and stop.is_set())


def _fitted(now: Minutes, minutes: int, away: Sequence[Span]) -> Minutes:
    """Do `search_day.fitted` for many minutes at once."""
    for begins, ends in away:
        now = np.where((now + minutes > begins) & (now < ends), np.int16(ends), now)
    return now


def _reached(now: Minutes, minutes: int, away: Sequence[Span]) -> Minutes:
    """Do `search_day.reached` for many minutes at once."""
    left = np.full_like(now, minutes)
    for begins, ends in away:
        crosses = (left > 0) & (ends > now) & (now + left > begins)
        left = np.where(crosses, left - np.maximum(0, begins - now), left).astype(np.int16)
        now = np.where(crosses, np.int16(ends), now)
    return now + left
