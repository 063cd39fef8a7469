"""Habits of judges that shift their cards: severity, spread, drift, and the wagon seen before."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike

from judging.rules.results.cards import CardTable, added, added_each
from judging.rules.results.labels import Codes, Floats
from judging.rules.results.thresholds import LEAST_DF, RESERVE, bonferroni_threshold

MINUTES_AN_HOUR = 60.0
# A judge who spreads the wagons up to a tenth more or less wide is like the others.
NEGLIGIBLE_SLOPE = 0.1


@dataclass(frozen=True)
class Habit:
    """One judge's habit, held against the other judges of the same entries.

    Attributes
    ----------
    judge : hashable
    size, low, high : float
        How large it is, with a 95 % interval for one judge chosen beforehand; nan where the panel
        cannot tell. Severity in points, spread and steadiness as a ratio (1 is like the others),
        drift in points an hour.
    statistic : float
        nan where the panel cannot tell.
    flagged : bool
    """

    judge: Hashable
    size: float
    low: float
    high: float
    statistic: float
    flagged: bool


@dataclass(frozen=True)
class Habits:
    """A habit of all judges of the panel.

    Attributes
    ----------
    judges : tuple of Habit
    threshold : float
        A habit is flagged when its statistic is larger in size.
    alpha : float
        Chance that a show whose judges do not have the habit gets at least one flag, at most.
    pair : bool
        True when two judges are each other's mirror: whose habit it is cannot be told.
    """

    judges: tuple[Habit, ...]
    threshold: float
    alpha: float
    pair: bool


@dataclass(frozen=True)
class OrderEffect:
    """What the wagon just seen does to the marks of the next.

    Attributes
    ----------
    size, low, high : float
        Points on the next card for each point by which the wagon before it is better than the
        average; below 0 where a good wagon makes the next look poor. nan where it cannot be told:
        when all judges walk in the same order.
    statistic, threshold, alpha : float
    flagged : bool
    """

    size: float
    low: float
    high: float
    statistic: float
    threshold: float
    alpha: float
    flagged: bool


def severity(table: CardTable, alpha: float = 0.05) -> Habits:
    """Tell how much higher or lower each judge scores than the others of the same entries.

    Parameters
    ----------
    table : CardTable
    alpha : float

    Returns
    -------
    Habits
        Sizes in points a mark, on the common scale.

    Notes
    -----
    Mean judge effect over the criteria the judge marked, against the spread of whole cards and of
    the judges' effects from row to row; Student's t, Bonferroni over judges. Severity by itself
    harms no entry where every judge saw every entry; it says nothing about who is right.

    Source
    ------
    Two-way table: Montgomery, D. C., Design and Analysis of Experiments, 2001 (from memory).

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge = (axis.ravel() for axis in np.indices((6, 3)))
    >>> score = entry % 4 + 2.0 * (judge == 2) + 0.1 * ((entry * judge) % 3)
    >>> found = severity(card_table(analyse(read_marks(entry, judge, [0] * 18, score))))
    >>> [(habit.judge, round(habit.size, 1)) for habit in found.judges if habit.flagged]
    [(0, -0.7), (1, -0.6), (2, 1.4)]
    """
    analysis, n = table.analysis, len(table.analysis.marks.judges)
    effect = analysis.judge_effect
    rows = np.maximum((~np.isnan(effect)).sum(axis=1), 1)
    size = np.where(np.isnan(effect), 0.0, effect).sum(axis=1) / rows
    card_share, row_share = np.zeros(n), np.zeros(n)
    for design in analysis.designs:
        share = np.clip(np.diag(design.seen.inverse), 0.0, None)
        judges = np.unique(design.judge)
        card_share[judges] += len(design.position) * share / rows[judges]
        row_share[judges] += len(design.position) * share / rows[judges] ** 2
    # A judge's keenness on some rows is chance too: other rows would have shown another mean.
    spread_of_rows = np.array([np.var(row[~np.isnan(row)]) for row in effect])
    extra = max(float(np.mean(spread_of_rows - table.mark_noise * row_share * rows)), 0.0)
    variance = table.taste * card_share + table.mark_noise * row_share + extra / rows
    error = np.sqrt(variance)
    return _habits(table, size, error, np.full(n, max(table.df, 0)), alpha, zero=0.0)


def spread(table: CardTable, alpha: float = 0.05) -> Habits:
    """Tell who spreads the wagons wider apart, or less wide, than the panel does.

    Parameters
    ----------
    table : CardTable
    alpha : float

    Returns
    -------
    Habits
        Sizes as ratios: 1.3 spreads the wagons wider than the other judges do, by 30 % of the
        panel's mean spread.

    Notes
    -----
    Slope of the judge's cards on the entries' adjusted means, as an added variable for each judge
    in turn. In a complete panel the means are independent of the residuals when there is no such
    habit, so the t test is exact there; it is held against a tenth more or less. A judge who
    spreads wider weighs more in the sum; it says nothing about who is right, and marks that press
    against an end of the scale spread less wide by themselves.

    Source
    ------
    Joint regression: Finlay, K. W. & Wilkinson, G. N., 1963; Mandel, J., 1961 (from memory).

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge = (axis.ravel() for axis in np.indices((6, 3)))
    >>> score = entry * (1 + 0.5 * (judge == 1)) + 0.1 * ((entry * judge) % 3)
    >>> found = spread(card_table(analyse(read_marks(entry, judge, [0] * 18, score))))
    >>> [round(habit.size, 1) for habit in found.judges]
    [0.8, 1.4, 0.8]
    """
    merit = table.merit[table.entry]
    return _patterns(table, merit - merit.mean(), alpha, one=1.0, margin=NEGLIGIBLE_SLOPE)


def drift(table: CardTable, minute: ArrayLike, alpha: float = 0.05) -> Habits:
    """Tell whose marks rise or fall through the day, beside the other judges'.

    Parameters
    ----------
    table : CardTable
    minute : array_like of float, shape (n_cards,) [min]
        When each card was marked.
    alpha : float

    Returns
    -------
    Habits
        Sizes in points an hour.

    Notes
    -----
    An added variable for each judge in turn. It finds a judge drifting away from the others; a
    drift which all judges share cannot be told from the merit of the wagons seen late.

    Source
    ------
    Cook, R. D. & Weisberg, S., Residuals and Influence in Regression, 1982 (from memory).

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge = (axis.ravel() for axis in np.indices((6, 3)))
    >>> score = entry % 4 + 0.5 * entry * (judge == 1) + 0.1 * ((entry * judge) % 3)
    >>> table = card_table(analyse(read_marks(entry, judge, [0] * 18, score)))
    >>> found = drift(table, 60.0 * table.entry)
    >>> [(habit.judge, habit.flagged) for habit in found.judges]
    [(0, False), (1, True), (2, False)]
    """
    hour: Floats = np.asarray(minute, dtype=np.float64) / MINUTES_AN_HOUR
    return _patterns(table, hour, alpha, one=0.0)


def order_effect(table: CardTable, minute: ArrayLike, alpha: float = 0.05) -> OrderEffect:
    """Tell whether a wagon gains or loses by the one its judge saw just before.

    Parameters
    ----------
    table : CardTable
    minute : array_like of float, shape (n_cards,) [min]
        When each card was marked.
    alpha : float

    Returns
    -------
    OrderEffect

    Notes
    -----
    One added variable for the whole panel: the adjusted mean of the wagon before, about the
    average, and nought on a judge's first card. Needs judges who walk in different orders.

    Source
    ------
    Cook, R. D. & Weisberg, S., Residuals and Influence in Regression, 1982 (from memory); the
    pattern is our own.

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge = (axis.ravel() for axis in np.indices((6, 3)))
    >>> table = card_table(analyse(read_marks(entry, judge, [0] * 18, (entry * judge) % 5)))
    >>> order_effect(table, 1.0 * table.entry).size  # all walked in one order
    nan
    """
    when = np.asarray(minute, dtype=np.float64)
    merit = table.merit - table.merit[table.entry].mean()
    before = np.zeros(table.entry.size)
    for judge in np.unique(table.judge):
        mine = np.flatnonzero(table.judge == judge)
        walked = mine[np.argsort(when[mine], kind="stable")]
        before[walked[1:]] = merit[table.entry[walked[:-1]]]
    found = added(table, before)
    threshold = bonferroni_threshold(RESERVE * alpha, 1, found.df + 1)
    reach = _reach(found.error, found.df)
    return OrderEffect(
        size=found.slope,
        low=found.slope - reach,
        high=found.slope + reach,
        statistic=found.statistic,
        threshold=threshold,
        alpha=alpha,
        flagged=abs(found.statistic) > threshold,
    )


def _patterns(
    table: CardTable, pattern: Floats, alpha: float, one: float, margin: float = 0.0
) -> Habits:
    """The pattern on the cards of each judge in turn."""
    n = len(table.analysis.marks.judges)
    mine = table.judge[:, None] == np.arange(n)
    found = added_each(table, np.where(mine, pattern[:, None], 0.0))
    size = one + np.array([each.slope for each in found])
    error = np.array([each.error for each in found])
    return _habits(table, size, error, np.array([each.df for each in found]), alpha, one, margin)


def _habits(
    table: CardTable,
    size: Floats,
    error: Floats,
    df: Codes,
    alpha: float,
    zero: float,
    margin: float = 0.0,
) -> Habits:
    """Hold the sizes against what they are when there is no habit, give or take the margin."""
    judges: Sequence[Hashable] = table.analysis.marks.judges
    n = len(judges)
    told = (df >= 1) & ~np.isnan(error) & (n > 1) & (table.df >= LEAST_DF)
    freedom = int(df[told].min()) if told.any() else 0
    threshold = bonferroni_threshold(RESERVE * alpha, int(told.sum()), freedom + 1)
    habits = []
    for j, judge in enumerate(judges):
        if not told[j]:
            habits.append(Habit(judge, math.nan, math.nan, math.nan, math.nan, False))
            continue
        away, reach = float(size[j]) - zero, _reach(float(error[j]), int(df[j]))
        away = math.copysign(max(abs(away) - margin, 0.0), away)
        statistic = away / float(error[j]) if error[j] > 0.0 else math.copysign(math.inf, away)
        statistic = 0.0 if away == 0.0 else statistic
        habits.append(
            Habit(
                judge=judge,
                size=float(size[j]),
                low=float(size[j]) - reach,
                high=float(size[j]) + reach,
                statistic=statistic,
                flagged=abs(statistic) > threshold,
            )
        )
    return Habits(tuple(habits), threshold, alpha, _mirrored(habits))


def _mirrored(habits: Sequence[Habit]) -> bool:
    """Whether there are two judges with one and the same statistic."""
    if len(habits) != 2:
        return False
    one, other = (abs(habit.statistic) for habit in habits)
    return math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-9)


def _reach(error: float, df: int) -> float:
    """Half the length of a 95 % interval."""
    return error * float(scipy.special.stdtrit(df, 0.975)) if df >= 1 else math.nan
