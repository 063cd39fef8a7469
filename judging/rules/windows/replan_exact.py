"""The re-plan as a search: overrun and visits moved first, minutes moved after."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from judging.rules.windows.exact import ExactModel, build, search
from judging.rules.windows.pushing import Pushed
from judging.rules.windows.replan_case import Case, Key
from judging.rules.windows.replan_result import NOTICED, Replan, result


@dataclass
class Goal:
    """A re-plan in the solver's words: the announced times, and what is to be made small."""

    case: Case
    base: Pushed
    best: Replan
    horizon: int
    cap: int
    fixed: frozenset[Key] = frozenset()

    def __post_init__(self) -> None:
        problem = self.best.problem
        assert problem is not None
        exact: ExactModel = build(problem, horizon=max(self.horizon, self._last()), lower_bound=1)
        model, case = exact.model, self.case
        self.exact = exact
        self.shift: dict[Key, cp_model.IntVar] = {}
        self.noticed: dict[Key, cp_model.IntVar] = {}
        pushed_at = {(v.entry, v.judge): v for v in self.base.visits}
        for stand in case.standing_visits:
            model.add(exact.start[stand.entry, stand.judge] == 0)
        for key, at in pushed_at.items():
            start, was = exact.start[key], case.was.get(key)
            if was is not None and (key in self.fixed or case.holds(at)):
                model.add(start == was)
                continue
            model.add(start >= case.soonest(key))
            if was is None:
                continue
            shift = self.shift[key] = model.new_int_var(0, self.cap, "shift")
            noticed = self.noticed[key] = model.new_bool_var("noticed")
            model.add(shift >= start - was)
            model.add(shift >= was - start)
            model.add(shift <= NOTICED).only_enforce_if(~noticed)
        self.over = model.new_int_var(0, max(0, exact.horizon - case.window), "over")
        floor = max(0, case.last_known_end - case.window)
        model.add(self.over >= floor)
        for key in pushed_at:
            model.add(self.over >= exact.end[key] - case.window)

    def _last(self) -> int:
        return max((visit.end for visit in self.case.standing_visits), default=0)

    def hint(self, plan: Replan) -> None:
        """Begin with a plan, unless it is not one of this model's.

        The solver ends the whole process ("heuristics.fixed_search") when a hint cannot be
        followed and its workers take turns.
        """
        at_home = {key: at for key, at in self.case.was.items() if key in self.fixed}
        if any(at_home.get((v.entry, v.judge), v.start) != v.start for v in plan.rotation.visits):
            return
        self.exact.hint(plan.full)
        at = {(v.entry, v.judge): v.start for v in plan.rotation.visits}
        for key, shift in self.shift.items():
            minutes = abs(at[key] - self.case.was[key])
            self.exact.model.add_hint(shift, minutes)
            self.exact.model.add_hint(self.noticed[key], minutes > NOTICED)
        self.exact.model.add_hint(self.over, plan.overrun)


def solved(
    goal: Goal,
    until: float,
    deterministic: float | None,
    seed: int,
    stop: threading.Event | None,
) -> Replan:
    """Search for overrun and visits first, then, as good in these, for minutes."""
    model, best = goal.exact.model, goal.best
    weight = len(goal.noticed) + 1
    visits = cp_model.LinearExpr.sum(list(goal.noticed.values()))
    proven = True
    for step, expression in enumerate(
        (weight * goal.over + visits, cp_model.LinearExpr.sum(list(goal.shift.values())))
    ):
        left = until - time.monotonic()
        if left <= 0.05 or (stop is not None and stop.is_set()):
            return replace(best, proven=False)
        if step == 1:
            model.add(goal.over <= best.overrun)
            model.add(visits <= best.visits_moved)
        model.minimize(expression)
        goal.hint(best)
        share = 0.8 if step == 0 else 1.0
        found = search(
            goal.exact, limit_s=left * share, deterministic=deterministic, seed=seed, stop=stop
        )
        if found.values:
            plan = _from_starts(goal, found.values)
            if plan.score < best.score and not plan.faults():
                best = plan
        reached = weight * best.overrun + best.visits_moved if step == 0 else best.minutes_moved
        # Moves of visits that are held cannot be chosen, and are in no goal.
        held = best.minutes_moved - sum(
            each.minutes for each in best.moved if (each.entry, each.judge) in goal.shift
        )
        reached -= held if step == 1 else 0
        proven = proven and found.bound is not None and found.bound >= reached
    return replace(best, proven=proven)


def _from_starts(goal: Goal, starts: dict[Key, int]) -> Replan:
    visits = [
        replace(visit, start=at, end=at + visit.end - visit.start)
        for visit in goal.base.visits
        for at in [starts[visit.entry, visit.judge]]
    ]
    return result(goal.case, goal.base, visits, "exact")
