"""Who is at which wagon when: a rotation, the proof of its length, and a check of its rules."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Protocol

from judging.rules.windows.bound import Entry, Judge, Spots, VisitNeed, rotation_bound
from judging.rules.windows.dispatch import (
    Shop,
    booking_order,
    file_order,
    finishes,
    improve,
    list_order,
    shortest_draft,
    shuffled_a_little,
    starts,
)
from judging.rules.windows.walk import WalkMinutes, check_walk


@dataclass(frozen=True)
class RotationProblem:
    """The visits to be placed in a window.

    Parameters
    ----------
    visits
        Shape ``(n_visits,)``, each pair of entry and judge once.
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min], symmetric; row 0 is the gate.
    spot
        Row of ``walk`` for each entry.
    crew_reset_minutes
        The crew's time between two visits at its wagon [min].
    """

    visits: tuple[VisitNeed, ...]
    walk: WalkMinutes
    spot: Spots
    crew_reset_minutes: int = 0

    def __post_init__(self) -> None:
        check_walk(self.walk)
        if not self.visits:
            raise ValueError("there is no visit to plan")
        if self.crew_reset_minutes < 0:
            raise ValueError("a crew reset cannot take less than no time")
        pair, times = Counter((need.entry, need.judge) for need in self.visits).most_common(1)[0]
        if times > 1:
            raise ValueError(f"judge {pair[1]} is to visit entry {pair[0]} {times} times")
        for need in self.visits:
            if not 1 <= self.spot.get(need.entry, 0) < len(self.walk):
                raise ValueError(f"entry {need.entry} has no camp spot in the walking table")


@dataclass(frozen=True)
class Visit:
    """One judge at one wagon, in whole minutes from the opening of the window [min]."""

    entry: Entry
    judge: Judge
    start: int
    end: int


@dataclass(frozen=True)
class Rotation:
    """A timetable of all visits.

    Parameters
    ----------
    visits
        By start.
    makespan
        End of the last visit [min].
    lower_bound
        No rotation is shorter [min].
    proven
        Whether this rotation is known to be a shortest one.
    solver
        What made it.
    """

    visits: tuple[Visit, ...]
    makespan: int
    lower_bound: int
    proven: bool
    solver: str

    @property
    def gap_minutes(self) -> int:
        """At most so many minutes longer than a shortest rotation [min]."""
        return 0 if self.proven else self.makespan - self.lower_bound

    @property
    def gap_share(self) -> float:
        """The same as a share of the lower bound."""
        return self.gap_minutes / self.lower_bound


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
        Tries to improve the best draft. Both numbers hold to 80 visits and fall off above, so
        that larger windows do not take much longer; the result never depends on a clock.

    Notes
    -----
    First the file: judges one behind the other along the shortest walk, the busiest last, each
    moving when free. Then bookings: the busiest judge walks without waiting, the others book the
    gaps left. Then lists: always the most pressing visit. Then annealing on the best of them.
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
            The visits.

        Returns
        -------
        Rotation
            Never longer than the file; ``proven`` when it meets the lower bound.

        Example
        -------
        >>> problem = RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1})
        >>> DispatchSolver().solve(problem).visits
        (Visit(entry=1, judge='gear', start=2, end=7),)
        """
        shop, entries, judges = _shop(problem)
        bound = rotation_bound(
            problem.visits, problem.walk, problem.spot, problem.crew_reset_minutes
        ).minutes
        best, made_by, makespan = shortest_draft(shop, bound, self._drafts(shop))
        rng = random.Random(self.seed)
        for warmth in (0.1, 0.2, 0.4, 0.8):
            if makespan <= bound:
                break
            order = improve(
                shop,
                best,
                bound,
                rng,
                rounds=_tries(self.rounds, shop, 1) // 4,
                warmth=warmth * shop.mean_minutes,
            )
            length = max(finishes(shop, order))
            if length < makespan:
                best, made_by, makespan = order, "improved", length
        start, _ = starts(shop, best)
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

    def _drafts(self, shop: Shop) -> Iterator[tuple[str, list[int]]]:
        rng = random.Random(self.seed)
        mean = shop.mean_minutes
        yield "file", file_order(shop)
        judges = shop.busiest_first()
        for draft in range(self.drafts):
            turn = judges if draft % 3 == 0 else shuffled_a_little(judges, rng)
            detour = (0.3, 0.7, 1.0, 1.5)[draft % 4]
            noise = draft % 5 * mean / 12
            yield "booking", booking_order(shop, turn, rng, noise=noise, detour=detour)
        for draft in range(_tries(self.drafts, shop, 2)):
            yield (
                "list",
                list_order(
                    shop,
                    rng,
                    noise=draft % 8 * mean / 16,
                    detour=(0.5, 1.0, 2.0)[draft % 3],
                    wagon_weight=(0.03, 0.1, 0.3, 1.0)[draft % 4],
                ),
            )


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


