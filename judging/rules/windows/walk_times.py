"""A panel that walks together where crews, judges and breaks have times of their own."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from judging.rules.windows.problem import (
    Break,
    Entry,
    RotationProblem,
    Span,
    Spans,
    Spots,
    Visit,
    VisitNeed,
)
from judging.rules.windows.rotation import DispatchSolver
from judging.rules.windows.walk import WalkMinutes, check_walk

PARTY = "panel"


@dataclass(frozen=True)
class TimedWalk:
    """The way of a panel with a time for every wagon.

    Parameters
    ----------
    visits
        By start; the judge is the panel as a whole.
    end
        End of the last visit [min].
    lower_bound
        No walk ends sooner [min].
    proven
        Whether this one is known to end as soon as any.
    """

    visits: tuple[Visit, ...]
    end: int
    lower_bound: int
    proven: bool

    @property
    def order(self) -> tuple[Entry, ...]:
        """The wagons in walking order."""
        return tuple(visit.entry for visit in self.visits)

    @property
    def gap_minutes(self) -> int:
        """At most so much longer than the shortest [min]."""
        return 0 if self.proven else self.end - self.lower_bound


def timed_walk(
    minutes_of_visit: Mapping[Any, int],
    walk: WalkMinutes,
    *,
    spot: Spots | None = None,
    crew_away: Spans | None = None,
    away: Sequence[Span] = (),
    breaks: Sequence[Break] = (),
    limit_s: float = 2.0,
    seed: int = 0,
    stop: threading.Event | None = None,
) -> TimedWalk:
    """Order the wagons for a panel that walks together, and give each its time.

    Parameters
    ----------
    minutes_of_visit
        Minutes the panel spends at each wagon [min].
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min], symmetric; row 0 is the gate.
    spot
        Row of ``walk`` for each wagon; the wagons are rows themselves unless given.
    crew_away
        Spans in which the crew of a wagon cannot take the visit [min from the opening].
    away
        Spans in which the panel is away [min].
    breaks
        Rests of the panel.
    limit_s
        About as long at most, by the wall clock [s]; with 0 rules of thumb alone.
    seed
        Chance.
    stop
        Set it from another thread to end the search.

    Returns
    -------
    TimedWalk
        Clean by all rules of a rotation; without a wagon nobody walks.

    Raises
    ------
    ValueError
        For a table that cannot be walked, a wagon without a spot, and a break that cannot be held.

    Notes
    -----
    A rotation of one judge: drafted and improved by rules of thumb, which end it where they meet
    the lower bound; constraint programming shortens it or proves it in the time that is left.

    Source
    ------
    As `DispatchSolver` (from memory); common practice, no source.

    Example
    -------
    >>> line = ((0, 2, 4), (2, 0, 2), (4, 2, 0))
    >>> found = timed_walk({1: 8, 2: 8}, line, crew_away={1: ((0, 12),)})
    >>> found.order, [visit.start for visit in found.visits], found.proven
    ((2, 1), [4, 14], True)
    """
    check_walk(walk)
    until = time.monotonic() + limit_s
    if not minutes_of_visit:
        return TimedWalk((), 0, 0, True)
    problem = RotationProblem(
        tuple(VisitNeed(entry, PARTY, minutes) for entry, minutes in minutes_of_visit.items()),
        walk,
        {entry: entry for entry in minutes_of_visit} if spot is None else spot,
        judge_away={PARTY: tuple(away)},
        crew_away=crew_away or {},
        breaks={PARTY: tuple(breaks)},
    )
    rotation = DispatchSolver(seed=seed).solve(problem)
    left = until - time.monotonic()
    if not rotation.proven and left > 0:
        # Only who searches pays for loading the solver.
        from judging.rules.windows.exact import improve  # noqa: PLC0415

        rotation = improve(problem, rotation, limit_s=left, seed=seed, stop=stop)
    return TimedWalk(rotation.visits, rotation.makespan, rotation.lower_bound, rotation.proven)
