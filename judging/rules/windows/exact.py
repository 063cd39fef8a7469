"""Shorten a rotation by constraint programming, and learn how much shorter none can be.

Needs CP-SAT of OR-Tools. The search runs in a thread of its own, so that whoever waits for it can
call it off, hear of better rotations, and catch what their own code raises.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from ortools.sat.python import cp_model

from judging.rules.windows.bound_judge import stronger_bound
from judging.rules.windows.exact_day import JudgeDay
from judging.rules.windows.exact_model import ExactModel, Key, build
from judging.rules.windows.problem import Rotation, RotationProblem
from judging.rules.windows.search_lead import led
from judging.rules.windows.search_long import annealed

__all__ = ["ExactModel", "JudgeDay", "Search", "build", "improve", "search"]

WORKERS = 2
LOOK_EVERY_S = 0.02  # how often the waiting thread looks for news and for the call to stop
# Deterministic seconds a second of wall time is worth on a quick idle machine, at the least.
STEADY_SHARE = 0.5
# Of the time: until when the bound may be raised, and until when each rule of thumb goes on.
BOUND_SHARE, LEAD_UNTIL, ANNEAL_UNTIL = 0.3, 0.5, 0.75
# Of the work: what the busiest judge's round may take, and annealing afterwards.
LEAD_SHARE, ANNEAL_SHARE = 0.5, 0.65
# Steps of the bound's questions, and tries times visits, in a deterministic second.
STEPS_A_SECOND, TRIES_A_SECOND = 10_000_000, 3_000_000
TRIES_A_VISIT = 2_000  # more help little; in small problems the solver makes better use of the time


@dataclass
class Search:
    """What a search came to.

    Parameters
    ----------
    status
        As the solver names it; ``"UNKNOWN"`` where it never began.
    values
        Value of each variable asked for, empty where nothing was found.
    bound
        No solution has a lower goal, as far as the solver may be trusted; None where it may not.
    stopped
        Whether it was called off.
    """

    status: str = "UNKNOWN"
    values: dict[Key, int] = field(default_factory=dict)
    bound: int | None = None
    stopped: bool = False


class _Heard(cp_model.CpSolverSolutionCallback):
    """Keeps the newest solution; does nothing that could fail inside the solver."""

    def __init__(self, start: dict[Key, cp_model.IntVar]) -> None:
        super().__init__()
        self._start = start
        self.newest: dict[Key, int] = {}

    def on_solution_callback(self) -> None:
        self.newest = {key: self.value(variable) for key, variable in self._start.items()}


def search(
    exact: ExactModel,
    *,
    limit_s: float,
    deterministic: float | None = None,
    seed: int = 0,
    on_better: Callable[[dict[Key, int]], None] | None = None,
    stop: threading.Event | None = None,
) -> Search:
    """Let the solver work on a model that has its goal, and stay able to stop it.

    Parameters
    ----------
    exact
        From `build`, with a goal to be made small.
    limit_s
        No longer than this by the wall clock [s].
    deterministic
        The solver's own measure of work; where it ends the search, the same model and seed give
        the same answer. A share of ``limit_s`` unless given.
    seed
        Chance.
    on_better
        Told the starts of each better solution, in the calling thread; some may be skipped.
    stop
        Set it from another thread to end the search.

    Returns
    -------
    Search
        Starts of all visits, and a bound of the goal.

    Notes
    -----
    Two workers take turns by the solver's own measure, so that who was quicker never matters.
    The call to stop is repeated until the search has ended, because one that comes before the
    solver has begun is lost. A finished proof is not believed after a call to stop.

    Source
    ------
    Common practice, no source: OR-Tools issues 2310, 3621 and 4430 (from memory).

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> problem = RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1})
    >>> exact = build(problem, horizon=9)
    >>> exact.model.minimize(exact.makespan)
    >>> search(exact, limit_s=5).values
    {(1, 'gear'): 2}
    """
    if stop is not None and stop.is_set():
        return Search(stopped=True)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = WORKERS
    solver.parameters.interleave_search = True
    solver.parameters.interleave_batch_size = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_time_in_seconds = limit_s
    solver.parameters.max_deterministic_time = deterministic or limit_s * STEADY_SHARE
    heard = _Heard(exact.start)
    ended: list[cp_model.CpSolverStatus | BaseException] = []
    worker = threading.Thread(target=_solve, args=(solver, exact, heard, ended), daemon=True)
    worker.start()
    told = heard.newest
    stopped = False
    latest = time.monotonic() + limit_s + 1
    try:
        while worker.is_alive():
            worker.join(LOOK_EVERY_S)
            newest = heard.newest
            if on_better is not None and newest is not told:
                told = newest
                on_better(newest)
            stopped = stopped or (stop is not None and stop.is_set())
            if stopped or time.monotonic() > latest:
                solver.stop_search()
    finally:
        while worker.is_alive():
            solver.stop_search()
            worker.join(LOOK_EVERY_S)
    if isinstance(ended[0], BaseException):
        raise ended[0]
    if on_better is not None and heard.newest is not told:
        on_better(heard.newest)
    found = Search(solver.status_name(ended[0]), heard.newest, None, stopped)
    if ended[0] == cp_model.FEASIBLE or (ended[0] == cp_model.OPTIMAL and not stopped):
        found.bound = math.ceil(solver.best_objective_bound - 1e-6)
    return found


def _solve(
    solver: cp_model.CpSolver,
    exact: ExactModel,
    heard: _Heard,
    ended: list[cp_model.CpSolverStatus | BaseException],
) -> None:
    try:
        ended.append(solver.solve(exact.model, heard))
    except BaseException as error:  # raised again by the thread that waits
        ended.append(error)


def improve(
    problem: RotationProblem,
    rotation: Rotation,
    *,
    limit_s: float,
    deterministic: float | None = None,
    seed: int = 0,
    on_better: Callable[[Rotation], None] | None = None,
    stop: threading.Event | None = None,
) -> Rotation:
    """Shorten a rotation, or prove that it is a shortest one.

    Parameters
    ----------
    problem
        The visits and all rules.
    rotation
        A clean rotation of them, to begin with.
    limit_s
        No longer than this by the wall clock [s].
    deterministic, seed, stop
        As in `search`.
    on_better
        Told each shorter rotation, in the calling thread; some may be skipped.

    Returns
    -------
    Rotation
        Never longer than the one given, with the higher of both lower bounds.

    Raises
    ------
    ValueError
        When a judge has no time for a break.

    Notes
    -----
    First `stronger_bound`. Where people are away or rest, the busiest judge's round is improved and
    the others fitted around it, and then all is annealed, for up to three quarters of the time,
    since a cold model of 75 visits and more finds nothing shorter in ten seconds; then the
    constraint solver, from the best rotation so far. Each step is measured by its own
    count of work, so the answer depends on a clock only where the wall clock ends a step.

    Source
    ------
    As `stronger_bound`, `search_lead.led`, `search_long.annealed` and `search`.

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> from judging.rules.windows.problem import Visit
    >>> visits = tuple(VisitNeed(w, j, 5) for w in (1, 2) for j in ("gear", "fire"))
    >>> problem = RotationProblem(visits, ((0, 0, 0),) * 3, {1: 1, 2: 2})
    >>> slow = [(1, "gear", 0), (2, "gear", 5), (1, "fire", 10), (2, "fire", 15)]
    >>> given = Rotation(tuple(Visit(w, j, s, s + 5) for w, j, s in slow), 20, 10, False, "by hand")
    >>> better = improve(problem, given, limit_s=10)
    >>> better.makespan, better.proven
    (10, True)
    """
    began = time.monotonic()
    if limit_s <= 0:
        return rotation
    work = deterministic or limit_s * STEADY_SHARE
    known = stronger_bound(
        problem,
        limit=int(work * STEPS_A_SECOND),
        most=rotation.makespan,
        until=began + limit_s * BOUND_SHARE,
        stop=stop,
    )
    known = max(rotation.lower_bound, known)
    best = replace(rotation, lower_bound=known, proven=known == rotation.makespan)
    visits = len(problem.visits)
    ways = ((led, LEAD_SHARE, LEAD_UNTIL), (annealed, ANNEAL_SHARE, ANNEAL_UNTIL))
    for shorten, share, until in ways if _people_away(problem) else ():
        if best.proven:
            break
        best = shorten(
            problem,
            best,
            bound=known,
            rounds=min(int(work * share * TRIES_A_SECOND / visits), TRIES_A_VISIT * visits),
            seed=seed,
            on_better=on_better,
            until=began + limit_s * until,
            stop=stop,
        )
    left = began + limit_s - time.monotonic()
    if best.proven or left <= 0:
        return best
    return _solved(problem, best, left, deterministic, seed, on_better, stop)


def _people_away(problem: RotationProblem) -> bool:
    """Whether rules of thumb go on paying: elsewhere the solver is the quicker way."""
    lists = (*problem.judge_away.values(), *problem.crew_away.values(), *problem.breaks.values())
    return any(lists)


def _solved(
    problem: RotationProblem,
    best: Rotation,
    limit_s: float,
    deterministic: float | None,
    seed: int,
    on_better: Callable[[Rotation], None] | None,
    stop: threading.Event | None,
) -> Rotation:
    known = best.lower_bound
    exact = build(problem, horizon=best.makespan, lower_bound=known)
    exact.model.minimize(exact.makespan)
    exact.hint(best)

    def tell(starts: dict[Key, int]) -> None:
        found = exact.rotation(starts, known, "exact")
        if on_better is not None and found.makespan < best.makespan:
            on_better(found)

    found = search(
        exact, limit_s=limit_s, deterministic=deterministic, seed=seed, on_better=tell, stop=stop
    )
    bound = max(known, found.bound or 0)
    if found.values:
        shorter = exact.rotation(found.values, bound, "exact")
        if shorter.makespan < best.makespan:
            return shorter
    bound = min(bound, best.makespan)
    return replace(best, lower_bound=bound, proven=bound == best.makespan)
