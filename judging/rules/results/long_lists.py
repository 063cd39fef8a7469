"""Tests for lists of values, and why a panel of judges is too short a list for them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from judging.rules.results.labels import Floats, finite_scores

# Below this a list can hardly show an outlier, and whole marks raise false alarms by the dozen.
LEAST_VALUES = 15
LEAST_JUDGES = 6
SHORTEST = 3


@dataclass(frozen=True)
class Grubbs:
    """Whether the value farthest from the mean of a list belongs to it.

    Attributes
    ----------
    statistic : float
        Distance from the mean in standard deviations of the list; nan where it cannot be told.
    threshold : float
    alpha : float
        Chance of a false alarm for one list of normal values.
    position : int or None
        The farthest value's.
    flagged : bool
        Never where refused.
    refused : str or None
        Why this list is too short, in a sentence.
    """

    statistic: float
    threshold: float
    alpha: float
    position: int | None
    flagged: bool
    refused: str | None


@dataclass(frozen=True, eq=False)
class Mandel:
    """Mandel's h and k, and Cochran's C, of judges with repeated marks.

    Attributes
    ----------
    h : ndarray of float, shape (n_judges,)
        Judge's mean about the general mean, over the standard deviation of the means.
    k : ndarray of float, shape (n_judges,)
        Judge's standard deviation over the pooled one.
    h_limit, k_limit : float
        Indicator values for one judge at ``alpha``.
    cochran, cochran_limit : float
        Largest variance as a share of their sum, and its limit over all judges.
    repeatability, reproducibility : float [points]
        Standard deviations within a judge, and from judge to judge.
    alpha : float
    refused : str or None
        Why so few judges can show nothing by h, in a sentence.
    """

    h: Floats
    k: Floats
    h_limit: float
    k_limit: float
    cochran: float
    cochran_limit: float
    repeatability: float
    reproducibility: float
    alpha: float
    refused: str | None


def largest_possible(n: int) -> float:
    """Give the most standard deviations any of n values can lie from their mean.

    Parameters
    ----------
    n : int
        At least 2.

    Returns
    -------
    float
        (n - 1) / sqrt(n), reached when all the others are equal.

    Raises
    ------
    ValueError
        When n is below 2.

    Source
    ------
    Shiffler, R. E., Maximum Z scores and outliers, The American Statistician 42, 1988, after the
    NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.

    Example
    -------
    >>> round(largest_possible(3), 3)
    1.155
    """
    if n < 2:
        raise ValueError("A spread needs at least two values.")
    return (n - 1) / math.sqrt(n)


def grubbs_limit(n: int, alpha: float, *, two_sided: bool = True) -> float:
    """Give the critical value of Grubbs' test.

    Parameters
    ----------
    n : int
        At least 3.
    alpha : float
    two_sided : bool
        Whether a value too high and one too low both count.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        When n is below 3 or alpha is not between 0 and 1.

    Source
    ------
    Grubbs, F. E., Procedures for detecting outlying observations in samples, Technometrics 11,
    1969; NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.

    Example
    -------
    >>> round(grubbs_limit(8, 0.05), 4)
    2.1266
    """
    _demand_alpha(alpha)
    if n < SHORTEST:
        raise ValueError("Grubbs' test needs at least three values.")
    t = float(scipy.special.stdtrit(n - 2, alpha / ((2 if two_sided else 1) * n)))
    return largest_possible(n) * math.sqrt(t**2 / (n - 2 + t**2))


def grubbs(values: ArrayLike, alpha: float = 0.05, least: int = LEAST_VALUES) -> Grubbs:
    """Test whether the farthest value of a long list belongs to it.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Such as the minutes of all visits; not the marks of one row by a panel.
    alpha : float
    least : int
        Shorter lists are refused.

    Returns
    -------
    Grubbs

    Raises
    ------
    ValueError
        When there is no value, one is not finite, or alpha is not between 0 and 1.

    Notes
    -----
    Two-sided. With three judges the statistic cannot pass 1.1547 and the limit is 1.1543: two
    equal marks and a third one point off would be called an error, which is what happens on every
    second row of an honest card. Hence the refusal.

    Source
    ------
    Grubbs, F. E., Technometrics 11, 1969; NIST/SEMATECH e-Handbook of Statistical Methods,
    1.3.5.17.1.

    Example
    -------
    >>> grubbs([7, 7, 8]).refused
    'Too short a list: of 3 values none can lie more than 1.15 standard deviations from the mean.'
    >>> grubbs([5, 6, 5, 7, 6, 5, 6, 7, 5, 6, 6, 5, 7, 6, 19]).position
    14
    """
    x = finite_scores(values)
    _demand_alpha(alpha)
    n = x.size
    away = np.abs(x - x.mean())
    sd = float(x.std(ddof=1)) if n > 1 else 0.0
    told = n >= SHORTEST and sd > 0.0
    position = int(away.argmax()) if told else None
    statistic = float(away.max()) / sd if told else math.nan
    threshold = grubbs_limit(n, alpha) if n >= SHORTEST else math.inf
    refused = None
    if n < least:
        refused = "Too short a list."
        if n > 1:
            refused = (
                f"Too short a list: of {n} values none can lie more than "
                f"{largest_possible(n):.2f} standard deviations from the mean."
            )
    elif not told:
        refused = "All values are the same."
    flagged = refused is None and statistic > threshold
    return Grubbs(statistic, threshold, alpha, position, flagged, refused)


def mandel(marks: ArrayLike, alpha: float = 0.05, least: int = LEAST_JUDGES) -> Mandel:
    """Hold each judge's mean and spread against the others', from repeated marks of one thing.

    Parameters
    ----------
    marks : array_like of float, shape (n_judges, n_repeats) [points]
        Complete: such as several marks by each judge of one practice wagon.
    alpha : float
    least : int
        With fewer judges h is refused.

    Returns
    -------
    Mandel

    Raises
    ------
    ValueError
        When there are fewer than three judges or two repeats, a mark is not finite, or alpha is
        not between 0 and 1.

    Notes
    -----
    The limits of h and k are for one judge looked at alone; Cochran's is for all judges together.
    ``cochran`` and k are nan when every judge repeated every mark exactly.

    Source
    ------
    ISO 5725-2:1994; Wilrich, P.-T., Critical values of Mandel's h and k, the Grubbs and the
    Cochran test statistic, AStA 97, 2013 (from memory).

    Example
    -------
    >>> found = mandel([[7, 8], [7, 7], [9, 8], [7, 6], [6, 7], [8, 8]])
    >>> round(found.h_limit, 2), round(found.k_limit, 2), found.refused
    (1.66, 1.85, None)
    """
    _demand_alpha(alpha)
    x = np.array(marks, dtype=np.float64)
    if x.ndim != 2 or x.shape[0] < SHORTEST or x.shape[1] < 2:
        raise ValueError("Mandel's h and k need three judges with two marks each, or more.")
    if not np.isfinite(x).all():
        raise ValueError("A mark is missing or no finite number.")
    p, n = x.shape
    means, variances = x.mean(axis=1), x.var(axis=1, ddof=1)
    of_means, pooled = float(means.std(ddof=1)), float(variances.mean())
    nothing = np.full(p, math.nan)
    f = float(scipy.special.fdtri(n - 1, (p - 1) * (n - 1), 1.0 - alpha))
    each = float(scipy.special.fdtri(n - 1, (p - 1) * (n - 1), 1.0 - alpha / p))
    t = float(scipy.special.stdtrit(p - 2, 1.0 - alpha / 2.0))
    refused = None
    if p < least:
        refused = (
            f"Too few judges: of {p} none can lie more than {largest_possible(p):.2f} standard "
            "deviations from the mean, whatever the marks."
        )
    return Mandel(
        h=(means - means.mean()) / of_means if of_means > 0.0 else nothing,
        k=np.sqrt(variances / pooled) if pooled > 0.0 else nothing,
        h_limit=(p - 1) * t / math.sqrt(p * (t**2 + p - 2)),
        k_limit=math.sqrt(p / (1.0 + (p - 1) / f)),
        cochran=float(variances.max() / variances.sum()) if pooled > 0.0 else math.nan,
        cochran_limit=1.0 / (1.0 + (p - 1) / each),
        repeatability=math.sqrt(pooled),
        reproducibility=math.sqrt(pooled + max(of_means**2 - pooled / n, 0.0)),
        alpha=alpha,
        refused=refused,
    )


def _demand_alpha(alpha: float) -> None:
    if not 0.0 < alpha < 1.0:
        raise ValueError("The false-alarm rate alpha must lie between 0 and 1.")
