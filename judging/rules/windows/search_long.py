"""Go on improving a rotation for as long as there is, with fresh chance each time."""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Sequence

from judging.rules.windows.problem import Rotation, RotationProblem, Visit
from judging.rules.windows.search import finishes, improve, starts
from judging.rules.windows.search_shop import Shop, shop_of

# Tries of one run, and its first warmth as a share of a visit's mean length, run by run.
RUN_ROUNDS = 40_000
WARMTHS = (0.1, 0.2, 0.4)


def annealed(
    problem: RotationProblem,
    rotation: Rotation,
    *,
    bound: int,
    rounds: int,
    seed: int = 0,
    on_better: Callable[[Rotation], None] | None = None,
    until: float | None = None,
    stop: threading.Event | None = None,
) -> Rotation:
    """Anneal again and again from the best rotation so far.

    Parameters
    ----------
    problem
        The visits and all rules.
    rotation
        A clean rotation of them, to begin with.
    bound
        Known not to be beaten; ends the work when met [min].
    rounds
        Tries in all; with the same seed the same number gives the same rotation.
    seed
        Chance.
    on_better
        Told each shorter rotation.
    until, stop
        Ends the work as well by this reading of the monotonic clock [s], or when called off.

    Returns
    -------
    Rotation
        Never longer than the one given.

    Notes
    -----
    Runs differ in chance and in how warm they begin: little warmth mends the best rotation, more
    leaves it behind. Breaks are placed anew by the order played.

    Source
    ------
    Kirkpatrick, Gelatt and Vecchi (1983), Science 220:671-680 (from memory).

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> visits = tuple(VisitNeed(w, j, 5) for w in (1, 2) for j in ("gear", "fire"))
    >>> problem = RotationProblem(visits, ((0, 0, 0),) * 3, {1: 1, 2: 2})
    >>> slow = [(1, "gear", 0), (2, "gear", 5), (1, "fire", 10), (2, "fire", 15)]
    >>> given = Rotation(tuple(Visit(w, j, s, s + 5) for w, j, s in slow), 20, 10, False, "by hand")
    >>> annealed(problem, given, bound=10, rounds=100).makespan
    10
    """
    shop, _, _ = shop_of(problem)
    number = {(need.entry, need.judge): v for v, need in enumerate(problem.visits)}
    order = [
        *(number[visit.entry, visit.judge] for visit in sorted(rotation.visits, key=_start)),
        *range(len(shop.minutes), len(shop.minutes) + len(shop.rest_of)),
    ]
    least = max(finishes(shop, order))

    def called_off() -> bool:
        late = until is not None and time.monotonic() > until
        return late or (stop is not None and stop.is_set())

    run = 0
    while rounds > 0 and rotation.makespan > bound and not called_off():
        found = improve(
            shop,
            order,
            bound,
            random.Random(f"{seed} {run}"),
            rounds=min(rounds, RUN_ROUNDS),
            warmth=WARMTHS[run % len(WARMTHS)] * shop.mean_minutes,
            called_off=called_off,
        )
        rounds -= RUN_ROUNDS
        run += 1
        makespan = max(finishes(shop, found))
        if makespan <= least:
            order, least = found, makespan
        if makespan < rotation.makespan:
            rotation = drawn(problem, shop, found, bound, "annealed")
            if on_better is not None:
                on_better(rotation)
    return rotation


def drawn(
    problem: RotationProblem, shop: Shop, order: Sequence[int], bound: int, solver: str
) -> Rotation:
    """Play an order of visits and breaks and write down what comes of it."""
    visits = tuple(
        Visit(need.entry, need.judge, at, at + need.minutes)
        for need, at in zip(problem.visits, starts(shop, order), strict=True)
    )
    makespan = max(visit.end for visit in visits)
    ordered = tuple(sorted(visits, key=_start))
    return Rotation(ordered, makespan, bound, makespan == bound, solver)


def _start(visit: Visit) -> int:
    return visit.start
