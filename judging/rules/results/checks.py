"""Which single marks deserve a second look at the card."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from judging.rules.results.effects import FULL_LEVERAGE
from judging.rules.results.labels import Codes, Floats, Labels
from judging.rules.results.long_lists import grubbs, mandel
from judging.rules.results.panel import Analysis, Marks, analyse, read_marks
from judging.rules.results.steadiness import Steadiness, fits_in_memory, own_scale, steadiness
from judging.rules.results.thresholds import LEAST_DF, bonferroni_threshold, studentized

__all__ = [
    "OddMarks",
    "bonferroni_threshold",
    "grubbs",
    "mandel",
    "odd_marks",
    "odd_marks_in",
    "studentized",
]

LOOK_UP = 10
# Equal statistics (the two marks of a pair) may differ in the last digits of the arithmetic.
TIE_DIGITS = 9
PAIR = 2


@dataclass(frozen=True, eq=False)
class OddMarks:
    """Marks far from what the panel and the judge's habit suggest; nothing is altered.

    Attributes
    ----------
    statistic : ndarray of float, shape (n,)
        Externally studentized residual, by the judge's own noise; nan where the mark cannot be
        checked.
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
    One additive entry + judge fit for each criterion. Each judge has a noise level of the judge's
    own, pooled over all criteria and drawn towards the common one where little is known (see
    `steadiness` in the module of that name); with two judges one level serves both. Residuals are
    externally studentized and tested two-sided with Bonferroni's bound over all marks that can be
    checked; those of judges whose noise is known less well are scaled down to meet the one
    threshold. Of the marks of an entry on a criterion only the most extreme is flagged. Missing
    marks are left out, never 0.

    What it does not do: where an entry has two marks on a criterion the two residuals are equal
    and opposite, so both are flagged or neither (see ``pair_of``). In the same way the two marks
    of a judge who marked only two entries on a criterion cannot be told apart. The stated
    false-alarm rate holds for roughly normal noise, however unlike the judges are in steadiness;
    with heavy tails one or two truly odd marks a show are flagged. Slips of one to three points
    mostly cannot be found this way; checks while writing are the better defence. In a panel of
    thousands of cards a criterion one noise level serves all judges.

    Source
    ------
    Stefansky, W., Rejecting outliers in factorial designs, Technometrics 14, 469-479, 1972;
    Cook, R. D. & Weisberg, S., Residuals and Influence in Regression, 1982; Shukla, G. K., Heredity
    29, 237-245, 1972 (both from memory). Pooling over criteria is our own choice; simulations in
    the tests are its evidence.

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
    return odd_marks_in(analyse(read_marks(entry, judge, criterion, score)), alpha)


def odd_marks_in(analysis: Analysis, alpha: float, noise: Steadiness | None = None) -> OddMarks:
    """Find odd marks in marks that have been taken apart already.

    Parameters
    ----------
    analysis : Analysis
    alpha : float
    noise : Steadiness, optional
        Of the same analysis, when it is known already.

    Returns
    -------
    OddMarks
        As `odd_marks`.

    Example
    -------
    >>> marks = read_marks(list("AABB"), list("XYXY"), ["fire"] * 4, [7, 8, 5, 9])
    >>> odd_marks_in(analyse(marks), 0.05).n_checked
    0
    """
    marks, leverage, df = analysis.marks, analysis.leverage, analysis.df
    can = (leverage < FULL_LEVERAGE) & (df >= LEAST_DF)
    n_checked = int(np.count_nonzero(can))
    threshold = bonferroni_threshold(alpha, n_checked, df)
    if n_checked and fits_in_memory(analysis):
        statistic = _by_own_scale(analysis, noise or steadiness(analysis), alpha, n_checked)
    else:
        statistic = studentized(analysis.residual, leverage, analysis.sse, df)
    statistic = np.where(can, statistic, np.nan)
    checked = np.flatnonzero(can)
    size = np.round(np.abs(statistic[checked]), TIE_DIGITS)
    ranked = np.argsort(-size, kind="stable")
    place = (marks.criterion * len(marks.entries) + marks.entry)[checked]
    oddest_there = np.zeros(marks.criterion.max() * len(marks.entries) + len(marks.entries))
    np.maximum.at(oddest_there, place, size)
    flagged = (size > threshold) & (size >= oddest_there[place])
    spare = np.where(can, 1.0 - leverage, np.nan)
    return OddMarks(
        statistic=statistic,
        expected=marks.value - analysis.residual / spare,
        threshold=threshold,
        alpha=alpha,
        df=df,
        n_checked=n_checked,
        flagged=tuple(int(position) for position in checked[ranked[flagged[ranked]]]),
        oddest=tuple(int(position) for position in checked[ranked[:LOOK_UP]]),
        cannot_check=tuple(int(position) for position in np.flatnonzero(~can)),
        pair_of=_pairs(marks),
    )


def _by_own_scale(analysis: Analysis, noise: Steadiness, alpha: float, n_checked: int) -> Floats:
    """Studentized residuals, scaled so that one threshold serves all judges."""
    error, df = own_scale(analysis, noise)
    r = analysis.residual
    with np.errstate(divide="ignore", invalid="ignore"):
        statistic = np.where(r == 0.0, 0.0, r / error)
    whole, back = np.unique(np.floor(df + 1e-6), return_inverse=True)
    limit = np.array([bonferroni_threshold(alpha, n_checked, int(one) + 1) for one in whole])
    scale: Floats = bonferroni_threshold(alpha, n_checked, analysis.df) / limit
    return statistic * scale[back]


def _pairs(marks: Marks) -> Codes:
    """Position of the other mark where an entry has exactly two on a criterion, else -1."""
    place = marks.criterion * len(marks.entries) + marks.entry
    order = np.argsort(place, kind="stable")
    _, start, count = np.unique(place[order], return_index=True, return_counts=True)
    first = order[start[count == PAIR]]
    second = order[start[count == PAIR] + 1]
    pair_of = np.full(order.size, -1, dtype=np.intp)
    pair_of[first] = second
    pair_of[second] = first
    return pair_of
