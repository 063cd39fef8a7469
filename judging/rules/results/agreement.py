"""How far judges agree: intraclass correlation, Kendall's W and Krippendorff's alpha."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import get_args

import numpy as np
import scipy
from numpy.typing import ArrayLike

from judging.rules.results.coincidences import Level, coincidences, squared_differences
from judging.rules.results.labels import Floats
from showrun.language import gettext as _

MOST_VALUES = 3_000  # different marks; the table of coincidences is their number squared
ROUNDING = 1e-12
LEAST_RANKED = 2


@dataclass(frozen=True)
class Coefficient:
    """An intraclass correlation with its interval.

    Attributes
    ----------
    value, low, high : float
        nan where the ratings cannot tell; the interval holds with the chance asked for.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class IntraclassCorrelation:
    """The six forms of Shrout and Fleiss.

    Attributes
    ----------
    one_way_single, one_way_mean : Coefficient
        ICC(1,1) and ICC(1,k): each entry seen by other judges, chosen by chance.
    agreement_single, agreement_mean : Coefficient
        ICC(2,1) and ICC(2,k): the same judges; differences in severity count as disagreement.
    consistency_single, consistency_mean : Coefficient
        ICC(3,1) and ICC(3,k): the same judges; severity does not count.
    ms_entries, ms_within, ms_judges, ms_rest : float [points squared]
        Mean squares between entries, within entries, between judges, and of what is left.
    f_one_way, f_two_way : float
        Ratios of ``ms_entries`` to ``ms_within`` and to ``ms_rest``.
    n_entries, n_judges : int
    cannot_tell : str or None
        Why all of it is nan, in a sentence.
    """

    one_way_single: Coefficient
    one_way_mean: Coefficient
    agreement_single: Coefficient
    agreement_mean: Coefficient
    consistency_single: Coefficient
    consistency_mean: Coefficient
    ms_entries: float
    ms_within: float
    ms_judges: float
    ms_rest: float
    f_one_way: float
    f_two_way: float
    n_entries: int
    n_judges: int
    cannot_tell: str | None


@dataclass(frozen=True)
class Concordance:
    """Kendall's coefficient of concordance with Friedman's test.

    Attributes
    ----------
    w : float
        From 0, no agreement in order, to 1, the same order; corrected for ties. nan if untold.
    s : float
        Sum of squares of the rank sums about their mean.
    rank_sums : tuple of float
        By entry; the lowest mark has rank 1.
    chi2, p_chi2 : float
        Friedman's statistic, and its chance when judges rank at random (many entries).
    f, p_f : float
        The same as an F ratio, which is nearer the truth with few judges.
    df : int
    n_entries, n_judges : int
    cannot_tell : str or None
    """

    w: float
    s: float
    rank_sums: tuple[float, ...]
    chi2: float
    p_chi2: float
    f: float
    p_f: float
    df: int
    n_entries: int
    n_judges: int
    cannot_tell: str | None


@dataclass(frozen=True)
class Alpha:
    """Krippendorff's alpha.

    Attributes
    ----------
    value : float
        1 is full agreement, 0 what chance would give; nan if untold.
    level : str
        How two marks are compared: nominal, ordinal, interval or ratio.
    n_pairable : int
        Marks which another judge's mark of the same entry can be held against.
    cannot_tell : str or None
    """

    value: float
    level: Level
    n_pairable: int
    cannot_tell: str | None


