"""When a running day will end, from the visits already done: pace and spread are learned."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import scipy

from judging.rules.windows.learning import Learned, Prior, above_nothing, learn
from judging.rules.windows.rotation_forecast import INSIDE, RotationForecast, rotation_forecast
from judging.rules.windows.sums import number

__all__ = [
    "Forecast",
    "Learned",
    "Prior",
    "RotationForecast",
    "forecast",
    "learn",
    "rotation_forecast",
]


@dataclass(frozen=True)
class Forecast:
    """When the day will end.

    Parameters
    ----------
    finish, low, high
        Median, and bounds of four days of five [min from the opening].
    learned
        Pace and spread so far.
    visits_left
        Visits not done.
    pace_needed
        Minutes a visit may take on average from now on for the window to hold; None without
        a window or without visits left, and never below 0.
    chance
        That the window holds; None without a window.
    """

    finish: float
    low: float
    high: float
    learned: Learned
    visits_left: int
    pace_needed: float | None
    chance: float | None


def forecast(
    planned: Sequence[float],
    actual: Sequence[float],
    *,
    walk_left: float = 0.0,
    now: float | None = None,
    window: float | None = None,
    prior: Prior | None = None,
    inside: float = INSIDE,
) -> Forecast:
    """Say when a panel that walks together will be done.

    Parameters
    ----------
    planned
        Shape ``(n_visits,)``, all visits of the day in order [min].
    actual
        Shape ``(n_done,)``, what the first of them took [min].
    walk_left
        Walking and breaks still to come [min].
    now
        Minute of the day at which the next visit, or the walk to it, begins; the sum of the
        visits done unless given [min from the opening].
    window
        [min].
    prior
        What past shows say; the usual unless given.
    inside
        Share of days whose end lies between ``low`` and ``high``.

    Returns
    -------
    Forecast
        After the last visit the end itself.

    Raises
    ------
    ValueError
        For more visits done than planned, and minutes that cannot be.

    Notes
    -----
    The rest is one lognormal sum (Fenton-Wilkinson) at an uncertain pace; because the spread is
    itself learned from few visits, its bounds are Student's.

    Source
    ------
    As `learn`; Fenton 1960 (both from memory).

    Example
    -------
    >>> found = forecast([8] * 15, [10, 9, 11], walk_left=24, now=36, window=165)
    >>> round(found.finish), round(found.low), round(found.high), round(found.pace_needed, 2)
    (168, 153, 185, 8.75)
    """
    if len(actual) > len(planned):
        raise ValueError(f"{len(actual)} visits are done of {len(planned)} planned")
    number("the walk left", walk_left)
    if not 0 < inside < 1:
        raise ValueError(f"a share lies between 0 and 1, not at {inside}")
    done = len(actual)
    learned = learn(planned[:done], actual, prior)
    begun = float(sum(actual)) if now is None else float(now)
    number("the minute of the day", begun)
    sure = begun + walk_left
    rest = [float(minutes) for minutes in planned[done:]]
    above_nothing(rest, "planned")
    needed = None if window is None or not rest else max(0.0, (window - sure) / len(rest))
    if not rest:
        chance = None if window is None else float(sure <= window)
        return Forecast(sure, sure, sure, learned, 0, needed, chance)
    total = sum(rest)
    variance = math.log1p(learned.visit_cv**2 * sum(m * m for m in rest) / total**2)
    middle = math.log(total) + learned.pace - variance / 2
    sd = math.sqrt(variance + learned.pace_sd**2)
    reach = float(scipy.stats.t.ppf((1 + inside) / 2, learned.freedom))
    low, finish, high = (sure + math.exp(middle + k * sd) for k in (-reach, 0, reach))
    chance = None
    if window is not None:
        left = window - sure
        chance = (
            float(scipy.stats.t.cdf((math.log(left) - middle) / sd, learned.freedom))
            if left > 0
            else 0.0
        )
    return Forecast(finish, low, high, learned, len(rest), needed, chance)
