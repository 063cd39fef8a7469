"""Who is at which wagon when: a rotation, the proof of its length, and a check of its rules."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Protocol

from judging.rules.windows.bound import bound_of
from judging.rules.windows.dispatch import drafts, tries
from judging.rules.windows.problem import Rotation, RotationProblem, Spots, Visit, VisitNeed
from judging.rules.windows.search import (
    best_drafts,
    finishes,
    improve,
    starts,
    with_fair_ends,
)
from judging.rules.windows.search_shop import Shop, shop_of
from judging.rules.windows.search_table import Cells, SpanLists, Table, problem_of
from judging.rules.windows.verify import faults
from judging.rules.windows.walk import WalkMinutes

__all__ = [
    "DispatchSolver",
    "Rotation",
    "RotationProblem",
    "RotationSolver",
    "Solved",
    "Visit",
    "planned_minutes",
    "solve",
    "validate",
]

validate = faults  # the check stands in a file of its own, apart from the solvers


DISPATCH_PAYS_S = 3.0  # with less time than this in all, less is spent on rules of thumb
KEPT = 3  # drafts that are improved
WARMTH = 0.1  # of the mean length of a visit: a try worse by about so much may be taken at first


class RotationSolver(Protocol):
    """Anything that turns a problem into a rotation."""

    def solve(self, problem: RotationProblem) -> Rotation:
        """Give a rotation that `validate` finds no fault with."""
        ...


@dataclass(frozen=True)
class DispatchSolver:
    """Draw a rotation by the rules a good steward uses, then improve it.

    Parameters
    ----------
    seed
        The same problem, seed and numbers of tries give the same rotation.
    drafts
        Rotations drafted by booking, and as many by list.
    rounds
        Tries to improve the best drafts. Both numbers hold to 80 visits and fall off above, so
        that larger windows do not take much longer; the result never depends on a clock.

    Notes
    -----
    First the file: judges one behind the other along the shortest walk, the busiest last, each
    moving when free. Then bookings: the busiest judge walks without waiting, the others book the
    gaps left. Then lists: always the most pressing visit. Then annealing on the best of them.
    A break is taken as late as it must be, in time spent waiting anyway, or sooner where trying
    shows that to be better.
    It stops as soon as the lower bound is met; the rotation is then proven a shortest one.
    With no more wagons than judges the bound is often out of reach and ``proven`` stays False.
    So it is, by 3 to 6 per cent as seen, in one long row of spots where all judges have about the
    same work: only one of them can begin at the near end. In rows side by side 0 to 1 per cent.

    Source
    ------
    The file: common practice, no source. Lower bounds as `rotation_bound`. Annealing: Kirkpatrick,
    Gelatt and Vecchi (1983), Science 220:671-680 (from memory).

    Example
    -------
    >>> problem = RotationProblem(
    ...     visits=tuple(
    ...         VisitNeed(w, j, m) for w in (1, 2, 3) for j, m in (("gear", 5), ("fire", 4))
    ...     ),
    ...     walk=((0, 1, 2, 3), (1, 0, 1, 2), (2, 1, 0, 1), (3, 2, 1, 0)),
    ...     spot={1: 1, 2: 2, 3: 3},
    ... )
    >>> rotation = DispatchSolver().solve(problem)
    >>> rotation.makespan, rotation.lower_bound, rotation.proven
    (18, 18, True)
    >>> validate(problem, rotation)
    ()
    """

    seed: int = 0
    drafts: int = 60
    rounds: int = 24_000

    def solve(self, problem: RotationProblem) -> Rotation:
        """Place every visit.

        Parameters
        ----------
        problem
            The visits, and every rule for them.

        Returns
        -------
        Rotation
            Never longer than the file; ``proven`` when it meets the lower bound.

        Raises
        ------
        ValueError
            When a judge has no time for a break, or first and last stops cannot be spread.

        Example
        -------
        >>> problem = RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1})
        >>> DispatchSolver().solve(problem).visits
        (Visit(entry=1, judge='gear', start=2, end=7),)
        """
        shop, entries, judges = shop_of(problem)
        bound = bound_of(problem).minutes
        rng = random.Random(self.seed)
        tops = best_drafts(shop, bound, self._drafts(shop, rng), KEPT)
        makespan, made_by, best = tops[0]
        for _, _, draft in tops:
            if makespan <= bound:
                break
            order = improve(
                shop,
                [*draft, *range(len(shop.minutes), len(shop.minutes) + len(shop.rest_of))],
                bound,
                rng,
                rounds=tries(self.rounds, shop, 1) // KEPT,
                warmth=WARMTH * shop.mean_minutes,
            )
            length = max(finishes(shop, order))
            if length < makespan:
                best, made_by, makespan = order, "improved", length
        start = starts(shop, best)
        visits = (
            Visit(
                entries[shop.entry_of[v]],
                judges[shop.judge_of[v]],
                start[v],
                start[v] + shop.minutes[v],
            )
            for v in sorted(range(len(start)), key=lambda v: (start[v], v))
        )
        return Rotation(tuple(visits), makespan, bound, makespan == bound, f"dispatch: {made_by}")

    def _drafts(self, shop: Shop, rng: random.Random) -> Iterator[tuple[str, list[int]]]:
        for made_by, order in drafts(shop, random.Random(self.seed), self.drafts):
            yield made_by, with_fair_ends(shop, order, rng)


def planned_minutes(
    *,
    walk: WalkMinutes,
    spot: Spots,
    crew_reset_minutes: int = 0,
    solver: RotationSolver | None = None,
) -> Callable[[Sequence[VisitNeed]], int]:
    """Give window sizing a way to draw rotations instead of trusting bounds.

    Parameters
    ----------
    walk, spot, crew_reset_minutes
        As in `RotationProblem`.
    solver
        `DispatchSolver` unless given.

    Returns
    -------
    Callable
        From visits to the length of a rotation of them [min]; the same visits are drawn once.

    Example
    -------
    >>> length = planned_minutes(walk=((0, 2), (2, 0)), spot={1: 1})
    >>> length([VisitNeed(1, "gear", 5), VisitNeed(1, "fire", 4)])
    11
    """
    chosen = solver or DispatchSolver()

    @cache
    def drawn(visits: tuple[VisitNeed, ...]) -> int:
        return chosen.solve(RotationProblem(visits, walk, spot, crew_reset_minutes)).makespan

    return lambda visits: drawn(tuple(visits))


@dataclass(frozen=True)
class Solved:
    """A timetable for a table of minutes.

    Parameters
    ----------
    makespan
        End of the last visit [min].
    bound
        No timetable is shorter [min].
    proven
        Whether this one is known to be a shortest.
    starts
        Shape ``(n_wagons, n_sections)`` [min]; None where there is no visit.
    """

    makespan: int
    bound: int
    proven: bool
    starts: tuple[tuple[int | None, ...], ...]


def solve(
    durations: Table,
    travel: Table | None = None,
    limit_s: float = 5.0,
    *,
    gate: Cells | None = None,
    reset: int = 0,
    crew_away: SpanLists | None = None,
    judge_breaks: SpanLists | None = None,
    seed: int = 0,
) -> Solved:
    """Draw a timetable from a table of minutes: one judge a section, who comes to every wagon.

    Parameters
    ----------
    durations
        Shape ``(n_wagons, n_sections)`` [min]; 0 or None where there is no visit.
    travel
        Shape ``(n_wagons, n_wagons)`` [min], symmetric; None where nobody walks.
    limit_s
        About so long by the wall clock [s].
    gate
        Shape ``(n_wagons,)``: minutes from the gate to each wagon; None where that is no way.
    reset
        Free minutes of a crew between two visits [min].
    crew_away
        Per wagon, spans ``(from, to)`` in which its crew is away [min].
    judge_breaks
        Per section, breaks ``(minutes, earliest, latest)`` of its judge [min].
    seed
        Chance.

    Returns
    -------
    Solved
        With the proof as far as it goes.

    Raises
    ------
    ValueError
        For a table that is empty or ragged, for minutes that are negative or not whole, for a
        way that is longer back than forth, and for a break that cannot be had.

    Notes
    -----
    Rules of thumb first, then constraint programming for the rest of the time if the shortest
    is not proven by then. The numbers need not be minutes: any whole numbers will do.

    Source
    ------
    Common practice, no source; the bounds are Taillard's (1993), EJOR 64:278-285.

    Example
    -------
    >>> solve([[5, 4], [5, 4]])
    Solved(makespan=10, bound=10, proven=True, starts=((0, 5), (5, 0)))
    """
    began = time.monotonic()
    problem = problem_of(
        durations, travel, gate=gate, reset=reset, crew_away=crew_away, judge_breaks=judge_breaks
    )
    share = min(1.0, max(0.1, limit_s / DISPATCH_PAYS_S))
    rotation = DispatchSolver(seed, round(60 * share), round(24_000 * share)).solve(problem)
    left = limit_s - (time.monotonic() - began)
    if not rotation.proven and left > 0:
        # A large library, loaded only where rules of thumb are not enough.
        from judging.rules.windows.exact import improve as improved  # noqa: PLC0415

        rotation = improved(problem, rotation, limit_s=left, seed=seed)
    at = {(visit.entry, visit.judge): visit.start for visit in rotation.visits}
    table = tuple(
        tuple(at.get((w, s)) for s in range(len(durations[0]))) for w in range(len(durations))
    )
    return Solved(rotation.makespan, rotation.lower_bound, rotation.proven, table)
