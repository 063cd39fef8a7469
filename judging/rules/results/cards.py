"""Whole cards: one judge's marks of one entry taken together, and what shifts them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from judging.rules.results.labels import Codes, Floats
from judging.rules.results.panel import Analysis
from judging.rules.results.steadiness import Steadiness, steadiness
from judging.rules.results.thresholds import LEAST_DF

# A design in which less than this share of a pattern is left cannot tell its effect.
LEAST_LEFT = 1e-9


@dataclass(frozen=True, eq=False)
class CardTable:
    """Cards of a panel and the noise they carry.

    Attributes
    ----------
    analysis : Analysis
    card_of : ndarray of int, shape (n,)
        Card of each mark.
    entry, judge : ndarray of int, shape (n_cards,)
        Sorted by entry, then judge.
    n_marks : ndarray of int, shape (n_cards,)
    deviation : ndarray of float, shape (n_cards,) [points]
        Mean residual of the card's marks.
    spare : ndarray of float, shape (n_cards,)
        Share of a shift of the whole card that shows in ``deviation``; 0 when none does.
    noise : ndarray of float, shape (n_cards,) [points squared]
        Variance of the card's mean, of which ``spare`` shows.
    taste : float [points squared]
        Variance of a judge's liking for an entry as a whole, beyond what single marks explain.
    mark_noise : float [points squared]
        Variance of single marks.
    df : int
        Degrees of freedom behind ``noise``; (entries - 1)(judges - 1) in a complete panel.
    steadiness : Steadiness
        Noise of each judge's marks.
    left : tuple of ndarray of float, each shape (n_cards of the design,) [points]
        Residuals of each design's cards, added up over its criteria.
    """

    analysis: Analysis
    card_of: Codes
    entry: Codes
    judge: Codes
    n_marks: Codes
    deviation: Floats
    spare: Floats
    noise: Floats
    taste: float
    mark_noise: float
    df: int
    steadiness: Steadiness
    left: tuple[Floats, ...]

    @property
    def merit(self) -> Floats:
        """Entries' adjusted means over their criteria, each criterion about its own mean."""
        means = self.analysis.entry_mean
        known = ~np.isnan(means)
        centred = np.where(known, means - np.nanmean(means, axis=0), 0.0)
        merit: Floats = centred.sum(axis=1) / np.maximum(known.sum(axis=1), 1)
        return merit


@dataclass(frozen=True)
class Added:
    """What one more pattern over the cards would explain.

    Attributes
    ----------
    slope, error : float [points per unit of the pattern]
        nan where the panel cannot tell.
    statistic : float
        Student's t with ``df`` degrees of freedom when the pattern plays no part.
    df : int
    """

    slope: float
    error: float
    statistic: float
    df: int


def card_table(analysis: Analysis) -> CardTable:
    """Gather the residuals of each card.

    Parameters
    ----------
    analysis : Analysis

    Returns
    -------
    CardTable

    Notes
    -----
    The noise of a card's mean is taste + mark noise / marks. Both are estimated, then scaled so
    that the standardized deviations have mean square 1. Where all judges marked the same criteria
    of all entries this is the interaction mean square of the two-way table of card means.

    Source
    ------
    Two-way table with one mean a cell: Montgomery, D. C., Design and Analysis of Experiments,
    2001 (from memory); its extension to incomplete cards is our own.

    Example
    -------
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> marks = read_marks(list("AABB"), list("XYXY"), ["fire"] * 4, [7, 8, 5, 9])
    >>> table = card_table(analyse(marks))
    >>> table.deviation.tolist(), table.df
    ([0.75, -0.75, -0.75, 0.75], 1)
    """
    marks = analysis.marks
    key, card_of = np.unique(marks.card, return_inverse=True)
    n_marks = np.bincount(card_of)
    deviation = np.bincount(card_of, weights=analysis.residual) / n_marks
    spare = np.bincount(card_of, weights=1.0 - analysis.leverage) / n_marks
    spare[spare < LEAST_LEFT] = 0.0
    within = float(np.sum((analysis.residual - deviation[card_of]) ** 2))
    within_df = float((spare * (n_marks - 1)).sum())
    mark_noise = within / within_df if within_df > LEAST_LEFT else 0.0
    df = float(spare.sum())
    noise, taste, mark_noise = card_noise(deviation, spare, n_marks, mark_noise)
    return CardTable(
        analysis=analysis,
        card_of=card_of,
        entry=key // len(marks.judges),
        judge=key % len(marks.judges),
        n_marks=n_marks,
        deviation=deviation,
        spare=spare,
        noise=noise,
        taste=taste,
        mark_noise=mark_noise,
        df=math.floor(df + LEAST_LEFT),
        steadiness=steadiness(analysis),
        left=tuple(analysis.residual[design.position].sum(axis=0) for design in analysis.designs),
    )