def icc(ratings: ArrayLike, confidence: float = 0.95) -> IntraclassCorrelation:
    """Tell how much of the spread of the marks is the entries' own.

    Parameters
    ----------
    ratings : array_like of float, shape (n_entries, n_judges) [points]
        Complete: every judge rated every entry.
    confidence : float
        Of the intervals.

    Returns
    -------
    IntraclassCorrelation

    Raises
    ------
    ValueError
        When the table is not two-dimensional or empty, or a rating is missing or not finite.

    Notes
    -----
    It describes this panel on these entries: a field of wagons much alike gives a low figure with
    the best of judges. With 2 to 6 judges the intervals are wide; show them.

    Source
    ------
    Shrout, P. E. & Fleiss, J. L., Psychological Bulletin 86, 420-428, 1979.

    Example
    -------
    >>> found = icc([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9],
    ...              [6, 2, 4, 7]])
    >>> round(found.agreement_single.value, 2), round(found.consistency_mean.value, 2)
    (0.29, 0.91)
    """
    x = _table(ratings, missing=False)
    n, k = x.shape
    why = _why_not(x)
    if why:
        nothing = Coefficient(math.nan, math.nan, math.nan)
        return IntraclassCorrelation(*(nothing,) * 6, *(math.nan,) * 6, n, k, why)
    centred = x - x.mean()
    entry, judge = centred.mean(axis=1), centred.mean(axis=0)
    rest = centred - entry[:, None] - judge
    floor = ROUNDING * float(np.sum(centred**2))
    ms_entries = k * float(entry @ entry) / (n - 1)
    ms_judges = n * float(judge @ judge) / (k - 1)
    ms_rest = _clean(float(np.sum(rest**2)), floor) / ((n - 1) * (k - 1))
    ms_within = _clean(float(np.sum((centred - entry[:, None]) ** 2)), floor) / (n * (k - 1))
    tail = (1.0 - confidence) / 2.0
    f1, f3 = _ratio(ms_entries, ms_within), _ratio(ms_entries, ms_rest)
    one_way = _bounds(f1, n - 1, n * (k - 1), tail)
    two_way = _bounds(f3, n - 1, (n - 1) * (k - 1), tail)
    agreement = _agreement(ms_entries, ms_judges, ms_rest, n, k, tail)
    return IntraclassCorrelation(
        one_way_single=Coefficient(*(_single(f, k) for f in (f1, *one_way))),
        one_way_mean=Coefficient(*(_mean(f) for f in (f1, *one_way))),
        agreement_single=agreement,
        agreement_mean=Coefficient(
            *(_of_mean(r, k) for r in (agreement.value, agreement.low, agreement.high))
        ),
        consistency_single=Coefficient(*(_single(f, k) for f in (f3, *two_way))),
        consistency_mean=Coefficient(*(_mean(f) for f in (f3, *two_way))),
        ms_entries=ms_entries,
        ms_within=ms_within,
        ms_judges=ms_judges,
        ms_rest=ms_rest,
        f_one_way=f1,
        f_two_way=f3,
        n_entries=n,
        n_judges=k,
        cannot_tell=None,
    )


def kendall_w(ratings: ArrayLike) -> Concordance:
    """Tell how far the judges put the entries in the same order.

    Parameters
    ----------
    ratings : array_like of float, shape (n_entries, n_judges)
        Points, or places; complete. Only each judge's order counts, equal ones share a rank.

    Returns
    -------
    Concordance

    Raises
    ------
    ValueError
        When the table is not two-dimensional or empty, or a rating is missing or not finite.

    Notes
    -----
    Points and places give the same W; the rank sums then run the other way.

    Source
    ------
    Kendall, M. G., Rank Correlation Methods, 1948; Friedman's test and its F form after Conover,
    W. J., Practical Nonparametric Statistics, 1999 (both from memory).

    Example
    -------
    >>> round(kendall_w([[1, 1, 6], [6, 5, 3], [3, 6, 2], [2, 4, 5], [5, 2, 4], [4, 3, 1]]).w, 3)
    0.162
    """
    x = _table(ratings, missing=False)
    n, k = x.shape
    ranks = scipy.stats.rankdata(x, axis=0)
    sums = ranks.sum(axis=1)
    s = float(np.sum((sums - sums.mean()) ** 2))
    why = _why_not(x)
    if not why and bool((np.ptp(x, axis=0) == 0).all()):
        why = _("Every judge put all entries level: there is no order to compare.")
    if why:
        nan = math.nan
        return Concordance(nan, s, tuple(sums.tolist()), nan, nan, nan, nan, n - 1, n, k, why)
    within = float(np.sum((ranks - ranks.mean(axis=0)) ** 2))
    w = min(s / (k * within), 1.0)
    chi2 = k * (n - 1) * w
    f = _ratio((k - 1) * w, 1.0 - w if w < 1.0 - ROUNDING else 0.0)
    return Concordance(
        w=w,
        s=s,
        rank_sums=tuple(sums.tolist()),
        chi2=chi2,
        p_chi2=float(scipy.special.chdtrc(n - 1, chi2)),
        f=f,
        p_f=float(scipy.special.fdtrc(n - 1, (n - 1) * (k - 1), f)) if math.isfinite(f) else 0.0,
        df=n - 1,
        n_entries=n,
        n_judges=k,
        cannot_tell=None,
    )


