"""Rotations with people away and breaks: how far above the bound after a second, and later.

The bound is the higher of the stronger one and what the search has proved. Timed by the wall
clock, since what is promised is an answer in so many seconds. It takes some minutes.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Iterator
from dataclasses import replace
from statistics import fmean, median

from judging.rules.windows.dispatch import first_come
from judging.rules.windows.exact import improve
from judging.rules.windows.problem import Break, RotationProblem, VisitNeed
from judging.rules.windows.rotation import DispatchSolver, validate
from judging.rules.windows.search import finishes
from judging.rules.windows.search_shop import shop_of
from tests.benchmarks.measure import Bound, Row

NAME = "rotation_cases"
SEEDS = 3  # grounds 0, 1 and 2 of each case and size
# Minutes of each section, before chance.
SECTIONS = (8, 6, 7, 9, 6, 5)
CASES = (("B", False), ("D", False), ("D", True), ("E", False), ("E", True))
CASE_SIZES = ((10, 4), (15, 5), (20, 5), (40, 6))
# Per cent above the bound, mean over the grounds, after rules of thumb alone.
AT_MOST_QUICK = {"B": 0.0, "D": 1.0, "E": 2.0, "E wide": 5.0, "E 10": 8.0}
# The same after the seconds below.
AT_MOST_LONG = 1.0
LONG_S = {10: 10.0, 15: 10.0, 20: 10.0, 40: 30.0}


def ground(
    case: str, wagons: int, judges: int, *, seed: int, wide: bool = False
) -> RotationProblem:
    """Return a camp in rows: B equal minutes, D by wagon, E with turn-ins and a judges' break.

    Wagons about 40 m apart, or 120 m and put down carelessly; 60 m a minute, rounded up; the
    gate 50 m before the first. Two turn-ins of 15 minutes a crew, in three groups.
    """
    rng = random.Random(seed * 1000 + wagons)
    row, gap, askew = max(1, round(math.sqrt(2.5 * wagons))), 120 if wide else 40, 48 * wide
    places = [
        (0.0, -50.0),
        *(
            tuple(gap * each + rng.uniform(-askew, askew) for each in (w % row, w // row))
            for w in range(wagons)
        ),
    ]
    walk = tuple(
        tuple(0 if a == b else max(1, math.ceil(math.dist(a, b) / 60)) for b in places)
        for a in places
    )
    visits = tuple(
        VisitNeed(w, j, mean if case == "B" else max(3, round(rng.gauss(mean, 0.25 * mean))))
        for w in range(1, wagons + 1)
        for j, mean in enumerate(SECTIONS[:judges])
    )
    problem = RotationProblem(visits, walk, {w: w for w in range(1, wagons + 1)}, 1)
    if case != "E":
        return problem
    groups = {w: 10 * ((w - 1) % 3) for w in range(1, wagons + 1)}
    return replace(
        problem,
        crew_away={w: ((45 + g, 60 + g), (105 + g, 120 + g)) for w, g in groups.items()},
        breaks=dict.fromkeys(range(judges), (Break(20, 60, 120),)),
    )


def by_hand(problem: RotationProblem) -> int:
    """Length of a sheet of shifted rows, each judge moving on when free [min]."""
    shop, _, _ = shop_of(problem)
    rounds = []
    for judge in range(shop.n_judges):
        visits = shop.visits_of(judge)
        ahead = judge % len(visits)
        rounds.append(visits[ahead:] + visits[:ahead])
    return max(finishes(shop, first_come(shop, rounds)))


def rows() -> Iterator[Row]:
    """Measure every case at every size: rules of thumb alone, then with the exact search."""
    for case, wide in CASES:
        for wagons, judges in CASE_SIZES:
            grounds = [ground(case, wagons, judges, seed=seed, wide=wide) for seed in range(SEEDS)]
            seconds: list[float] = []
            quick, long, paper, raised = [], [], [], []
            for problem in grounds:
                began = time.perf_counter()
                rotation = DispatchSolver().solve(problem)
                seconds.append(time.perf_counter() - began)
                better = improve(problem, rotation, limit_s=LONG_S[wagons] - seconds[-1])
                assert validate(problem, rotation) == validate(problem, better) == ()
                bound = better.lower_bound
                quick.append(100 * (rotation.makespan / bound - 1))
                long.append(100 * (better.makespan / bound - 1))
                raised.append(bound - rotation.lower_bound)
                paper.append(100 * (by_hand(problem) / bound - 1))
            name = f"{case}{' wide' if wide else ''}"
            limit = AT_MOST_QUICK["E 10" if case == "E" and wagons == 10 else case]
            limit = AT_MOST_QUICK["E wide"] if name == "E wide" and wagons > 10 else limit
            each = ", ".join(f"{share:.1f}" for share in long)
            yield Row(
                NAME,
                f"case {name}, {wagons} wagons x {judges} judges, wall clock",
                1000 * median(seconds),
                bounds=(
                    Bound("% above bound, dispatch", fmean(quick), limit),
                    Bound(f"% after {LONG_S[wagons]:.0f} s", fmean(long), AT_MOST_LONG),
                ),
                note=f"grounds 0 to {SEEDS - 1}: {each} % after {LONG_S[wagons]:.0f} s; the bound "
                f"{fmean(raised):.1f} min above the simple one; "
                f"a sheet of shifted rows {fmean(paper):.0f} %",
            )
