"""Measure work beside its floor: in pairs, in one run, by processor time.

Processor time of this process is used, not the clock on the wall: a neighbour on a busy
machine then disturbs little, and what it does disturb it disturbs on both sides of a pair.
Time spent waiting for the disk is not in it.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

Work = Callable[[], object]


def nothing() -> None:
    """Put nothing back."""


@dataclass(frozen=True)
class Bound:
    """A figure found and the most it may be."""

    name: str
    found: float
    at_most: float

    @property
    def kept(self) -> bool:
        """Whether it is kept."""
        return self.found <= self.at_most


@dataclass(frozen=True)
class Row:
    """One line of the table: work, its floor if it has one, and what is held of it."""

    name: str
    work: str
    ours_ms: float
    floor_ms: float | None = None
    ratio: float | None = None
    bounds: tuple[Bound, ...] = ()
    note: str = ""

    @property
    def kept(self) -> bool:
        """Whether every bound is kept."""
        return all(bound.kept for bound in self.bounds)


@dataclass(frozen=True)
class Pair:
    """Medians of work and floor [ms], and the median of the ratios pair by pair."""

    ours_ms: float
    floor_ms: float
    ratio: float


def clocked(work: Work) -> float:
    """Return the processor time of one run [ms]."""
    gc.collect()
    begun = time.process_time()
    work()
    return (time.process_time() - begun) * 1000


def alone(work: Work, *, repeats: int, after: Work = nothing) -> float:
    """Return the median time of `work` [ms]; `after` puts things back, untimed."""
    times = []
    for _ in range(repeats):
        times.append(clocked(work))
        after()
    return median(times)


def paired(
    ours: Work,
    floor: Work,
    *,
    repeats: int,
    after_ours: Work = nothing,
    after_floor: Work = nothing,
) -> Pair:
    """Run ours, floor, ours, floor ...; the first pair warms up and is not counted."""
    found = []
    for _ in range(repeats + 1):
        mine = clocked(ours)
        after_ours()
        bare = clocked(floor)
        after_floor()
        found.append((mine, bare))
    counted = found[1:]
    return Pair(
        ours_ms=median(mine for mine, _ in counted),
        floor_ms=median(bare for _, bare in counted),
        ratio=median(mine / bare for mine, bare in counted),
    )