def krippendorff_alpha(ratings: ArrayLike, level: Level = "interval") -> Alpha:
    """Tell how far the judges agree beyond chance, missing marks allowed.

    Parameters
    ----------
    ratings : array_like of float, shape (n_entries, n_judges) [points]
        nan where a judge did not rate an entry.
    level : {"nominal", "ordinal", "interval", "ratio"}
        How two marks are compared: same or not; by order; by difference; by ratio.

    Returns
    -------
    Alpha

    Raises
    ------
    ValueError
        When the table is not two-dimensional or empty, a rating is infinite, the level is
        unknown, or the table has too many different marks to compare.

    Notes
    -----
    1 - (n - 1) sum(o d) / sum(m m' d) over pairs of different marks: o the coincidences, m how
    often each mark is in them, n all, d the squared difference of the level. Differences in
    severity count as disagreement.

    Source
    ------
    Krippendorff, K., Computing Krippendorff's Alpha-Reliability, University of Pennsylvania, 2011.

    Example
    -------
    >>> round(krippendorff_alpha([[0, 1], [1, 1], [0, 1], [0, 0], [0, 0], [0, 1], [0, 0], [0, 0],
    ...                           [1, 0], [0, 0]], "nominal").value, 3)
    0.095
    """
    if level not in get_args(Level):
        raise ValueError(f"{level!r} is no level; use nominal, ordinal, interval or ratio.")
    x = _table(ratings, missing=True)
    there = ~np.isnan(x)
    paired = there & (there.sum(axis=1, keepdims=True) >= LEAST_RANKED)
    marks = x[paired]
    if not marks.size:
        return Alpha(math.nan, level, 0, _("No entry was rated by two judges."))
    values = np.unique(marks)
    if values.size < LEAST_RANKED:
        return Alpha(math.nan, level, marks.size, _("All marks are the same: agreement is untold."))
    if values.size > MOST_VALUES:
        raise ValueError("Too many different marks for this figure; round them first.")
    together = coincidences(x, paired, values)
    times = together.sum(axis=0)
    apart = squared_differences(values, times, level)
    seen, by_chance = float((together * apart).sum()), float(times @ apart @ times)
    value = 1.0 - (float(times.sum()) - 1.0) * seen / by_chance
    return Alpha(value, level, marks.size, None)


def _table(ratings: ArrayLike, *, missing: bool) -> Floats:
    x = np.array(ratings, dtype=np.float64)
    if x.ndim != 2 or x.size == 0:
        raise ValueError("Ratings must be a table, one row an entry and one column a judge.")
    bad = np.isinf(x) | (np.isnan(x) & (not missing))
    if bad.any():
        row, column = (int(where[0]) + 1 for where in np.nonzero(bad))
        raise ValueError(
            f"The rating of entry number {row} by judge number {column} is missing or no finite "
            "number; leave the entry out."
        )
    return x


def _why_not(x: Floats) -> str | None:
    if x.shape[1] < LEAST_RANKED:
        return _("One judge alone has nobody to agree with.")
    if x.shape[0] < LEAST_RANKED:
        return _("One entry alone cannot be told from others.")
    if float(np.ptp(x)) == 0.0:
        return _("All marks are the same: agreement cannot be told.")
    return None


def _clean(square: float, floor: float) -> float:
    return square if square > floor else 0.0


def _ratio(above: float, below: float) -> float:
    if below > 0.0:
        return above / below
    return math.inf if above > 0.0 else math.nan


def _bounds(f: float, above: int, below: int, tail: float) -> tuple[float, float]:
    """Interval of a ratio of mean squares."""
    return (
        f / float(scipy.special.fdtri(above, below, 1.0 - tail)),
        f * float(scipy.special.fdtri(below, above, 1.0 - tail)),
    )


def _single(f: float, k: int) -> float:
    return 1.0 if math.isinf(f) else (f - 1.0) / (f + k - 1.0)


def _mean(f: float) -> float:
    return 1.0 if math.isinf(f) else 1.0 - _ratio(1.0, f)


def _of_mean(single: float, k: int) -> float:
    """Spearman-Brown: the coefficient of a mean from that of one judge."""
    return _ratio(k * single, 1.0 + (k - 1) * single) if single > -1.0 / (k - 1) else -math.inf


def _agreement(
    entries: float, judges: float, rest: float, n: int, k: int, tail: float
) -> Coefficient:
    """ICC(2,1) with the interval of Shrout and Fleiss."""
    spread = entries + (k - 1) * rest + k * (judges - rest) / n
    value = (entries - rest) / spread if spread else math.nan
    if rest <= 0.0 and judges <= 0.0:
        return Coefficient(value, value, value)
    a = k * value / (n * (1.0 - value)) if value < 1.0 else math.inf
    b = 1.0 + k * value * (n - 1) / (n * (1.0 - value)) if value < 1.0 else math.inf
    pull, push = a * judges, b * rest
    df = (pull + push) ** 2 / (pull**2 / (k - 1) + push**2 / ((n - 1) * (k - 1)))
    upper, lower = (
        float(scipy.special.fdtri(n - 1, df, 1.0 - tail)),
        float(scipy.special.fdtri(df, n - 1, 1.0 - tail)),
    )
    common = k * judges + (k * n - k - n) * rest
    return Coefficient(
        value=value,
        low=n * (entries - upper * rest) / (upper * common + n * entries),
        high=n * (lower * entries - rest) / (common + n * lower * entries),
    )
