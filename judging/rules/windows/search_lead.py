"""Let the judge with the most to do go the best round there is, and fit the others around it.

Where one judge has much more to do than the rest, as on wide grounds, nothing else sets the end of
the day; that judge's round with its turn-ins is a far smaller question than the whole rotation.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from judging.rules.windows.dispatch import booking_order, shuffled_a_little
from judging.rules.windows.problem import Rotation, RotationProblem
from judging.rules.windows.search import (
    Moved,
    Tour,
    best_drafts,
    finishes,
    improve,
    with_fair_ends,
)
from judging.rules.windows.search_long import drawn
from judging.rules.windows.search_shop import Shop, shop_of

# Tries a stop of the round, run by run, and the first warmth as a share of a visit's mean length.
ROUND_TRIES = 2_500
WARMTHS = (0.15, 0.1, 0.2)
STRETCH = 6.0  # stops, mean length of a stretch that is turned round or shifted
TRY_COSTS = 12  # visits played, beside those of the round, that a try takes as long as
KICKS = 3  # changes of the round before each run but the first
BOOKINGS = 20  # drafts of the others' rounds
KEPT = 2  # of them are improved, with so many tries a visit each
FIT_TRIES, FIT_WARMTH = 130, 0.1


def led(
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
    """Improve the busiest judge's own round, and draw rotations around it.

    Parameters
    ----------
    problem
        The visits and all rules.
    rotation
        A clean rotation of them.
    bound
        Known not to be beaten; ends the work when met [min].
    rounds
        Tries in all, those of the one round counted by its share of the visits; with the same seed
        the same number gives the same rotation.
    seed, on_better, until, stop
        As in `annealed`.

    Returns
    -------
    Rotation
        Never longer than the one given.

    Notes
    -----
    The round is annealed as if the judge were alone, by turning stretches round, shifting them, and
    exchanging and moving stops. If it is shorter than the best rotation so far, the others book
    wagons in the gaps it leaves, and the best of these drafts are improved. This is repeated, each
    time from the best round so far with a few changes made by chance.

    Source
    ------
    Lin (1965), Bell System Technical Journal 44:2245-2269, and Or (1976): stretches turned round
    and shifted; booking around the bottleneck: Adams, Balas and Zawack (1988), Management Science
    34:391-401 (all from memory).

    Example
    -------
    >>> from judging.rules.windows.problem import Visit, VisitNeed
    >>> visits = tuple(VisitNeed(w, j, 5) for w in (1, 2) for j in ("gear", "fire"))
    >>> problem = RotationProblem(visits, ((0, 0, 0),) * 3, {1: 1, 2: 2})
    >>> slow = [(1, "gear", 0), (2, "gear", 5), (1, "fire", 10), (2, "fire", 15)]
    >>> given = Rotation(tuple(Visit(w, j, s, s + 5) for w, j, s in slow), 20, 10, False, "by hand")
    >>> led(problem, given, bound=10, rounds=10_000).makespan
    10
    """
    shop, _, _ = shop_of(problem)
    judges = shop.busiest_first()
    own = shop.visits_of(judges[0])
    alone, _, _ = shop_of(
        replace(problem, visits=tuple(problem.visits[v] for v in own), fair_ends=False)
    )
    n = len(shop.minutes)
    own += [n + b for b, judge in enumerate(shop.rest_of) if judge == judges[0]]
    work = rounds * n

    def called_off() -> bool:
        late = until is not None and time.monotonic() > until
        return late or (stop is not None and stop.is_set())

    def moved(tour: Tour, rng: random.Random) -> Moved:
        nonlocal work
        work -= len(own) + TRY_COSTS
        return _stretch_moved(tour, rng)

    way = [*alone.own_walk(0)[0], *range(len(alone.minutes), len(own))]
    run = 0
    while work > 0 and rotation.makespan > bound and not called_off():
        rng = random.Random(f"{seed} {run}")
        tries = min(-(-work // (len(own) + TRY_COSTS)), ROUND_TRIES * len(own))
        found = improve(
            alone,
            _kicked(alone, way, rng) if run else way,
            bound,
            rng,
            rounds=tries,
            warmth=WARMTHS[run % len(WARMTHS)] * alone.mean_minutes,
            moved=moved,
            called_off=called_off,
        )
        run += 1
        least = max(finishes(alone, found))
        if least <= max(finishes(alone, way)):
            way = found
        if least >= rotation.makespan:
            continue
        fitted = _around(shop, judges, [own[at] for at in found], rng)
        for _, _, order in best_drafts(shop, least, fitted, KEPT):
            whole = improve(
                shop,
                order,
                least,
                rng,
                rounds=FIT_TRIES * n,
                warmth=FIT_WARMTH * shop.mean_minutes,
                called_off=called_off,
            )
            if max(finishes(shop, whole)) < rotation.makespan:
                rotation = drawn(problem, shop, whole, bound, "led")
                if on_better is not None:
                    on_better(rotation)
            if rotation.makespan <= least:
                break
            work -= FIT_TRIES * n * n
    return rotation


def _kicked(alone: Shop, way: list[int], rng: random.Random) -> list[int]:
    """Change a round a little, so that another one as short may be found from it."""
    for _ in range(KICKS):
        way, _, _ = _stretch_moved(Tour(alone, way), rng)
    return way


def _stretch_moved(tour: Tour, rng: random.Random) -> Moved:
    """Turn a stretch of a round, shift it by up to three stops, or exchange or move stops."""
    tried = list(tour.order)
    n = len(tried)
    size = min(n, 2 + int(rng.expovariate(1 / STRETCH)))
    first = rng.randrange(n - size + 1)
    stretch = tried[first : first + size]
    way = rng.random()
    if way < 0.3:
        stretch.reverse()
    elif way < 0.6:
        by = rng.choice((-3, -2, -1, 1, 2, 3)) % len(stretch)
        stretch = stretch[by:] + stretch[:by]
    elif way < 0.8:
        i, k = rng.randrange(n), rng.randrange(n)
        tried[i], tried[k] = tried[k], tried[i]
        return tried, min(i, k), max(i, k)
    else:
        i, k = rng.randrange(n), rng.randrange(n)
        tried.insert(k, tried.pop(i))
        return tried, min(i, k), max(i, k)
    tried[first : first + size] = stretch
    return tried, first, first + size - 1


def _around(
    shop: Shop, judges: Sequence[int], lead: Sequence[int], rng: random.Random
) -> Iterator[tuple[str, list[int]]]:
    """Draft the others' rounds in the gaps that a round of the first judge leaves."""
    n_visits = len(shop.minutes)
    early: dict[int, list[int]] = {}
    waiting: list[int] = []
    for piece in lead:
        waiting.append(piece)
        if piece < n_visits:
            early[piece] = waiting
            waiting = []
    late = [b for b in range(n_visits, n_visits + len(shop.rest_of)) if b not in lead]
    for draft in range(BOOKINGS):
        others = judges[1:] if draft % 3 == 0 else shuffled_a_little(judges[1:], rng)
        order = booking_order(
            shop,
            [judges[0], *others],
            rng,
            noise=draft % 5 * shop.mean_minutes / 12,
            detour=(0.3, 0.7, 1.0, 1.5)[draft % 4],
            lead=lead,
        )
        order = with_fair_ends(shop, order, rng)
        yield (
            "led",
            [piece for v in order for piece in early.get(v, [v])] + waiting + late,
        )