def card_noise(
    deviation: Floats, spare: Floats, n_marks: Codes, mark_noise: float
) -> tuple[Floats, float, float]:
    """Estimate how much judges' likings of whole entries vary, and the noise of each card.

    Parameters
    ----------
    deviation, spare : ndarray of float, shape (n_cards,)
        As in `CardTable`.
    n_marks : ndarray of int, shape (n_cards,)
    mark_noise : float [points squared]
        Variance of single marks about their cards.

    Returns
    -------
    noise : ndarray of float, shape (n_cards,) [points squared]
    taste, mark_noise : float [points squared]

    Source
    ------
    As `card_table`.

    Example
    -------
    >>> swing = np.array([0.75, -0.75, -0.75, 0.75])
    >>> card_noise(swing, np.full(4, 0.25), np.ones(4, dtype=int), 0.0)[1]
    2.25
    """
    df = float(spare.sum())
    taste = 0.0
    if df > LEAST_LEFT:
        seen = float(np.sum(deviation**2)) - mark_noise * float((spare / n_marks).sum())
        taste = max(seen / df, 0.0)
    raw = taste + mark_noise / n_marks
    if raw.max() <= 0.0:
        raw, taste, mark_noise = np.ones(n_marks.size), 1.0, 0.0
    scale = float(np.sum(deviation**2 / raw)) / df if df > LEAST_LEFT else math.nan
    return scale * raw, scale * taste, scale * mark_noise


def added(table: CardTable, pattern: Floats) -> Added:
    """Ask how much of the cards one more pattern would explain, beside entries and judges.

    Parameters
    ----------
    table : CardTable
    pattern : ndarray of float, shape (n_cards,)
        Such as the hour at which a judge marked each card, and 0 on the cards of other judges.

    Returns
    -------
    Added
        Everything nan where entries and judges take up the whole pattern.

    Notes
    -----
    Added-variable regression: the pattern is freed of entries and judges criterion by criterion,
    and the residuals are regressed on what is left. Externally studentized.

    Source
    ------
    Cook, R. D. & Weisberg, S., Residuals and Influence in Regression, 1982 (from memory).

    Example
    -------
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge = (axis.ravel() for axis in np.indices((4, 3)))
    >>> score = entry + judge + 0.5 * (entry == 2) * (judge == 1)
    >>> table = card_table(analyse(read_marks(entry, judge, [0] * 12, score)))
    >>> found = added(table, 1.0 * (table.entry == 2) * (table.judge == 1))
    >>> round(found.slope, 9), found.statistic
    (0.5, inf)
    """
    return added_each(table, pattern[:, None])[0]


def added_each(table: CardTable, patterns: Floats) -> list[Added]:
    """Ask the same of several patterns, each by itself.

    Parameters
    ----------
    table : CardTable
    patterns : ndarray of float, shape (n_cards, n_patterns)

    Returns
    -------
    list of Added

    Source
    ------
    As `added`: Cook and Weisberg 1982 (from memory).

    Example
    -------
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge = (axis.ravel() for axis in np.indices((4, 3)))
    >>> table = card_table(analyse(read_marks(entry, judge, [0] * 12, entry * judge)))
    >>> len(added_each(table, np.eye(12)[:, :5]))
    5
    """
    n_patterns = patterns.shape[1]
    explained, square = np.zeros(n_patterns), np.zeros(n_patterns)
    per_card = np.zeros(patterns.shape)
    for design, left in zip(table.analysis.designs, table.left, strict=True):
        cards, n_criteria = table.card_of[design.position[0]], len(design.position)
        free = design.seen.solve(patterns[cards])[2]
        explained += left @ free
        square += n_criteria * np.sum(free**2, axis=0)
        per_card[cards] += n_criteria * free
    whole = table.n_marks @ patterns**2
    variance = table.taste * np.sum(per_card**2, axis=0) + table.mark_noise * square
    told = square > LEAST_LEFT * np.maximum(whole, 1e-300)
    return [
        _added(table, *numbers)
        for numbers in zip(
            explained.tolist(), square.tolist(), variance.tolist(), told.tolist(), strict=True
        )
    ]


def _added(table: CardTable, explained: float, square: float, variance: float, told: bool) -> Added:
    if table.df < LEAST_DF or not told:
        return Added(math.nan, math.nan, math.nan, max(table.df - 1, 0))
    share = explained**2 / (table.df * variance) if variance > 0.0 else 0.0
    share = 1.0 if share > 1.0 - 1e-12 else share
    df = table.df - 1
    size = math.sqrt(df * share / (1.0 - share)) if share < 1.0 else math.inf
    slope = explained / square
    error = 0.0 if share == 1.0 else math.sqrt(variance * table.df * (1.0 - share) / df) / square
    return Added(slope, error, math.copysign(size, slope) if size else 0.0, df)
