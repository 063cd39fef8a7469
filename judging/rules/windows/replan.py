"""New times for a running day: nobody is moved without need, and the window holds if it can."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace

from judging.rules.windows.problem import Visit, VisitNeed
from judging.rules.windows.pushing import clashing, mended, pushed
from judging.rules.windows.replan_case import Case, Key
from judging.rules.windows.replan_result import FARTHEST, Moved, Replan, result

__all__ = ["Case", "Moved", "Replan", "push", "replan"]

CIRCLES = 0.4  # share of the time for searches in which only few may move


def push(case: Case) -> Replan:
    """Keep everybody's order and begin later where one must.

    Parameters
    ----------
    case
        The running day.

    Returns
    -------
    Replan
        At once. A break that cannot be held in its span is rested as soon as can be, whole.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> from judging.rules.windows.problem import Rotation, RotationProblem, Visit
    >>> problem = RotationProblem(
    ...     tuple(VisitNeed(w, "gear", 10) for w in (1, 2)), ((0, 0, 0),) * 3, {1: 1, 2: 2}
    ... )
    >>> plan = Rotation((Visit(1, "gear", 20, 30), Visit(2, "gear", 30, 40)), 40, 20, False, "")
    >>> late = push(Case(problem, plan, now=5, judge_ready={"gear": (28, 0)}))
    >>> [(each.entry, each.was, each.now) for each in late.moved], late.overrun
    ([(1, 20, 28), (2, 30, 38)], 8)
    """
    return result(case, pushed(case), None, "push")


def replan(
    case: Case,
    *,
    limit_s: float = 2.0,
    farthest: int = FARTHEST,
    deterministic: float | None = None,
    seed: int = 0,
    stop: threading.Event | None = None,
) -> Replan:
    """Find new times that move few people, and keep the window where that is possible.

    Parameters
    ----------
    case
        The running day.
    limit_s
        About as long at most, by the wall clock [s].
    farthest
        No visit is moved farther, unless pushing everybody later does so too [min].
    deterministic, seed, stop
        As in `exact.search`.

    Returns
    -------
    Replan
        Never worse than `push`: first the overrun counts, then the visits moved by more than
        five minutes, then minutes moved. With ``limit_s`` 0 what is found without a solver.

    Notes
    -----
    Begins with the better of `push` and of leaving all others where they were, which is then a
    hint for the constraint solver: overrun and visits first, minutes after. Times are kept in
    whole minutes. Where ``farthest`` rules out the push, its own farthest move counts instead.

    Source
    ------
    Common practice, no source: the goal and its order.

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> from judging.rules.windows.problem import Rotation, RotationProblem, Visit
    >>> problem = RotationProblem(
    ...     tuple(VisitNeed(w, "gear", 10) for w in (1, 2, 3)), ((0,) * 4,) * 4, {1: 1, 2: 2, 3: 3}
    ... )
    >>> visits = tuple(Visit(w, "gear", s, s + 10) for w, s in ((1, 20), (2, 30), (3, 40)))
    >>> plan = Rotation(visits, 50, 30, False, "by hand")
    >>> found = replan(Case(problem, plan, 5, 65, judge_ready={"gear": (28, 0)}))
    >>> [(each.entry, each.was, each.now) for each in found.moved], found.proven
    ([(1, 20, 50)], True)
    """
    until = time.monotonic() + limit_s
    base = pushed(case)
    best = plain = result(case, base, None, "push")
    if plain.problem is None:
        return replace(plain, proven=True)
    horizon = max(case.window, plain.end)
    cap = max(farthest, plain.largest_shift)
    kept, moving = clashing(case, base, horizon)
    light = mended(case, base, kept, moving, horizon)
    if light is not None:
        found = result(case, base, light, "mended")
        if found.score < best.score and found.largest_shift <= cap and not found.faults():
            best = found
    if best.score == (0, 0, 0):
        return replace(best, proven=True)
    # Only who searches pays for loading the solver; a page that pushes does not.
    from judging.rules.windows.replan_exact import Goal, solved  # noqa: PLC0415

    for fixed in _circles(kept, moving):
        few = Goal(case, base, best, horizon, cap, fixed)
        found = solved(few, until - (1 - CIRCLES) * limit_s, deterministic, seed, stop)
        if found.score < best.score:
            best = found
            break
    return solved(Goal(case, base, best, horizon, cap), until, deterministic, seed, stop)


def _circles(kept: Sequence[Visit], moving: Sequence[VisitNeed]) -> Iterator[frozenset[Key]]:
    """Visits to be left where they were: of judges and wagons of whom nobody must move.

    First of all such judges, then of all but one: a small search finds quickly what a large
    one may not.
    """
    judges = {need.judge for need in moving}
    entries = {need.entry for need in moving}
    others = dict.fromkeys(visit.judge for visit in kept if visit.judge not in judges)
    for free in (None, *others):
        yield frozenset(
            (visit.entry, visit.judge)
            for visit in kept
            if visit.judge not in judges and visit.entry not in entries and visit.judge != free
        )
