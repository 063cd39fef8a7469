"""Risk: against simulation, formulas and hand sums; what makes no sense is refused."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.problem import Break, Rotation, RotationProblem, Visit, VisitNeed
from judging.rules.windows.risk import (
    fenton_wilkinson,
    fits_probability,
    lognormal_chance,
    quantile,
    rotation_finish,
    three_point,
)
from judging.rules.windows.rotation import DispatchSolver
from judging.rules.windows.simulate import played, rests_before
from tests.rules.windows.running_day import ground

RUNS = 200_000
WITHIN = 0.005  # of the exact sum; the simulation adds 4 standard errors of its own


def simulated(means: Any, cvs: Any, window: float, fixed: float, pace_sd: float) -> float:
    """Share of simulated panels that are done in time, drawn visit by visit."""
    rng = np.random.default_rng(5)
    total = np.zeros(RUNS)
    for mean, cv in zip(means, cvs, strict=True):
        sigma = math.sqrt(math.log(1 + cv * cv))
        total += rng.lognormal(math.log(mean) - sigma * sigma / 2, sigma, RUNS)
    total *= rng.lognormal(-pace_sd * pace_sd / 2, pace_sd, RUNS)
    return float((total + fixed <= window).mean())


@pytest.mark.parametrize(
    ("means", "cvs"),
    [
        ([8.0] * 15, [0.25] * 15),
        ([5.0, 9.0, 12.5, 7.0, 7.0], [0.3, 0.1, 0.5, 0.2, 0.0]),
        ([8.0] * 40, [0.01] * 40),
        ([3.0] * 4, [1.5] * 4),
        ([8.0, 400.0], [0.4, 0.02]),
        ([8.0] * 3, [0.0] * 3),
    ],
)
@pytest.mark.parametrize("pace_sd", [0.0, 0.03, 0.12, 0.7])
@pytest.mark.parametrize("share", [0.9, 1.0, 1.15])
def test_the_chance_is_that_of_simulated_days(
    means: list[float], cvs: list[float], pace_sd: float, share: float
) -> None:
    window = sum(means) * share + 31 + 0.013
    found = fits_probability(means, cvs, window, fixed=31, pace_sd=pace_sd)
    truth = simulated(means, cvs, window, 31, pace_sd)
    assert abs(found - truth) <= WITHIN + 4 * math.sqrt(truth * (1 - truth) / RUNS)


def test_independence_flatters() -> None:
    """Fifteen wagons of 8 minutes, 31 of walking, a window of 165."""
    alone = fits_probability([8] * 15, 0.25, 165, fixed=31)
    shared = fits_probability([8] * 15, 0.25, 165, fixed=31, pace_sd=0.12)
    assert (round(alone, 2), round(shared, 2)) == (0.96, 0.81)


def test_a_single_visit_is_the_lognormal_itself() -> None:
    sigma = math.sqrt(math.log(1.16))
    for window in (4.0, 8.0, 15.0):
        exact = lognormal_chance(window, math.log(8) - sigma**2 / 2, sigma)
        assert fits_probability([8], 0.4, window) == pytest.approx(exact, abs=2e-4)
        # A visit and a pace multiply to another lognormal.
        both = math.hypot(sigma, 0.2)
        exact = lognormal_chance(window, math.log(8) - both**2 / 2, both)
        assert fits_probability([8], 0.4, window, pace_sd=0.2) == pytest.approx(exact, abs=1e-3)


def test_what_is_certain() -> None:
    assert fits_probability([8] * 3, 0, 24) == 1
    assert fits_probability([8] * 3, 0, 23.9) == 0
    assert fits_probability([8] * 3, [0, 0, 0], 25, fixed=1) == 1
    assert fits_probability([8] * 3, 0.2, 0) == 0
    assert fits_probability([8] * 3, 0.2, -5) == 0
    assert fits_probability([8] * 3, 0.2, 10_000) == pytest.approx(1, abs=1e-6)
    assert fits_probability([0, 0], 0.2, 0) == 1
    assert fits_probability([8], 0.0, 8, pace_sd=0.1) == pytest.approx(0.52, abs=0.005)


def test_without_a_visit_only_the_fixed_minutes_count() -> None:
    assert fits_probability([], 0.3, 0) == 1
    assert fits_probability([], [], 10, fixed=10) == 1
    assert fits_probability([], 0.3, 10, fixed=10.5, pace_sd=0.1) == 0
    assert fenton_wilkinson([], 0.3, 10, fixed=10.5) == 0
    assert quantile([], 0.3, 0.9, fixed=12) == pytest.approx(12, abs=1e-3)


NAN = float("nan")


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (([-1], 0.2, 10), "a visit is -1"),
        (([NAN], 0.2, 10), "a visit is nan"),
        (([float("inf")], 0.2, 10), "a visit is inf"),
        (([8], -0.2, 10), "a spread is -0.2"),
        (([8], NAN, 10), "a spread is nan"),
        (([8], [0.1, 0.2], 10), "2 spreads for 1 visits"),
        (([8], 0.2, NAN), "the window is nan"),
    ],
)
def test_what_makes_no_sense_is_refused(arguments: Any, sentence: str) -> None:
    for chance in (fits_probability, fenton_wilkinson):
        with pytest.raises(ValueError, match=sentence):
            chance(*arguments)


def test_fixed_minutes_pace_and_shares_are_checked() -> None:
    with pytest.raises(ValueError, match="fixed"):
        fits_probability([8], 0.2, 10, fixed=-1)
    with pytest.raises(ValueError, match="pace"):
        fits_probability([8], 0.2, 10, pace_sd=NAN)
    for share in (0.0, 1.0, NAN):
        with pytest.raises(ValueError, match="share"):
            quantile([8], 0.2, share)
    with pytest.raises(ValueError, match="spread above"):
        lognormal_chance(1, 0, 0)


@given(
    st.lists(st.floats(0.5, 30), min_size=1, max_size=20),
    st.floats(0, 1.2),
    st.floats(0.05, 0.99),
    st.sampled_from([0.0, 0.1, 0.3]),
)
@settings(max_examples=60, deadline=None)
def test_the_quantile_is_the_window_of_that_chance(
    means: list[float], cv: float, share: float, pace_sd: float
) -> None:
    finish = quantile(means, cv, share, fixed=7, pace_sd=pace_sd)
    below = fits_probability(means, cv, finish * 0.999, fixed=7, pace_sd=pace_sd)
    above = fits_probability(means, cv, finish * 1.001, fixed=7, pace_sd=pace_sd)
    assert below - 0.003 <= share <= above + 0.003


@given(st.integers(2, 30), st.floats(0.05, 0.4), st.floats(0.9, 1.2))
@settings(max_examples=60, deadline=None)
def test_the_quick_formula_is_near(visits: int, cv: float, share: float) -> None:
    window = 8 * visits * share
    exact = fits_probability([8] * visits, cv, window)
    assert fenton_wilkinson([8] * visits, cv, window) == pytest.approx(exact, abs=0.004)


def test_numpy_arrays_are_taken() -> None:
    means: Any = np.full(15, 8.0)
    assert fits_probability(means, means * 0 + 0.3, 131.9) == pytest.approx(0.896, abs=0.001)


def test_three_point_times() -> None:
    found = three_point([(5, 8, 17), (3, 5, 7)])
    assert found.quantile(0.5) == found.mean == 14
    assert found.chance(found.quantile(0.9)) == pytest.approx(0.9)
    assert three_point([(4, 4, 4)]).chance(4) == 1
    assert three_point([(4, 4, 4)]).chance(3.9) == 0
    for times in ((5, 4, 6), (1, 7, 6), (-1, 2, 3), (1, NAN, 3)):
        with pytest.raises(ValueError, match="not in order"):
            three_point([times])


# -- rotations -------------------------------------------------------------------------------


def test_days_without_spread_end_as_announced() -> None:
    problem = ground(8, 4, 1)
    plan = DispatchSolver(rounds=2_000).solve(problem)
    sure = rotation_finish(problem, plan, visit_cv=0, pace_sd=0, runs=10)
    assert set(sure.finishes) == {plan.makespan}


def test_a_shortest_rotation_mostly_ends_late_and_held_starts_make_it_later() -> None:
    problem = ground(15, 5, 1)
    plan = DispatchSolver().solve(problem)
    held = rotation_finish(problem, plan, visit_cv=0.25, pace_sd=0.1, seed=1)
    free = rotation_finish(problem, plan, visit_cv=0.25, pace_sd=0.1, hold_starts=False, seed=1)
    assert 0.03 <= held.chance(plan.makespan) <= 0.25
    assert held.chance(plan.makespan) < free.chance(plan.makespan) <= 0.45
    assert 1.12 <= held.quantile(0.9) / plan.makespan <= 1.25
    assert held.chance(held.quantile(0.9)) == pytest.approx(0.9, abs=0.001)
    again = rotation_finish(problem, plan, visit_cv=0.25, pace_sd=0.1, seed=1)
    assert (again.finishes == held.finishes).all()
    assert held.mean > plan.makespan


def test_one_judge_is_the_exact_sum() -> None:
    """A rotation of one judge, not held to the minute, is a walking panel."""
    walk = tuple(tuple(2 * abs(i - k) for k in range(9)) for i in range(9))
    problem = RotationProblem(
        tuple(VisitNeed(w, "Cole", 8) for w in range(1, 9)), walk, {w: w for w in range(1, 9)}
    )
    plan = DispatchSolver().solve(problem)
    days = rotation_finish(problem, plan, visit_cv=0.3, pace_sd=0.1, hold_starts=False, runs=40_000)
    for window in (75, 85, 95):
        exact = fits_probability([8] * 8, 0.3, window, fixed=16, pace_sd=0.1)
        assert days.chance(window) == pytest.approx(exact, abs=0.012)


TWO = RotationProblem(
    (VisitNeed("A", "Cole", 10), VisitNeed("B", "Cole", 10)),
    ((0, 2, 5), (2, 0, 3), (5, 3, 0)),
    {"A": 1, "B": 2},
)
AS_TOLD = (Visit("A", "Cole", 2, 12), Visit("B", "Cole", 15, 25))


def second_end(first_minutes: float, visits: Any = AS_TOLD, **rules: Any) -> float:
    """End of the day when the first visit takes so long and the second its 10."""
    problem = replace(TWO, **rules)
    ends = played(
        problem,
        visits,
        np.array([[first_minutes], [10.0]]),
        resting=rests_before(problem, visits),
    )
    return float(ends[1, 0])


def test_a_common_pace_is_one_on_average() -> None:
    """Half the days of a lognormal pace with mean 1 go quicker than exp(-variance / 2)."""
    problem = RotationProblem((VisitNeed("A", "Cole", 100),), ((0, 0), (0, 0)), {"A": 1})
    plan = Rotation((Visit("A", "Cole", 0, 100),), 100, 100, True, "by hand")
    found = rotation_finish(problem, plan, visit_cv=0, pace_sd=0.4, runs=RUNS)
    assert found.quantile(0.5) == pytest.approx(100 * math.exp(-(0.4**2) / 2), rel=0.01)


def test_days_played_by_hand() -> None:
    assert second_end(10) == 25
    assert second_end(7) == 25, "nobody begins before the announced minute"
    assert second_end(14) == 29
    assert second_end(14, crew_away={"B": ((20, 30),)}) == 40, "10 minutes do not fit before"
    assert second_end(14, judge_away={"Cole": ((17, 22),)}) == 34, "walking stands still"
    assert second_end(14, judge_away={"Cole": ((35, 50),)}) == 29
    overlapping = ((0, 5), (29, 33), (31, 40))
    assert second_end(14, crew_away={"B": overlapping}) == 29, "there is room between them"
    late = (AS_TOLD[0], Visit("B", "Cole", 22, 32))
    rest = {"Cole": (Break(7, 12, 40),)}
    assert second_end(10, late, breaks=rest) == 32
    assert second_end(14, late, breaks=rest) == 14 + 2 + 7 + 3 + 10
    begins = {"Cole": (Break(5, 17, 40),)}
    assert second_end(10, late, breaks=begins) == 32
    one_crew = replace(
        TWO,
        visits=(VisitNeed("A", "Cole", 10), VisitNeed("A", "Wynn", 10)),
        crew_reset_minutes=4,
    )
    pair = (Visit("A", "Cole", 2, 12), Visit("A", "Wynn", 16, 26))
    ends = played(one_crew, pair, np.array([[13.0], [10.0]]), resting={})
    assert ends[:, 0].tolist() == [15, 29]


def test_rotation_finish_refuses_what_makes_no_sense() -> None:
    plan = Rotation(AS_TOLD, 25, 25, True, "by hand")
    for wrong in ({"visit_cv": -1, "pace_sd": 0}, {"visit_cv": 0.2, "pace_sd": NAN}):
        with pytest.raises(ValueError, match="spread"):
            rotation_finish(TWO, plan, **wrong)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="one day"):
        rotation_finish(TWO, plan, visit_cv=0.2, pace_sd=0, runs=0)
    with pytest.raises(ValueError, match="share"):
        rotation_finish(TWO, plan, visit_cv=0.2, pace_sd=0, runs=5).quantile(1.5)


def test_a_lognormal_time_is_above_nothing_and_may_be_short() -> None:
    assert lognormal_chance(0, 1, 0.5) == lognormal_chance(-3, 1, 0.5) == 0
    # Half of all times are below exp(mu), also where that is less than a minute.
    assert lognormal_chance(0.5, math.log(0.5), 0.7) == pytest.approx(0.5)
    assert lognormal_chance(0.25, math.log(0.5), 0.7) == pytest.approx(0.1610, abs=1e-4)


def test_the_quick_formula_holds_for_visits_that_hardly_differ() -> None:
    for window in (23.8, 24.0, 24.3):
        exact = fits_probability([8] * 3, 0.02, window)
        assert fenton_wilkinson([8] * 3, 0.02, window) == pytest.approx(exact, abs=0.005)


def test_three_point_times_add_up_as_by_hand() -> None:
    both = three_point([(2, 4, 12), (1, 1, 1), (3, 6, 9)])
    assert both.mean == pytest.approx(5 + 1 + 6)
    assert both.variance == pytest.approx((10 / 6) ** 2 + 1)
    assert both.chance(12) == pytest.approx(0.5)
    assert both.chance(12 + math.sqrt(both.variance)) == pytest.approx(0.8413, abs=1e-4)
    assert both.quantile(0.5) == pytest.approx(12)
    for share in (0.0, 1.0):
        with pytest.raises(ValueError, match=r"^a share lies between 0 and 1, not at"):
            both.quantile(share)
    certain = three_point([(4, 4, 4)])
    assert (certain.chance(4), certain.chance(3.9)) == (1, 0)


def test_nine_of_ten_and_no_shared_pace_where_nothing_is_said() -> None:
    assert quantile([8] * 15, 0.3) == quantile([8] * 15, 0.3, 0.9, fixed=0, pace_sd=0)
