"""How likely a window holds: visits take longer or shorter than planned, and that adds up."""

from __future__ import annotations

import math
from collections.abc import Sequence

from judging.rules.windows.quick_risk import (
    ThreePoint,
    fenton_wilkinson,
    lognormal_chance,
    three_point,
)
from judging.rules.windows.rotation_risk import RotationRisk, rotation_finish
from judging.rules.windows.sums import Days, checked, number

__all__ = [
    "RotationRisk",
    "ThreePoint",
    "fenton_wilkinson",
    "fits_probability",
    "lognormal_chance",
    "quantile",
    "rotation_finish",
    "three_point",
]


def fits_probability(
    means: Sequence[float],
    cvs: float | Sequence[float],
    window: float,
    *,
    fixed: float = 0.0,
    pace_sd: float = 0.0,
) -> float:
    """Say how likely a row of visits ends inside a window.

    Parameters
    ----------
    means
        Shape ``(n_visits,)``, mean minutes of each visit [min].
    cvs
        Standard deviation of a visit over its mean; one for all, or shape ``(n_visits,)``. A
        visit of cv 0 takes its mean.
    window
        [min].
    fixed
        Minutes that are certain, such as walking and breaks [min].
    pace_sd
        Standard deviation of the logarithm of a pace that all visits of the day share; its mean
        is 1. With 0 the visits are independent, which flatters.

    Returns
    -------
    float
        Within 0.005 of the truth of this model. Without a visit 1 if the fixed minutes fit,
        else 0; a window below nothing holds nothing.

    Raises
    ------
    ValueError
        For figures that are negative or no numbers, and for as many cvs as there are not visits.

    Notes
    -----
    Visits are independent lognormal. Their sum is exact but for a grid, fine beside the spread: one
    discrete Fourier transform a kind of visit, the product, and back, tilted by an exponential
    so that what is beyond the grid does not wrap round into it.

    Source
    ------
    Gruebel and Hermesmeier (1999), ASTIN Bulletin 29:197-214: tilting (from memory). Lognormal
    visits: common practice, no source.

    Example
    -------
    >>> round(fits_probability([8] * 15, 0.3, 131.9), 3)
    0.896
    >>> fits_probability([], 0.3, 10, fixed=11)
    0.0
    """
    means, spreads = checked(means, cvs, fixed, pace_sd)
    number("the window", window, least=-math.inf)
    return _chance(means, spreads, window - fixed, pace_sd)


def quantile(
    means: Sequence[float],
    cvs: float | Sequence[float],
    share: float = 0.9,
    *,
    fixed: float = 0.0,
    pace_sd: float = 0.0,
) -> float:
    """Say by which minute a row of visits has ended in a share of all days.

    Parameters
    ----------
    means, cvs, fixed, pace_sd
        As in `fits_probability`.
    share
        Above 0 and below 1; 0.9 is the finish a window is sized to.

    Returns
    -------
    float
        [min] from the first minute, the fixed ones included.

    Raises
    ------
    ValueError
        As `fits_probability`, and for a share that is none.

    Source
    ------
    As `fits_probability` (from memory).

    Example
    -------
    >>> round(quantile([8] * 15, 0.3, 0.9), 1)
    132.1
    """
    means, spreads = checked(means, cvs, fixed, pace_sd)
    if not 0 < share < 1:
        raise ValueError(f"a share lies between 0 and 1, not at {share}")
    days = Days.of(means, spreads, pace_sd)
    high = days.quick_quantile(share) * 1.1
    while days.reaching(high).chance(high) < share:
        high *= 1.5
    low, known = 0.0, days.reaching(high)
    while high - low > 1e-5 * high:
        middle = (low + high) / 2
        if known.chance(middle) < share:
            low = middle
        else:
            high = middle
    return fixed + high


def _chance(means: Sequence[float], cvs: Sequence[float], window: float, pace_sd: float) -> float:
    """That visits, shared pace and all, take at most ``window`` minutes."""
    return Days.of(means, cvs, pace_sd).reaching(window).chance(window)
