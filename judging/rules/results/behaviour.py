"""How a judge fills in a card: steadily or not, through the day, and the same mark everywhere."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from judging.rules.results.cards import CardTable
from judging.rules.results.habits import Habit, Habits
from judging.rules.results.labels import Floats
from judging.rules.results.steadiness import LEAST_SHARE, Steadiness

# Marks' worth of noise below which steadiness is not compared.
LEAST_INFORMATION = 20.0
# Ratios of standard deviations nearer to 1 than this, either way, are negligible.
NEGLIGIBLE_RATIO = 1.25
# A card this uniform is called sameness only if the others' cards are clearly not.
SAME_SHARE = 0.8
LEAST_ROWS = 8
# Of the common scale: a wagon may deserve the highest mark on every row.
ENDS = (0.0, 10.0)
ROUNDING = 1e-12


@dataclass(frozen=True)
class SameCard:
    """A card with all but the same mark on every row.

    Attributes
    ----------
    judge, entry : hashable
    mark : float [points]
        The mark, on the common scale of 0 to 10.
    share : float
        Share of the rows which carry it.
    statistic : float
        Variance of the marks on the card over that on the other judges' cards of the entry.
    threshold : float
        It is flagged when the statistic is below this and the share is ``SAME_SHARE`` or more.
    """

    judge: Hashable
    entry: Hashable
    mark: float
    share: float
    statistic: float
    threshold: float


def consistency(table: CardTable, alpha: float = 0.05) -> Habits:
    """Tell who marks the rows of a card more, or less, steadily than the others.

    Parameters
    ----------
    table : CardTable
    alpha : float

    Returns
    -------
    Habits
        Sizes as ratios of standard deviations to the other judges'. All nan with two judges.

    Notes
    -----
    Shukla's variances of the residuals about each card's mean, so that liking a whole wagon does
    not count as unsteadiness. The logarithm of the ratio, as far as it lies beyond a quarter more
    or less, is taken as normal; Bonferroni over judges. An unsteady judge adds noise to the
    result; the marks may still be carefully meant.

    Source
    ------
    Shukla, G. K., Heredity 29, 237-245, 1972; the test is our own.

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge, row = (axis.ravel() for axis in np.indices((9, 3, 20)))
    >>> noise = np.random.default_rng(2).normal(0, np.array([0.5, 0.5, 3.0])[judge])
    >>> found = consistency(card_table(analyse(read_marks(entry, judge, row, entry + noise))))
    >>> [habit.judge for habit in found.judges if habit.flagged and habit.size > 1]
    [2]
    """
    noise = _within(table)
    n = len(noise.judges)
    threshold = -float(scipy.special.ndtri(alpha / (2 * n)))
    inverse = np.linalg.pinv(noise.information, rcond=1e-9, hermitian=True)
    habits = []
    for j, judge in enumerate(noise.judges):
        against = np.full(n, -1.0 / max(n - 1, 1))
        against[j] = 1.0
        variance = 2.0 * float(against @ inverse @ against)
        others = float(np.delete(noise.variance, j).mean()) if n > 1 else math.nan
        told = 0.0 < variance <= 2.0 / LEAST_INFORMATION and others > 0.0
        if not told or math.isnan(noise.variance[j]):
            habits.append(Habit(judge, math.nan, math.nan, math.nan, math.nan, False))
            continue
        ratio = max(float(noise.variance[j]) / others, LEAST_SHARE)
        error = math.sqrt(variance)
        statistic = _beyond(math.log(ratio), 2.0 * math.log(NEGLIGIBLE_RATIO)) / error
        size, reach = math.sqrt(ratio), math.exp(-float(scipy.special.ndtri(0.025)) * error / 2.0)
        flagged = abs(statistic) > threshold
        habits.append(Habit(judge, size, size / reach, size * reach, statistic, flagged))
    return Habits(tuple(habits), threshold, alpha, n == 2)


def tiring(table: CardTable, minute: ArrayLike, alpha: float = 0.05) -> Habits:
    """Tell who marks less, or more, steadily late in the day than early.

    Parameters
    ----------
    table : CardTable
    minute : array_like of float, shape (n_cards,) [min]
        When each card was marked.
    alpha : float

    Returns
    -------
    Habits
        Sizes as ratios of the standard deviations of the later half of a judge's cards to that of
        the earlier half.

    Notes
    -----
    F ratio of the residuals about each card's mean, as far as the standard deviations differ by
    more than a quarter, two-sided, shown as the standard normal of the same chance; Bonferroni
    over judges. Late wagons that are harder to judge look the same:
    compare the judges.

    Source
    ------
    F ratio of two variances, textbook; the halves are our own choice.

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge, row = (axis.ravel() for axis in np.indices((8, 3, 12)))
    >>> noise = np.where((judge == 0) & (entry > 3), 2.5, 0.5)
    >>> noise = noise * np.random.default_rng(2).normal(size=noise.size)
    >>> table = card_table(analyse(read_marks(entry, judge, row, entry + noise)))
    >>> [habit.flagged for habit in tiring(table, 5.0 * table.entry).judges][0]
    True
    """
    when = np.asarray(minute, dtype=np.float64)
    marks = table.analysis.marks
    left = table.analysis.residual - table.deviation[table.card_of]
    square = np.bincount(table.card_of, weights=left**2)
    freedom = table.spare * (table.n_marks - 1)
    n = len(marks.judges)
    threshold = -float(scipy.special.ndtri(alpha / (2 * n)))
    habits = []
    for j, judge in enumerate(marks.judges):
        mine = np.flatnonzero(table.judge == j)
        walked = mine[np.argsort(when[mine], kind="stable")]
        early, late = walked[: walked.size // 2], walked[(walked.size + 1) // 2 :]
        df = float(freedom[early].sum()), float(freedom[late].sum())
        if min(df) < LEAST_INFORMATION or square[early].sum() <= 0.0 or square[late].sum() <= 0.0:
            habits.append(Habit(judge, math.nan, math.nan, math.nan, math.nan, False))
            continue
        ratio = float(square[late].sum() / df[1] / (square[early].sum() / df[0]))
        beyond = math.exp(_beyond(math.log(ratio), 2.0 * math.log(NEGLIGIBLE_RATIO)))
        statistic = _as_normal(beyond, df[1], df[0])
        bounds = (
            float(scipy.special.fdtri(df[1], df[0], 0.975)),
            float(scipy.special.fdtri(df[1], df[0], 0.025)),
        )
        low, high = (math.sqrt(ratio / bound) for bound in bounds)
        flagged = abs(statistic) > threshold
        habits.append(Habit(judge, math.sqrt(ratio), low, high, statistic, flagged))
    return Habits(tuple(habits), threshold, alpha, n == 2)


def _beyond(value: float, margin: float) -> float:
    """What of the value lies outside the margin about nought."""
    return math.copysign(max(abs(value) - margin, 0.0), value)


def _as_normal(ratio: float, above: float, below: float) -> float:
    """Standard normal value with the same chance as an F ratio, from whichever tail is small."""
    if ratio < 1.0:
        return float(scipy.special.ndtri(scipy.special.fdtr(above, below, ratio)))
    return -float(scipy.special.ndtri(scipy.special.fdtr(below, above, 1.0 / ratio)))


def same_marks(table: CardTable, alpha: float = 0.05) -> tuple[SameCard, ...]:
    """Find cards with the same mark on nearly every row.

    Parameters
    ----------
    table : CardTable
    alpha : float
        Chance that a show without such cards gets at least one flag, at most.

    Returns
    -------
    tuple of SameCard
        Most uniform first. A card is let be where no other judge marked the entry, or the
        others' cards of it are as uniform.

    Raises
    ------
    ValueError
        When alpha is not between 0 and 1.

    Notes
    -----
    The variance over the rows of a card against that of the other judges' cards of the entry, an F
    ratio, one-sided, Bonferroni over the cards with 8 rows or more; and at least 80 % of the rows
    carry one and the same mark, which is not an end of the scale. It says that a card does not
    tell the rows apart; a plain wagon well kept may deserve just that.

    Source
    ------
    F ratio of two variances, textbook; the bound of 80 % is our own.

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge, row = (axis.ravel() for axis in np.indices((4, 3, 12)))
    >>> score = np.where((entry == 1) & (judge == 2), 7, 5 + (entry + 2 * judge + row * row) % 4)
    >>> found = same_marks(card_table(analyse(read_marks(entry, judge, row, score))))
    >>> [(card.judge, card.entry, card.mark, card.share) for card in found]
    [(2, 1, 7.0, 1.0)]
    """
    if not 0.0 < alpha < 1.0:
        raise ValueError("The false-alarm rate alpha must lie between 0 and 1.")
    marks = table.analysis.marks
    mean = np.bincount(table.card_of, weights=marks.value) / table.n_marks
    square = np.bincount(table.card_of, weights=(marks.value - mean[table.card_of]) ** 2)
    freedom = table.n_marks - 1
    can = np.flatnonzero(table.n_marks >= LEAST_ROWS)
    other = np.bincount(table.entry, weights=square)[table.entry] - square
    other_df = np.bincount(table.entry, weights=freedom)[table.entry] - freedom
    found = []
    for card in can[(other[can] > ROUNDING * square.max()) & (other_df[can] > 0)]:
        ratio = float(square[card] / freedom[card] / (other[card] / other_df[card]))
        limit = float(scipy.special.fdtri(freedom[card], other_df[card], alpha / can.size))
        if ratio >= limit:
            continue
        mark, count = _commonest(marks.value[table.card_of == card])
        share = count / int(table.n_marks[card])
        if share >= SAME_SHARE and mark not in ENDS:
            judge, entry = marks.judges[table.judge[card]], marks.entries[table.entry[card]]
            found.append(SameCard(judge, entry, mark, share, ratio, limit))
    return tuple(sorted(found, key=lambda one: (one.statistic, -one.share)))


def _commonest(values: Floats) -> tuple[float, int]:
    mark, count = np.unique(values, return_counts=True)
    return float(mark[count.argmax()]), int(count.max())


def _within(table: CardTable) -> Steadiness:
    """Noise of the marks about the mean of their card."""
    whole = table.steadiness
    left = table.analysis.residual - table.deviation[table.card_of]
    n = len(whole.judges)
    cards = np.bincount(table.judge, minlength=n)
    marks = np.bincount(table.judge, weights=table.n_marks, minlength=n)
    kept = 1.0 - cards / np.maximum(marks, 1)
    information = whole.information * np.sqrt(kept[:, None] * kept)
    sums = np.bincount(table.analysis.marks.judge, weights=left**2, minlength=n)
    inverse = np.linalg.pinv(information, rcond=1e-9, hermitian=True)
    told = np.abs(np.diag(inverse @ information) - 1.0) < 1e-6
    df = information.sum()
    return Steadiness(
        judges=whole.judges,
        variance=np.where(told, inverse @ sums, np.nan),
        sum_of_squares=sums.astype(np.float64),
        information=information,
        pooled=float(sums.sum() / df) if df > 0 else math.nan,
        df=int(df),
    )
