"""Chances of a sum by formula: one lognormal, or three-point times."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import scipy

from judging.rules.windows.sums import checked, number


def lognormal_chance(x: float, mu: float, sigma: float) -> float:
    """Say how likely a lognormal time is at most ``x``.

    Parameters
    ----------
    x
        The same unit as the time.
    mu, sigma
        Mean and standard deviation of its logarithm; sigma above 0.

    Returns
    -------
    float
        The distribution function.

    Raises
    ------
    ValueError
        For a sigma that is not above 0.

    Source
    ------
    NIST/SEMATECH e-Handbook of Statistical Methods 1.3.6.6.9 (section from memory).

    Example
    -------
    >>> round(lognormal_chance(2, 1, 0.5), 6)
    0.269705
    """
    if not sigma > 0:
        raise ValueError("a lognormal time needs a spread above nothing")
    return 0.0 if x <= 0 else float(scipy.special.ndtr((math.log(x) - mu) / sigma))


def fenton_wilkinson(
    means: Sequence[float],
    cvs: float | Sequence[float],
    window: float,
    *,
    fixed: float = 0.0,
) -> float:
    """Say quickly how likely a row of visits ends inside a window: one lognormal for the sum.

    Parameters
    ----------
    means, cvs, window, fixed
        As in `fits_probability`.

    Returns
    -------
    float
        Mostly within 0.002 of `fits_probability` with the spreads of visits.

    Raises
    ------
    ValueError
        As `fits_probability`.

    Source
    ------
    Fenton (1960), IRE Transactions on Communications Systems 8:57-67 (from memory).

    Example
    -------
    >>> round(fenton_wilkinson([8] * 15, 0.3, 131.9), 3)
    0.896
    """
    means, spreads = checked(means, cvs, fixed, 0.0)
    number("the window", window, least=-math.inf)
    mean = sum(means)
    variance = sum((m * cv) ** 2 for m, cv in zip(means, spreads, strict=True))
    if variance <= 0:
        return float(mean <= window - fixed)
    sigma = math.sqrt(math.log1p(variance / mean**2))
    return lognormal_chance(window - fixed, math.log(mean) - sigma**2 / 2, sigma)


@dataclass(frozen=True)
class ThreePoint:
    """A sum of three-point times under the normal approximation.

    Parameters
    ----------
    mean, variance
        Of the sum [min, min^2].
    """

    mean: float
    variance: float

    def chance(self, window: float) -> float:
        """Say how likely the sum is at most ``window`` [min]."""
        if self.variance == 0:
            return float(self.mean <= window)
        return float(scipy.special.ndtr((window - self.mean) / math.sqrt(self.variance)))

    def quantile(self, share: float) -> float:
        """Say by which minute the sum has ended in a share of all days [min]."""
        if not 0 < share < 1:
            raise ValueError(f"a share lies between 0 and 1, not at {share}")
        return self.mean + float(scipy.special.ndtri(share)) * math.sqrt(self.variance)


def three_point(times: Sequence[tuple[float, float, float]]) -> ThreePoint:
    """Add up times of which shortest, likeliest and longest are told.

    Parameters
    ----------
    times
        Shape ``(n_times, 3)``: shortest, likeliest, longest [min].

    Returns
    -------
    ThreePoint
        Mean ``(a + 4 m + b) / 6`` and variance ``((b - a) / 6)^2`` of each, summed.

    Raises
    ------
    ValueError
        Where they are not in this order.

    Source
    ------
    Malcolm, Roseboom, Clark and Fazar (1959), Operations Research 7:646-669 (from memory).

    Example
    -------
    >>> found = three_point([(5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5)])
    >>> found.mean, round(found.variance, 9), round(found.chance(28), 4)
    (24.0, 5.0, 0.9632)
    """
    for shortest, likeliest, longest in times:
        if not 0 <= shortest <= likeliest <= longest < math.inf:
            raise ValueError(
                f"shortest {shortest}, likeliest {likeliest} and longest {longest} minutes "
                "are not in order"
            )
    return ThreePoint(
        sum((a + 4 * m + b) / 6 for a, m, b in times), sum(((b - a) / 6) ** 2 for a, m, b in times)
    )
