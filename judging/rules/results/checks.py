"""Which single marks deserve a second look at the card."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from judging.rules.results.effects import (
    FULL_LEVERAGE,
    Codes,
    Crossing,
    Floats,
    Labels,
    crossing,
    encode,
    finite_scores,
)

LOOK_UP = 10
# Equal statistics (the two marks of a pair) may differ in the last digits of the arithmetic.
TIE_DIGITS = 9
PAIR = 2
# One degree of freedom must remain when the mark in question is left out.
LEAST_DF = 2


@dataclass(frozen=True, eq=False)
class OddMarks:
    """Marks far from what the panel and the judge's habit suggest; nothing is altered.

    Attributes
    ----------
    statistic : ndarray of float, shape (n,)
        Externally studentized residual; nan where the mark cannot be checked.
    expected : ndarray of float, shape (n,) [points]
        Leave-one-out prediction: what the other marks of the criterion suggest. It may lie
        outside the range of the card. nan where the mark cannot be checked.
    threshold : float
        A mark is flagged when its statistic is larger in size; inf when nothing can be checked.
    alpha : float
        Chance that a show without any slip gets at least one flag, at most.
    df : int
        Pooled residual degrees of freedom, before the mark in question is left out.
    n_checked : int
        Number of marks that were checked.
    flagged : tuple of int
        Positions of the flagged marks, most extreme first. Both marks of a pair are here.
    oddest : tuple of int
        The ten most extreme marks, flagged or not, to look up on the cards without claiming error.
    cannot_check : tuple of int
        Positions of marks that no other mark can confirm.
    pair_of : ndarray of int, shape (n,)
        Position of the other mark when exactly two judges marked this entry on this criterion,
        else -1. Which of the two is odd cannot be told.
    """

    statistic: Floats
    expected: Floats
    threshold: float
    alpha: float
    df: int
    n_checked: int
    flagged: tuple[int, ...]
    oddest: tuple[int, ...]
    cannot_check: tuple[int, ...]
    pair_of: Codes


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
    return -float(stdtrit(df - 1, alpha / (2 * n_checked)))


def odd_marks(
    entry: Labels, judge: Labels, criterion: Labels, score: ArrayLike, alpha: float = 0.05
) -> OddMarks:
    """Find marks that neither the other judges nor this judge's own habit explain.

    Parameters
    ----------
    entry, judge, criterion : sequence of hashable, shape (n,)
        One label for each mark. Not every judge need see every entry or criterion.
    score : array_like of float, shape (n,) [points]
        Marks on one common scale: share of the criterion's maximum, 0 to 10.
    alpha : float
        Chance of at least one false alarm in the whole show.

    Returns
    -------
    OddMarks

    Raises
    ------
    ValueError
        When lists differ in length, are empty, a score is not finite, alpha is not between 0 and
        1, or a judge has two marks for the same entry and criterion.

    Notes
    -----
    One additive entry + judge fit for each criterion; the residual variance is pooled over all
    criteria; residuals are externally studentized and tested two-sided with Bonferroni's bound
    over all marks that can be checked. Missing marks are left out, never 0.

    What it does not do: where an entry has two marks on a criterion the two residuals are equal
    and opposite, so both are flagged or neither (see ``pair_of``). In the same way the two marks
    of a judge who marked only two entries on a criterion cannot be told apart. The stated
    false-alarm rate holds for roughly normal noise of similar size over judges and criteria: if
    one judge is much less steady than the others that judge is flagged more often, and with
    heavy tails one or two truly odd marks a show are flagged. Slips of one to three points
    mostly cannot be found this way; checks while writing are the better defence.

    Source
    ------
    Stefansky, W., Rejecting outliers in factorial designs, Technometrics 14, 469-479, 1972;
    Cook, R. D. & Weisberg, S., Residuals and Influence in Regression, 1982 (from memory). Pooling
    over criteria is our own choice; a simulation in the tests is its evidence.

    Example
    -------
    >>> entry = [e for e in "ABCDE" for j in "XYZ"] * 2
    >>> judge = list("XYZ") * 10
    >>> criterion = ["bread"] * 15 + ["fire"] * 15
    >>> score = [7, 8, 7, 6, 7, 7, 8, 9, 8, 5, 6, 6, 7, 7, 7]
    >>> score += [6, 7, 6, 8, 9, 9, 7, 0, 7, 5, 6, 6, 8, 8, 8]
    >>> odd = odd_marks(entry, judge, criterion, score)
    >>> [(entry[i], judge[i], criterion[i], score[i]) for i in odd.flagged]
    [('C', 'Y', 'fire', 0)]
    >>> round(float(odd.expected[odd.flagged[0]]), 1)
    7.5
    """
    values = finite_scores(score, entry=entry, judge=judge, criterion=criterion)
    marks = _Marks(encode(entry)[1], encode(judge)[1], encode(criterion)[1])
    order = marks.order()
    residual, leverage = np.empty(values.size), np.empty(values.size)
    sse, df = 0.0, 0
    for design, position in _designs(marks, order):
        left = design.solve(values[position].T)[2]
        residual[position] = left.T
        leverage[position] = design.leverage
        sse += float(np.sum(left**2))
        df += design.df * len(position)
    statistic = studentized(residual, leverage, sse, df)
    checked = np.flatnonzero(~np.isnan(statistic))
    threshold = bonferroni_threshold(alpha, checked.size, df)
    size = np.round(np.abs(statistic[checked]), TIE_DIGITS)
    ranked = np.argsort(-size, kind="stable")
    n_flagged = int(np.count_nonzero(size > threshold))
    extreme = [int(position) for position in checked[ranked]]
    spare = np.where(np.isnan(statistic), np.nan, 1.0 - leverage)
    return OddMarks(
        statistic=statistic,
        expected=values - residual / spare,
        threshold=threshold,
        alpha=alpha,
        df=df,
        n_checked=int(checked.size),
        flagged=tuple(extreme[:n_flagged]),
        oddest=tuple(extreme[:LOOK_UP]),
        cannot_check=tuple(int(position) for position in np.flatnonzero(np.isnan(statistic))),
        pair_of=_pairs(marks, order),
    )


@dataclass(frozen=True, eq=False)
class _Marks:
    """Codes of entry, judge and criterion of every mark."""

    entry: Codes
    judge: Codes
    criterion: Codes

    def cell(self) -> Codes:
        """One number for each entry and judge."""
        code: Codes = self.entry * (int(self.judge.max()) + 1) + self.judge
        return code

    def order(self) -> Codes:
        """Positions by criterion, entry, judge; refuses two marks in the same place."""
        cell = self.cell()
        order = np.lexsort((cell, self.criterion))
        twice = (np.diff(cell[order]) == 0) & (np.diff(self.criterion[order]) == 0)
        if twice.any():
            where = int(np.flatnonzero(twice)[0])
            first, second = sorted((int(order[where]), int(order[where + 1])))
            raise ValueError(
                f"Marks number {first + 1} and {second + 1} are by the same judge for the same "
                "entry and criterion; keep one of them."
            )
        return order


def _designs(marks: _Marks, order: Codes) -> Iterator[tuple[Crossing, NDArray[np.intp]]]:
    """Group the criteria which the same judges marked on the same entries.

    Yields the factorised design and the positions of the marks, shape (n_criteria, n_cards).
    """
    cell = marks.cell()
    starts = np.flatnonzero(np.diff(marks.criterion[order])) + 1
    alike: dict[bytes, list[Codes]] = {}
    for position in np.split(order, starts):
        alike.setdefault(cell[position].tobytes(), []).append(position)
    for positions in alike.values():
        first = positions[0]
        entry_code = np.unique(marks.entry[first], return_inverse=True)[1]
        judge_code = np.unique(marks.judge[first], return_inverse=True)[1]
        yield crossing(entry_code, judge_code), np.stack(positions)


def _pairs(marks: _Marks, order: Codes) -> Codes:
    """Position of the other mark where an entry has exactly two on a criterion, else -1."""
    place = marks.criterion * (int(marks.entry.max()) + 1) + marks.entry
    _, start, count = np.unique(place[order], return_index=True, return_counts=True)
    first = order[start[count == PAIR]]
    second = order[start[count == PAIR] + 1]
    pair_of = np.full(order.size, -1, dtype=np.intp)
    pair_of[first] = second
    pair_of[second] = first
    return pair_of
