"""Days under way for the tests and measurements of re-planning: grounds, plans, mishaps."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from judging.rules.windows.problem import Rotation, RotationProblem, VisitNeed
from judging.rules.windows.replan_case import Case

SECTION_MINUTES = (8, 6, 7, 9, 6, 5)


def ground(wagons: int, judges: int, seed: int) -> RotationProblem:
    """Return rows of five spots about 40 m apart; minutes differ by wagon, crews reset for one."""
    rng = random.Random(seed)
    places = [
        (0.0, 0.0),
        *(
            ((1 + w % 5) * 40 + rng.uniform(-8, 8), (w // 5) * 40 + rng.uniform(-8, 8))
            for w in range(wagons)
        ),
    ]
    walk = tuple(
        tuple(
            0 if a is b else max(1, round((abs(a[0] - b[0]) + abs(a[1] - b[1])) / 60))
            for b in places
        )
        for a in places
    )
    visits = tuple(
        VisitNeed(w, f"judge {j}", max(3, SECTION_MINUTES[j] + rng.randint(-2, 3)))
        for w in range(1, wagons + 1)
        for j in range(judges)
    )
    return RotationProblem(visits, walk, {w: w for w in range(1, wagons + 1)}, 1)


def under_way(problem: RotationProblem, plan: Rotation, now: int, **changes: Any) -> Case:
    """Return a day that has gone by the plan so far."""
    return Case(
        problem,
        plan,
        now,
        done=tuple(visit for visit in plan.visits if visit.end <= now),
        under_way=tuple(visit for visit in plan.visits if visit.start <= now < visit.end),
        **changes,
    )


def judge_loses(
    problem: RotationProblem, plan: Rotation, now: int, judge: str, minutes: int, **changes: Any
) -> Case:
    """Return the day when a judge is kept where he is for so many minutes more."""
    begun = [visit for visit in plan.visits if visit.judge == judge and visit.start <= now]
    last = max(begun, key=lambda visit: visit.start)
    ready = {judge: (max(last.end, now) + minutes, problem.spot[last.entry])}
    return under_way(problem, plan, now, judge_ready=ready, **changes)


def crew_leaves(
    problem: RotationProblem, plan: Rotation, now: int, entry: int, span: tuple[int, int]
) -> Case:
    """Return the day when a crew will be away."""
    away: Mapping[Any, Any] = {**problem.crew_away, entry: (span,)}
    return under_way(replace(problem, crew_away=away), plan, now)


def slack_judge(plan: Rotation, now: int) -> str:
    """Return the judge with the least work left, who can catch up."""
    left: dict[Any, int] = {}
    for visit in plan.visits:
        left[visit.judge] = left.get(visit.judge, 0) + (visit.end - visit.start) * (
            visit.start >= now
        )
    return str(min(left, key=lambda judge: left[judge]))
