"""How far out is too far: one residual against all the others, and the line it must cross."""

from __future__ import annotations

import math

import numpy as np
import scipy
from numpy.typing import ArrayLike

from judging.rules.results.effects import FULL_LEVERAGE
from judging.rules.results.labels import Floats

# One degree of freedom must remain when the residual in question is left out.
LEAST_DF = 2
# Where Bonferroni's bound is all but exact, marks in whole steps between two ends need a reserve.
RESERVE = 0.9


def studentized(residual: ArrayLike, leverage: ArrayLike, sse: float, df: int) -> Floats:
    """Measure each residual against the noise of all the other marks.

    Parameters
    ----------
    residual : array_like of float, shape (n,) [points]
    leverage : array_like of float, shape (n,)
    sse : float [points squared]
        Sum of squared residuals which estimates the noise (it includes the mark itself).
    df : int
        Residual degrees of freedom of ``sse`` before the mark is left out.

    Returns
    -------
    ndarray of float, shape (n,)
        Student's t with df - 1 degrees of freedom when the mark is sound. nan where the leverage
        is 1 or ``df`` is below 2 (cannot be checked); infinite where the mark is the only one
        that does not fit.

    Notes
    -----
    With r* = r / (s sqrt(1 - h)), t = r* sqrt((df - 1) / (df - r*^2)). In the code r*^2 / df is
    the share of ``sse`` which leaving out the mark removes.

    Source
    ------
    Cook, R. D. & Weisberg, S., Residuals and Influence in Regression, 1982, sec. 2.2 (from memory).

    Example
    -------
    >>> studentized([0.0, 1.0, -1.0], [0.5, 0.5, 1.0], sse=4.0, df=3).round(3).tolist()
    [0.0, 1.414, nan]
    """
    r = np.asarray(residual, dtype=np.float64)
    h = np.asarray(leverage, dtype=np.float64)
    if df < LEAST_DF:
        return np.full(r.shape, np.nan)
    spare = np.where(h < FULL_LEVERAGE, 1.0 - h, np.nan)
    share = r**2 / (spare * sse) if sse > 0.0 else 0.0 * spare
    share = np.where(share > 1.0 - 1e-12, 1.0, share)
    with np.errstate(divide="ignore"):
        size: Floats = np.sqrt((df - 1) * share / (1.0 - share))
    return np.copysign(size, r)


def bonferroni_threshold(alpha: float, n_checked: int, df: int) -> float:
    """Set the line so high that a faultless show is flagged with chance alpha at most.

    Parameters
    ----------
    alpha : float
        Show-wise chance of at least one false alarm.
    n_checked : int
        Number of marks tested.
    df : int
        Residual degrees of freedom before one mark is left out.

    Returns
    -------
    float
        Two-sided t quantile at alpha / (2 n_checked) with df - 1 degrees of freedom; inf when
        there is nothing to check or ``df`` is below 2.

    Raises
    ------
    ValueError
        When alpha is not between 0 and 1.

    Source
    ------
    Stefansky, W., Rejecting outliers in factorial designs, Technometrics 14, 469-479, 1972.

    Example
    -------
    >>> round(bonferroni_threshold(0.05, 1800, 1120), 2)
    4.21
    """
    if not 0.0 < alpha < 1.0:
        raise ValueError("The false-alarm rate alpha must lie between 0 and 1.")
    if n_checked < 1 or df < LEAST_DF:
        return math.inf
    return -float(scipy.special.stdtrit(df - 1, alpha / (2 * n_checked)))