def validate(problem: RotationProblem, rotation: Rotation) -> tuple[str, ...]:
    """List every rule of the window that a rotation breaks; written apart from any solver.

    Parameters
    ----------
    problem, rotation
        What was asked for and what was made of it.

    Returns
    -------
    tuple of str
        One sentence a fault, empty for a clean rotation.

    Notes
    -----
    The rules: every visit takes place once with its full minutes; one judge at a wagon at a time
    and the crew's reset between; one wagon a judge at a time and the walk between, the first
    from the gate when the window opens.

    Example
    -------
    >>> problem = RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1})
    >>> validate(problem, Rotation((Visit(1, "gear", 1, 6),), 6, 7, False, "by hand"))
    ('gear is at 1 at minute 1 but needs 2 to walk there', 'the bound 7 is above the makespan 6')
    """
    placed = tuple(sorted(rotation.visits, key=lambda visit: (visit.start, visit.end)))
    return (
        *_visit_faults(problem, placed),
        *_wagon_faults(problem, placed),
        *_judge_faults(problem, placed),
        *_figure_faults(rotation),
    )


def _visit_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    asked = {(need.entry, need.judge): need.minutes for need in problem.visits}
    times = Counter((visit.entry, visit.judge) for visit in placed)
    for entry, judge in asked:
        if (n := times[entry, judge]) != 1:
            yield f"{judge} visits {entry} {n} times"
    for visit in placed:
        minutes = asked.get((visit.entry, visit.judge))
        if minutes is None:
            yield f"nobody asked {visit.judge} to visit {visit.entry}"
        elif visit.end - visit.start != minutes:
            had = visit.end - visit.start
            yield f"{visit.judge} has {had} of {minutes} minutes at {visit.entry}"


def _wagon_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    for entry, own in _grouped(placed, lambda visit: visit.entry):
        longest = own[0]  # of those begun so far, the one that ends last
        for visit in own[1:]:
            if visit.start < longest.end:
                yield f"{longest.judge} and {visit.judge} are at {entry} at once"
            elif visit.start < longest.end + problem.crew_reset_minutes:
                yield f"{visit.judge} comes to {entry} before the crew is ready"
            longest = max(longest, visit, key=lambda each: each.end)


def _judge_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    for judge, own in _grouped(placed, lambda visit: visit.judge):
        way = problem.walk[0][problem.spot.get(own[0].entry, 0)]
        if own[0].start < way:
            first_stop = f"{own[0].entry} at minute {own[0].start}"
            yield f"{judge} is at {first_stop} but needs {way} to walk there"
        for first, second in pairwise(own):
            if second.start < first.end:
                yield f"{judge} is at {first.entry} and {second.entry} at once"
                continue
            way = problem.walk[problem.spot.get(first.entry, 0)][problem.spot.get(second.entry, 0)]
            if second.start < first.end + way:
                yield f"{judge} has no time to walk from {first.entry} to {second.entry}"


def _figure_faults(rotation: Rotation) -> Iterator[str]:
    last = max((visit.end for visit in rotation.visits), default=0)
    if rotation.makespan != last:
        yield f"the last visit ends at {last}, not at {rotation.makespan}"
    if rotation.lower_bound > rotation.makespan:
        yield f"the bound {rotation.lower_bound} is above the makespan {rotation.makespan}"


def _grouped(
    placed: Sequence[Visit], key: Callable[[Visit], Hashable]
) -> list[tuple[Hashable, list[Visit]]]:
    groups: dict[Hashable, list[Visit]] = {}
    for visit in placed:
        groups.setdefault(key(visit), []).append(visit)
    return list(groups.items())


def _shop(problem: RotationProblem) -> tuple[Shop, list[Entry], list[Judge]]:
    entries = list(dict.fromkeys(need.entry for need in problem.visits))
    judges = list(dict.fromkeys(need.judge for need in problem.visits))
    entry_at = {entry: e for e, entry in enumerate(entries)}
    judge_at = {judge: j for j, judge in enumerate(judges)}
    shop = Shop(
        entry_of=tuple(entry_at[need.entry] for need in problem.visits),
        judge_of=tuple(judge_at[need.judge] for need in problem.visits),
        minutes=tuple(need.minutes for need in problem.visits),
        spot=tuple(problem.spot[entry] for entry in entries),
        walk=problem.walk,
        reset=problem.crew_reset_minutes,
        n_judges=len(judges),
    )
    return shop, entries, judges


def _tries(number: int, shop: Shop, power: int) -> int:
    """Fewer tries for many visits, where each takes longer by that power of their number."""
    return min(number, int(number * (80 / len(shop.minutes)) ** power) + 1)
