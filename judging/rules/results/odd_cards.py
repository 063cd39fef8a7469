"""Which whole cards deserve a question: held against how much judges' likings vary in this show."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import dataclass, replace

import numpy as np
import scipy

from judging.rules.results.cards import CardTable, card_noise
from judging.rules.results.labels import Codes, Floats
from judging.rules.results.scale_ends import HIGH, LOW, beyond_the_ends
from judging.rules.results.thresholds import LEAST_DF, RESERVE, bonferroni_threshold, studentized

PAIR = 2
ROUNDING = 1e-9


@dataclass(frozen=True, eq=False)
class OddCards:
    """Cards which as a whole stand higher or lower than panel and habit suggest.

    Attributes
    ----------
    entry, judge : tuple of hashable, shape (n_cards,)
    statistic : ndarray of float, shape (n_cards,)
        Externally studentized; nan where the card cannot be checked.
    shift, low, high : ndarray of float, shape (n_cards,) [points]
        How much higher each mark of the card is than the other cards suggest, on the common
        scale of 0 to 10, with an interval that is right for one card chosen beforehand 95 times
        in 100.
    threshold : float
    alpha : float
        Chance that a show without favour gets at least one flag, at most.
    df : int
    flagged : tuple of int
        Positions of the flagged cards, most extreme first.
    pair_of : ndarray of int, shape (n_cards,)
        The other card where an entry has two: which of the two is unusual cannot be told. Else -1.
    """

    entry: tuple[Hashable, ...]
    judge: tuple[Hashable, ...]
    statistic: Floats
    shift: Floats
    low: Floats
    high: Floats
    threshold: float
    alpha: float
    df: int
    flagged: tuple[int, ...]
    pair_of: Codes


def odd_cards(table: CardTable, alpha: float = 0.05) -> OddCards:
    """Find the card which a favour or a grudge would explain.

    Parameters
    ----------
    table : CardTable
    alpha : float
        Chance of at least one false alarm in the whole show.

    Returns
    -------
    OddCards

    Raises
    ------
    ValueError
        When alpha is not between 0 and 1.

    Notes
    -----
    Maximum normed residual of the table of cards, externally studentized, two-sided, Bonferroni
    over all cards at 0.9 alpha (the bound is all but exact here, and marks in whole steps between
    two ends are not quite normal). Of all tests that do not depend on merit, severity or the size
    of the likings it finds one odd card most often. What the ends of the scale hide of a card's
    mean is taken back first (`unended`); ``shift`` is of the marks as they are written. A card is
    measured against how much judges' likings vary from card to card in this show, never against
    the noise of single marks: honest taste would then be flagged everywhere.
    Of several cards of an entry only the most extreme is flagged. It says that a card stands out;
    it does not say why, and a true difference of opinion looks the same.

    Source
    ------
    Stefansky, W., Rejecting outliers in factorial designs, Technometrics 14, 469-479, 1972; that
    it is the best: Ferguson, T. S., On the rejection of outliers, Fourth Berkeley Symposium 1,
    253-287, 1961 (from memory).

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge, row = (axis.ravel() for axis in np.indices((8, 3, 5)))
    >>> score = 5 + entry % 3 + (entry * 7 + judge * 5 + row * 3) % 4 / 4
    >>> score = score + 2.0 * ((entry == 6) & (judge == 1))
    >>> odd = odd_cards(card_table(analyse(read_marks(entry, judge, row, score))))
    >>> [(odd.entry[i], odd.judge[i], round(float(odd.shift[i]), 1)) for i in odd.flagged]
    [(6, 1, 2.1)]
    """
    marks, df = table.analysis.marks, table.df
    can = (table.spare > 0.0) & (df >= LEAST_DF)
    leverage = np.where(can, 1.0 - table.spare, 1.0)
    statistic = _statistic(unended(table), leverage)
    written = _statistic(table, leverage)
    threshold = bonferroni_threshold(RESERVE * alpha, int(can.sum()), df)
    shift = np.where(can, table.deviation, np.nan) / np.where(can, table.spare, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        error = np.where(written == 0.0, np.sqrt(table.noise / table.spare), shift / written)
    reach = np.abs(error) * (
        float(scipy.special.stdtrit(df - 1, 0.975)) if df >= LEAST_DF else math.nan
    )
    size = np.round(np.abs(np.where(can, statistic, 0.0)), 9)
    oddest_there = np.zeros(len(marks.entries))
    np.maximum.at(oddest_there, table.entry, size)
    flagged = np.flatnonzero((size > threshold) & (size >= oddest_there[table.entry]))
    ranked = flagged[np.argsort(-size[flagged], kind="stable")]
    return OddCards(
        entry=tuple(marks.entries[code] for code in table.entry),
        judge=tuple(marks.judges[code] for code in table.judge),
        statistic=statistic,
        shift=shift,
        low=shift - reach,
        high=shift + reach,
        threshold=threshold,
        alpha=alpha,
        df=df,
        flagged=tuple(int(card) for card in ranked),
        pair_of=_pairs(table.entry),
    )


def unended(table: CardTable) -> CardTable:
    """Measure the cards as if the scale had no ends; nothing changes where no mark is at an end.

    Parameters
    ----------
    table : CardTable

    Returns
    -------
    CardTable
        With other deviations, and the noise that belongs to them. The same one where no mark is at
        an end, where any lies beyond, or where the cards fit exactly.

    Notes
    -----
    Each card is shifted as a whole, by what `beyond_the_ends` takes back of its mean, and freed of
    entries and judges criterion by criterion as its marks were. The spread of the marks on a card
    is the median over the cards, so that those at the ends do not count in it.

    Source
    ------
    As `beyond_the_ends`.

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> entry, judge, row = (axis.ravel() for axis in np.indices((4, 3, 5)))
    >>> table = card_table(analyse(read_marks(entry, judge, row, 4 + (entry * judge + row) % 4)))
    >>> unended(table) is table
    True
    """
    value = table.analysis.marks.value
    at_end = (value == LOW) | (value == HIGH)
    fits = bool(np.all(np.abs(table.deviation) <= ROUNDING))
    if fits or not at_end.any() or value.min() < LOW or value.max() > HIGH:
        return table
    mean = np.bincount(table.card_of, weights=value) / table.n_marks
    squares = np.bincount(table.card_of, weights=(value - mean[table.card_of]) ** 2)
    several = table.n_marks > 1
    if not several.any():
        return table
    spread = float(np.median(np.sqrt(squares[several] / (table.n_marks[several] - 1))))
    hidden = beyond_the_ends(mean, spread) - mean
    deviation = table.deviation.copy()
    for design in table.analysis.designs:
        cards = table.card_of[design.position[0]]
        free = design.seen.solve(hidden[cards][:, None])[2][:, 0]
        deviation[cards] += len(design.position) * free / table.n_marks[cards]
    noise, taste, mark_noise = card_noise(deviation, table.spare, table.n_marks, table.mark_noise)
    return replace(table, deviation=deviation, noise=noise, taste=taste, mark_noise=mark_noise)


def _statistic(table: CardTable, leverage: Floats) -> Floats:
    """Studentize the cards' deviations."""
    with np.errstate(invalid="ignore", divide="ignore"):
        standard = np.where(table.noise > 0.0, table.deviation / np.sqrt(table.noise), 0.0)
    return studentized(standard, leverage, float(max(table.df, 1)), table.df)


def _pairs(entry: Codes) -> Codes:
    """The other card of an entry with exactly two, else -1; entries are sorted."""
    _, start, count = np.unique(entry, return_index=True, return_counts=True)
    pair_of = np.full(entry.size, -1, dtype=np.intp)
    first = start[count == PAIR]
    pair_of[first], pair_of[first + 1] = first + 1, first
    return pair_of
