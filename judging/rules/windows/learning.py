"""What the visits done say of a day's pace and spread, beside what past shows say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from judging.rules.windows.sums import Floats, number


@dataclass(frozen=True)
class Prior:
    """What past shows say before the first visit of this one.

    Parameters
    ----------
    visit_cv
        Standard deviation of a visit over its planned minutes.
    weight
        So many visits the past spread counts for beside this show's own.
    pace_sd
        Standard deviation of the logarithm of a day's pace; 0 means exactly as planned.
    """

    visit_cv: float = 0.25
    weight: float = 5.0
    pace_sd: float = 0.12

    def __post_init__(self) -> None:
        number("the spread of the visits", self.visit_cv)
        number("the weight of past shows", self.weight)
        number("the spread of the pace", self.pace_sd)
        if self.visit_cv == 0 or self.weight == 0:
            raise ValueError("past shows must say something of the spread of visits")


@dataclass(frozen=True)
class Learned:
    """Pace and spread after the visits so far.

    Parameters
    ----------
    pace
        Logarithm of how much longer visits take than planned; 0 is as planned.
    pace_sd
        How sure that is.
    visit_cv
        Spread of a visit, past and own visits together.
    freedom
        Visits that stand behind the spread.
    """

    pace: float
    pace_sd: float
    visit_cv: float
    freedom: float

    @property
    def log_variance(self) -> float:
        """Variance of the logarithm of a visit at a known pace."""
        return math.log1p(self.visit_cv**2)


def learn(planned: Sequence[float], actual: Sequence[float], prior: Prior | None = None) -> Learned:
    """Learn pace and spread from the visits done.

    Parameters
    ----------
    planned, actual
        Shape ``(n_done,)``, above 0 [min].
    prior
        What past shows say; the usual unless given.

    Returns
    -------
    Learned
        Without a visit the prior.

    Raises
    ------
    ValueError
        For minutes that are not above 0, and lists of different length.

    Notes
    -----
    ``log(actual / planned) = pace - v/2 + noise``, v the variance of the noise, so that planned
    minutes are means. The pace is normal around 0 before. The spread is the past variance and
    this show's own around its mean, weighted by the visits behind each.

    Source
    ------
    Gelman et al., Bayesian Data Analysis, normal model (from memory).

    Example
    -------
    >>> found = learn([8, 8, 8, 8], [10, 9, 11, 10])
    >>> round(math.exp(found.pace), 2), round(found.visit_cv, 2)
    (1.15, 0.2)
    """
    before = prior or Prior()
    ratios = log_ratios(planned, actual)
    past = math.log1p(before.visit_cv**2)
    n = len(ratios)
    own = float(((ratios - ratios.mean()) ** 2).sum()) if n else 0.0
    freedom = before.weight + max(0, n - 1)
    variance = (before.weight * past + own) / freedom
    if n == 0 or before.pace_sd == 0:
        pace, sd = 0.0, before.pace_sd
    else:
        weight, own_weight = 1 / before.pace_sd**2, n / variance
        pace = own_weight * float(ratios.mean() + variance / 2) / (weight + own_weight)
        sd = math.sqrt(1 / (weight + own_weight))
    return Learned(pace, sd, math.sqrt(math.expm1(variance)), freedom)


def log_ratios(planned: Sequence[float], actual: Sequence[float]) -> Floats:
    """Logarithm of actual over planned minutes, shape ``(n_visits,)``.

    Raises
    ------
    ValueError
        Where there are not as many of the one as of the other, or a visit has no length.
    """
    if len(planned) != len(actual):
        raise ValueError(f"there are {len(planned)} planned and {len(actual)} actual visits")
    above_nothing(planned, "planned")
    above_nothing(actual, "done")
    return np.asarray(np.log(np.asarray(actual)) - np.log(np.asarray(planned)), dtype=float)


def above_nothing(minutes: Sequence[float], what: str) -> None:
    """Refuse minutes that are no length of a visit.

    Raises
    ------
    ValueError
        With which they are.
    """
    for each in minutes:
        if not 0 < each < math.inf:
            raise ValueError(f"a visit {what} takes {each} minutes, which cannot be")
