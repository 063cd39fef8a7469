"""Risk: how quickly a chance, a size and a live forecast are there, and how near they are."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from judging.rules.windows.forecast import forecast
from judging.rules.windows.risk import fits_probability, quantile, rotation_finish
from judging.rules.windows.rotation import DispatchSolver
from tests.benchmarks.measure import Bound, Row, alone
from tests.rules.windows.running_day import ground

NAME = "risk"
WITHIN = 0.005
RUNS = 1_000_000


def rows() -> Iterator[Row]:
    """Measure a walking panel, a rotation, and the forecast's coverage."""
    window, means = 165.0, [8.0] * 15
    rng = np.random.default_rng(3)
    sigma = math.sqrt(math.log1p(0.25**2))
    days = np.exp(rng.normal(math.log(8) - sigma**2 / 2, sigma, (RUNS, 15))).sum(axis=1)
    truth = float((days + 31 <= window).mean())
    paced = float((days * np.exp(rng.normal(-(0.12**2) / 2, 0.12, RUNS)) + 31 <= window).mean())
    found = fits_probability(means, 0.25, window, fixed=31)
    with_pace = fits_probability(means, 0.25, window, fixed=31, pace_sd=0.12)
    yield Row(
        NAME,
        "chance of a window, 15 wagons",
        alone(lambda: fits_probability(means, 0.25, window, fixed=31, pace_sd=0.12), repeats=9),
        bounds=(
            Bound("off", abs(found - truth), WITHIN),
            Bound("off with pace", abs(with_pace - paced), WITHIN),
        ),
        note=f"{found:.3f} alone, {with_pace:.3f} with a pace that all visits share",
    )
    different = list(np.linspace(4, 12, 40))
    sizing = alone(
        lambda: quantile(different, 0.25, 0.9, fixed=60, pace_sd=0.1),
        repeats=5,
    )
    yield Row(
        NAME,
        "90 % finish, 40 wagons of 40 lengths",
        sizing,
        bounds=(Bound("ms", sizing, 50.0),),
    )
    problem = ground(20, 5, 3)
    plan = DispatchSolver().solve(problem)
    risk = rotation_finish(problem, plan, visit_cv=0.25, pace_sd=0.1)
    playing = alone(lambda: rotation_finish(problem, plan, visit_cv=0.25, pace_sd=0.1), repeats=5)
    yield Row(
        NAME,
        "10,000 days of 20 wagons x 5 judges",
        playing,
        bounds=(Bound("ms", playing, 500.0),),
        note=f"ends as planned on {100 * risk.chance(plan.makespan):.0f} % of days; "
        f"90 % finish {100 * (risk.quantile(0.9) / plan.makespan - 1):.0f} % later",
    )
    yield coverage()


def coverage() -> Row:
    """Count in how many shows the day ends inside the forecast after three of 15 wagons."""
    rng, shows, inside = np.random.default_rng(8), 4_000, 0
    sigma = math.sqrt(math.log1p(0.25**2))
    for _ in range(shows):
        visits = 8 * np.exp(rng.normal(0, 0.12) - sigma**2 / 2 + rng.normal(0, sigma, 15))
        found = forecast([8] * 15, list(visits[:3]))
        inside += bool(found.low <= visits.sum() <= found.high)
    share = 100 * inside / shows
    return Row(
        NAME,
        "live forecast after 3 of 15 wagons",
        alone(lambda: forecast([8] * 15, [9.0, 8.0, 7.5]), repeats=9),
        bounds=(Bound("% off 80", abs(share - 80), 5.0),),
        note=f"{share:.1f} % of {shows} shows end in the 80 % interval",
    )
