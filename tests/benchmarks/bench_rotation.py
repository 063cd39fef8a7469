"""Rotations of a window: how far above the bound, and how long it takes to draw one."""

from __future__ import annotations

import random
from collections.abc import Iterator
from statistics import median

from judging.rules.windows.problem import VisitNeed
from judging.rules.windows.rotation import DispatchSolver, Rotation, RotationProblem, validate
from tests.benchmarks.measure import Bound, Row, clocked

NAME = "rotation"
SIZES = ((15, 5), (20, 5))
SEEDS = 5
AT_MOST_MS = 5000.0
AT_MOST_GAP = 0


def ground(wagons: int, judges: int, seed: int) -> RotationProblem:
    """Return rows of five spots, 1 to 3 minutes apart, and visits of 9 to 14 minutes."""
    rng = random.Random(seed)
    places = [(0, 0), *((1 + w % 5, w // 5) for w in range(wagons))]
    walk = tuple(
        tuple(
            0 if a == b else max(1, (abs(a[0] - b[0]) + abs(a[1] - b[1]) + 1) // 2) for b in places
        )
        for a in places
    )
    visits = (
        VisitNeed(w, j, rng.randint(9, 14)) for w in range(1, wagons + 1) for j in range(judges)
    )
    return RotationProblem(tuple(visits), walk, {w: w for w in range(1, wagons + 1)}, 1)


def rows() -> Iterator[Row]:
    """Measure both sizes on several grounds."""
    for wagons, judges in SIZES:
        times, gaps = [], []
        for seed in range(SEEDS):
            problem = ground(wagons, judges, seed)
            drawn: list[Rotation] = []
            times.append(
                clocked(lambda: drawn.append(DispatchSolver().solve(problem)))  # noqa: B023
            )
            assert validate(problem, drawn[0]) == ()
            gaps.append(drawn[0].gap_minutes)
        yield Row(
            NAME,
            f"draw a rotation of {wagons} wagons x {judges} judges",
            median(times),
            bounds=(
                Bound("ms slowest", max(times), AT_MOST_MS),
                Bound("min gap", max(gaps), AT_MOST_GAP),
            ),
            note=f"gaps on {SEEDS} grounds of rows side by side [min]: {', '.join(map(str, gaps))}",
        )
