"""The live forecast: its interval covers what it promises, the naive one does not."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist, fmean, stdev
from typing import Any

import numpy as np
import pytest

from judging.rules.windows.forecast import Prior, forecast, learn, rotation_forecast
from judging.rules.windows.problem import Rotation, RotationProblem, Visit, VisitNeed
from judging.rules.windows.rotation import DispatchSolver
from tests.rules.windows.running_day import ground

SHOWS = 1_500
WAGONS = 15
DONE = (3, 5, 8, 12)
# Coverage of 0.8 in 1500 shows has a standard error of 0.010.
Draw = Callable[[np.random.Generator], np.ndarray]


def as_assumed(rng: np.random.Generator) -> np.ndarray:
    sigma = math.sqrt(math.log1p(0.25**2))
    pace = rng.normal(0, 0.12)
    return 8 * np.exp(pace - sigma**2 / 2 + rng.normal(0, sigma, WAGONS))


def wider(rng: np.random.Generator) -> np.ndarray:
    """Visits spread by a half more than past shows had it."""
    sigma = math.sqrt(math.log1p(0.375**2))
    return 8 * np.exp(rng.normal(0, 0.12) - sigma**2 / 2 + rng.normal(0, sigma, WAGONS))


def gamma(rng: np.random.Generator) -> np.ndarray:
    """Not lognormal, a slower day, and a plan a tenth too short."""
    return rng.gamma(10, 0.88 * math.exp(rng.normal(0, 0.15)), WAGONS)


def tiring(rng: np.random.Generator) -> np.ndarray:
    """Judges get quicker by a sixth over the day."""
    return as_assumed(rng) * np.linspace(1.08, 0.92, WAGONS)


def covered(draw: Draw, done: int) -> tuple[float, float]:
    """Share of shows whose end lies in the interval of the forecast, and of the naive one."""
    rng = np.random.default_rng(2026)
    ours = naive = 0
    for _ in range(SHOWS):
        visits = draw(rng)
        end, so_far = visits.sum(), visits[:done]
        found = forecast([8] * WAGONS, list(so_far))
        ours += bool(found.low <= end <= found.high)
        left = WAGONS - done
        half = NormalDist().inv_cdf(0.9) * stdev(so_far) * math.sqrt(left)
        naive += bool(abs(so_far.sum() + left * fmean(so_far) - end) <= half)
    return ours / SHOWS, naive / SHOWS


@pytest.mark.parametrize("done", DONE)
def test_four_of_five_days_end_in_the_interval(done: int) -> None:
    ours, naive = covered(as_assumed, done)
    assert 0.75 <= ours <= 0.85
    assert naive < ours - 0.05
    assert done != 3 or naive < 0.45


@pytest.mark.parametrize("draw", [wider, gamma, tiring])
@pytest.mark.parametrize("done", DONE)
def test_wrong_assumptions_cost_little(draw: Draw, done: int) -> None:
    assert covered(draw, done)[0] >= 0.70


def test_pace_and_spread_are_learned() -> None:
    nothing = learn([], [])
    assert nothing.pace == 0
    assert nothing.visit_cv == pytest.approx(0.25)
    assert nothing.pace_sd == 0.12
    slow = learn([8] * 40, [12, 11, 13, 12] * 10)
    assert math.exp(slow.pace) == pytest.approx(1.5, abs=0.04)
    assert slow.pace_sd < 0.05
    assert slow.visit_cv < 0.16
    assert learn([8] * 3, [12, 12, 12]).pace < slow.pace, "three visits say less than forty"
    exact = learn([8] * 3, [12, 12, 12], Prior(pace_sd=0))
    assert (exact.pace, exact.pace_sd) == (0, 0)
    trusted = learn([8] * 40, [4, 16] * 20, Prior(weight=1e9))
    assert trusted.visit_cv == pytest.approx(0.25, abs=1e-3)


def test_the_pace_needed_is_the_time_left_over_the_visits_left() -> None:
    found = forecast([8] * 15, [10, 9, 11], walk_left=24, now=36, window=165)
    assert found.pace_needed == (165 - 36 - 24) / 12
    assert found.visits_left == 12
    late = forecast([8] * 15, [10, 9, 11], walk_left=24, now=160, window=165)
    assert (late.pace_needed, late.chance) == (0, 0)
    assert forecast([8] * 15, [10]).pace_needed is None
    assert forecast([8] * 15, [10]).chance is None


def test_the_chance_and_the_interval_agree() -> None:
    plain = forecast([8] * 15, [10, 9, 11], walk_left=24, now=36)
    for window, chance in ((plain.low, 0.1), (plain.finish, 0.5), (plain.high, 0.9)):
        found = forecast([8] * 15, [10, 9, 11], walk_left=24, now=36, window=window)
        assert found.chance == pytest.approx(chance, abs=1e-9)


def test_the_end_of_a_day_that_is_done_is_known() -> None:
    found = forecast([8, 8], [9, 10], now=25, walk_left=2, window=30)
    assert (found.low, found.finish, found.high, found.chance) == (27, 27, 27, 1)
    assert found.pace_needed is None


@pytest.mark.parametrize(
    ("planned", "actual", "more", "sentence"),
    [
        ([8], [8, 8], {}, "2 visits are done of 1"),
        ([8, 8], [0], {}, "takes 0 minutes"),
        ([8, -1], [8], {}, "takes -1.0 minutes"),
        ([8, 8], [float("nan")], {}, "takes nan minutes"),
        ([8, 8], [8], {"walk_left": -1}, "walk left"),
        ([8, 8], [8], {"now": float("nan")}, "minute of the day"),
        ([8, 8], [8], {"inside": 1}, "share"),
    ],
)
def test_what_cannot_be_is_refused(planned: Any, actual: Any, more: Any, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        forecast(planned, actual, **more)
    with pytest.raises(ValueError, match="past shows"):
        Prior(visit_cv=0)
    for name, told in (("pace", "pace_sd"), ("visits", "visit_cv")):
        with pytest.raises(ValueError, match=f"the spread of the {name}"):
            Prior(**{told: -1.0})


# -- rotations -------------------------------------------------------------------------------


def test_a_rotation_is_forecast_by_its_latest_judge() -> None:
    """After a third of each day, four of five ends lie in the interval."""
    problem = ground(10, 4, 2)
    plan = DispatchSolver(rounds=3_000).solve(problem)
    rng = np.random.default_rng(11)
    now, inside, shows = plan.makespan / 3, 0, 150
    sigma = math.sqrt(math.log1p(0.25**2))
    for _ in range(shows):
        day: list[Any] = []
        judges: dict[Any, tuple[float, int]] = {}
        crews: dict[Any, float] = {}
        pace: dict[Any, float] = {f"judge {j}": rng.normal(0, 0.12) for j in range(4)}
        for visit in plan.visits:
            free, row = judges.get(visit.judge, (0.0, 0))
            spot = problem.spot[visit.entry]
            start = max(
                free + problem.walk[row][spot], crews.get(visit.entry, 0.0), float(visit.start)
            )
            length = (visit.end - visit.start) * math.exp(
                pace[visit.judge] - sigma**2 / 2 + rng.normal(0, sigma)
            )
            judges[visit.judge] = start + length, spot
            crews[visit.entry] = start + length + problem.crew_reset_minutes
            day.append((visit.entry, visit.judge, start, start + length))
        done = [Visit(*each) for each in day if each[3] <= now]
        begun = {(each[0], each[1]): each[2] for each in day if each[2] <= now < each[3]}
        found = rotation_forecast(
            problem, plan, now=now, done=done, under_way=begun, runs=600, seed=1
        )
        assert found.low <= found.finish <= found.high
        inside += found.low <= max(each[3] for each in day) <= found.high
    # 150 shows: a standard error of 0.033.
    assert 0.70 <= inside / shows <= 0.90


def small() -> tuple[RotationProblem, Rotation]:
    problem = RotationProblem(
        tuple(VisitNeed(w, j, 10) for w in (1, 2) for j in ("Cole", "Wynn")),
        ((0, 0, 0),) * 3,
        {1: 1, 2: 2},
    )
    visits = (
        Visit(1, "Cole", 0, 10),
        Visit(2, "Wynn", 0, 10),
        Visit(2, "Cole", 10, 20),
        Visit(1, "Wynn", 10, 20),
    )
    return problem, Rotation(visits, 20, 20, True, "by hand")


def test_what_is_known_of_a_rotation_counts() -> None:
    problem, plan = small()
    fresh = rotation_forecast(problem, plan, now=0)
    slow = rotation_forecast(
        problem, plan, now=16, done=[Visit(1, "Cole", 0, 16)], under_way={(2, "Wynn"): 0.0}
    )
    assert slow.finish > fresh.finish + 4
    assert slow.pace["Cole"] > 1.05
    assert slow.judges["Wynn"].finishes.min() > 16, "the visit under way is not over"
    assert fresh.visit_cv == pytest.approx(0.25)
    over = rotation_forecast(
        problem, plan, now=31, done=[*plan.visits[:3], Visit(1, "Wynn", 20, 31)]
    )
    assert (over.low, over.finish, over.high) == (31, 31, 31)
    assert (over.chance(30), over.chance(31)) == (0, 1)
    again = rotation_forecast(problem, plan, now=0)
    assert (again.days.finishes == fresh.days.finishes).all()


def test_a_rotation_must_make_sense() -> None:
    problem, plan = small()
    with pytest.raises(ValueError, match="before it begins"):
        rotation_forecast(problem, plan, now=5, done=[Visit(1, "Cole", 9, 3)])
    with pytest.raises(ValueError, match="no visit"):
        rotation_forecast(problem, Rotation((), 0, 0, True, ""), now=5)
