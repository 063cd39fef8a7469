"""How soon one judge alone can be done when crews turn in and the judge rests.

The quick bound adds up minutes, walking and breaks. This one also asks in which order the wagons
can be visited at all between their times away, and is worth its seconds only where the gap counts.
"""

from __future__ import annotations

import random
import threading
from dataclasses import replace

from judging.rules.windows.bound import bound_of, by
from judging.rules.windows.bound_sets import LATEST, SETS_UP_TO, JudgeAlone, called_off
from judging.rules.windows.dispatch import file_order
from judging.rules.windows.problem import RotationProblem
from judging.rules.windows.search import finishes, improve
from judging.rules.windows.search_shop import shop_of

STEPS = 30_000_000  # for one question; about a second's worth
ROUNDS = 2_000  # tries to find a way by the minute asked for, which makes the question idle


def stronger_bound(
    problem: RotationProblem,
    *,
    limit: int = STEPS,
    most: int | None = None,
    until: float | None = None,
    stop: threading.Event | None = None,
) -> int:
    """Say what no rotation can be quicker than, each judge's way round the turn-ins counted.

    Parameters
    ----------
    problem
        The visits and all rules; fair ends do not count.
    limit
        Steps from visit to visit looked at for each question put; the bound depends on it but on
        no clock.
    most
        A rotation of so many minutes is known, so nothing above is asked for [min].
    until
        Where given, no question is put after this reading of the monotonic clock [s]; one that is
        not answered by then is given up.
    stop
        Set it from another thread to end the same way.

    Returns
    -------
    int
        At least `bound_of`, and never more than the shortest rotation takes [min].

    Raises
    ------
    ValueError
        When a judge has no time for a break.

    Notes
    -----
    The question is whether a judge alone can be done by minute T; while the answer is no, T + 1
    is asked. Over every set of visits already had, the last of them, and the breaks taken, only the
    soonest end counts: whoever is ready sooner may wait. What cannot be done by T any more is
    dropped: minutes and breaks left, and the shortest way past the stops left. Judges are asked
    by their simple bounds, the largest first; not those for whom a way by T is at hand, nor those
    of more than 20 visits, or of so many that the tables alone would use up the limit. Of several
    breaks of one judge the two longest count; two in one gap may overlap here, which makes the
    bound no higher.

    Source
    ------
    Held and Karp (1962), J. SIAM 10:196-210: sets instead of orders; Dumas, Desrosiers, Gelinas
    and Solomon (1995), Operations Research 43:367-371: the same with times (both from memory).

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> visits = tuple(VisitNeed(w, "gear", 10) for w in (1, 2, 3))
    >>> line = ((0, 1, 9, 9), (1, 0, 9, 9), (9, 9, 0, 9), (9, 9, 9, 0))
    >>> problem = RotationProblem(visits, line, {1: 1, 2: 2, 3: 3}, crew_away={1: ((5, 35),)})
    >>> bound_of(problem).minutes, stronger_bound(problem)
    (49, 57)
    """
    simple = best = bound_of(problem).minutes
    judges = by(problem.visits, lambda need: need.judge)
    alone = [replace(problem, visits=tuple(own), fair_ends=False) for own in judges.values()]
    for part in sorted(alone, key=lambda part: -bound_of(part).minutes):
        if most is not None and best >= most:
            break
        n = len(part.visits)
        if n <= SETS_UP_TO and n << n <= limit and not _way_at_hand(part, best):
            best = _raised(part, best, limit, most, until, stop)
    return max(simple, best)


def _raised(
    part: RotationProblem,
    best: int,
    limit: int,
    most: int | None,
    until: float | None,
    stop: threading.Event | None,
) -> int:
    """Raise the bound while one judge cannot be done by it."""
    if called_off(until, stop):
        return best
    judge = JudgeAlone(part)
    while (most is None or best < most) and best < LATEST:
        if judge.done_by(best, limit=limit, until=until, stop=stop) is not False:
            break
        best += 1
    return best


def _way_at_hand(part: RotationProblem, latest: int) -> bool:
    shop, _, _ = shop_of(part)
    order = [*file_order(shop), *range(len(shop.minutes), len(shop.minutes) + len(shop.rest_of))]
    better = improve(shop, order, latest, random.Random(0), rounds=ROUNDS, warmth=1.0)
    return max(finishes(shop, better)) <= latest
