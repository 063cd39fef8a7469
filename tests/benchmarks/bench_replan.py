"""Re-planning a running day beside pushing everybody later: visits moved, ends, seconds.

The seconds of the re-plan are by the clock on the wall, because that is what its limit means.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

from judging.rules.windows.problem import Rotation, RotationProblem
from judging.rules.windows.replan import Replan, push, replan
from judging.rules.windows.replan_case import Case
from judging.rules.windows.rotation import DispatchSolver
from tests.benchmarks.measure import Bound, Row, alone
from tests.rules.windows.running_day import crew_leaves, ground, judge_loses, slack_judge

NAME = "replan"
SIZES = ((15, 5, 2.0), (20, 5, 2.0), (40, 6, 10.0))
AT_MOST_SHARE = 0.25
# The busiest judge cannot catch up, so that more must move than in the other mishaps.
AT_MOST_BUSIEST = 1.0
# To hold the window, which the push overruns by 29 minutes, 13 of its 29 visits is the proven
# least while no visit may move by more than an hour.
AT_MOST = {"20 x 5: a crew is away 30 min": 0.5}


def rows() -> Iterator[Row]:
    """Measure four mishaps at three sizes."""
    for wagons, judges, limit_s in SIZES:
        problem = ground(wagons, judges, 3)
        plan = DispatchSolver().solve(problem)
        for mishap, case, most in mishaps(problem, plan):
            work = f"{wagons} x {judges}: {mishap}"
            yield measured(work, case, limit_s, AT_MOST.get(work, most))


def mishaps(problem: RotationProblem, plan: Rotation) -> Iterator[tuple[str, Case, float]]:
    """What goes wrong a third into the day."""
    now = plan.makespan // 3
    slack = slack_judge(plan, now)
    yield "a judge loses 12 min", judge_loses(problem, plan, now, slack, 12), AT_MOST_SHARE
    wide = {"window_minutes": plan.makespan + 15}
    late = judge_loses(problem, plan, now, slack, 25, **wide)
    yield "a judge loses 25 min, window 15 longer", late, AT_MOST_SHARE
    entry = next(v.entry for v in plan.visits if v.start > now + 12)
    away = crew_leaves(problem, plan, now, entry, (now + 12, now + 42))  # type: ignore[arg-type]
    yield "a crew is away 30 min", away, AT_MOST_SHARE
    busiest = judge_loses(problem, plan, now, "judge 3", 12)
    yield "the busiest judge loses 12 min", busiest, AT_MOST_BUSIEST


def measured(work: str, case: Case, limit_s: float, most: float) -> Row:
    """Push and re-plan one day."""
    plain = push(case)
    begun = time.monotonic()
    found = replan(case, limit_s=limit_s)
    taken = time.monotonic() - begun
    assert plain.faults() == found.faults() == ()
    assert found.score <= plain.score
    share = found.visits_moved / max(1, plain.visits_moved)
    return Row(
        NAME,
        work,
        taken * 1000,
        floor_ms=alone(lambda: push(case), repeats=5),
        bounds=(Bound("moved of the push", share, most), Bound("s", taken, limit_s + 1.5)),
        note=f"push {told(plain)}; re-plan {told(found)}, farthest {found.largest_shift} min"
        f"{', proven' if found.proven else ''}",
    )


def told(plan: Replan) -> str:
    """Visits and wagons moved, end, overrun."""
    over = f" ({plan.overrun} over)" if plan.overrun else ""
    return f"moves {plan.visits_moved}/{plan.wagons_moved}, ends {plan.end}{over}"
