"""Two cards of one judge that fit better when exchanged."""

from __future__ import annotations

import math
from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from judging.rules.results.cards import CardTable
from judging.rules.results.labels import Floats
from judging.rules.results.steadiness import careful_variances
from judging.rules.results.thresholds import LEAST_DF

# Fewer common rows carry too little of a pattern.
LEAST_ROWS = 5
# The exchange must make the marks this many times as likely, whatever its test says.
LEAST_ODDS = 20.0
# An exchange may leave the cards worse by this many noise variances than one odd card would.
WORSE_BY = 9.0
MOST_TRIED = 12
PANEL = 2
NORMAL_MAD = 0.6745
LARGEST_LAYOUT = 40_000_000


@dataclass(frozen=True)
class Swap:
    """Two cards of a judge that look interchanged.

    Attributes
    ----------
    judge, first, second : hashable
        The judge, and the two entries whose cards look exchanged.
    log_odds : float
        Logarithm of how many times likelier the marks are with the cards exchanged.
    statistic : float
        Standard normal when the cards are as they should be.
    threshold : float
    pair : bool
        True when only two judges marked these entries: whose cards were exchanged cannot be told.
    """

    judge: Hashable
    first: Hashable
    second: Hashable
    log_odds: float
    statistic: float
    threshold: float
    pair: bool


@dataclass(frozen=True)
class Swaps:
    """Result of the search for exchanged cards.

    Attributes
    ----------
    flagged : tuple of Swap
        Clearest first; each card at most once.
    threshold : float
        inf when nothing can be checked.
    alpha : float
        Chance that a show without exchanged cards gets at least one flag, at most.
    n_checked : int
        Pairs of cards compared.
    """

    flagged: tuple[Swap, ...]
    threshold: float
    alpha: float
    n_checked: int


@dataclass(frozen=True)
class _Levels:
    """Variances which both stories, as written and exchanged, are weighed with.

    Those of marks and cards are the judge's own, and those of one other judge on average.
    """

    marks: float
    marks_of_others: float
    rows: float
    cards: float
    cards_of_others: float
    entries: float


@dataclass(frozen=True, eq=False)
class _Compared:
    """All pairs of entries of one judge, each shape (n_entries, n_entries)."""

    log_odds: Floats
    statistic: Floats
    n_rows: Floats
    others: Floats


def swapped_cards(table: CardTable, alpha: float = 0.05) -> Swaps:
    """Find cards filled in for the wrong wagon.

    Parameters
    ----------
    table : CardTable
    alpha : float
        Chance of at least one false alarm in the whole show.

    Returns
    -------
    Swaps

    Raises
    ------
    ValueError
        When alpha is not between 0 and 1.

    Notes
    -----
    For a judge and two entries let q be the judge's differences row by row and c those of the
    other judges' mean, each freed of the judges' strictness. Each is split into its mean and the
    pattern about it. Given c, q should be L c plus noise of variance V, with L shrunk for the
    noise in c; with the cards exchanged it would be -L c. The log likelihood ratio

        -2 [L_m q0 c0 / V_m + L_w sum q_k c_k / V_w]

    is normal with mean -T/2 and variance T = 4 [L_m^2 c0^2 / V_m + L_w^2 sum c_k^2 / V_w] when
    the cards are right, so it is standardized and held against Bonferroni's bound over all pairs
    of cards. An exchange must also make the marks 20 times likelier, and must not leave the table
    of cards less quiet, by more than three standard deviations, than calling any one card of the
    two entries odd would: otherwise a favour would be called an exchange.

    It says that two cards fit better exchanged; it does not find an exchange of two entries which
    the panel saw alike, and with two judges it does not say whose cards.

    Source
    ------
    Neyman, J. & Pearson, E. S., likelihood ratio, 1933; Bonferroni's bound as Stefansky 1972 (both
    from memory). The construction is our own; simulations in the tests are its evidence.

    Example
    -------
    >>> from judging.rules.results.cards import card_table
    >>> from judging.rules.results.panel import analyse, read_marks
    >>> rng = np.random.default_rng(3)
    >>> score = rng.normal(6, 1.2, (10, 1, 20)) + rng.normal(0, 0.5, (10, 3, 20))
    >>> score[[2, 7], 1] = score[[7, 2], 1]
    >>> entry, judge, row = (axis.ravel() for axis in np.indices(score.shape))
    >>> found = swapped_cards(card_table(analyse(read_marks(entry, judge, row, score.ravel()))))
    >>> [(swap.judge, swap.first, swap.second) for swap in found.flagged]
    [(1, 2, 7)]
    """
    if not 0.0 < alpha < 1.0:
        raise ValueError("The false-alarm rate alpha must lie between 0 and 1.")
    nothing = Swaps((), math.inf, alpha, 0)
    layout = _layout(table)
    if layout is None or table.df < LEAST_DF:
        return nothing
    own, others, n_others = layout
    levels = _levels(table)
    if levels is None:
        return nothing
    compared = [
        _compare(own[:, j], others[:, j], n_others[:, j], levels[j]) for j in range(own.shape[1])
    ]
    upper = np.triu(np.ones((own.shape[0], own.shape[0]), dtype=bool), 1)
    can = np.array([upper & (one.n_rows >= LEAST_ROWS) for one in compared])
    n_checked = int(can.sum())
    if not n_checked:
        return nothing
    threshold = -float(scipy.special.ndtri(alpha / n_checked))
    odds = np.array([one.log_odds for one in compared])
    statistic = np.array([one.statistic for one in compared])
    likely = can & (statistic > threshold) & (odds > math.log(LEAST_ODDS))
    return Swaps(_clearest(table, compared, likely, threshold), threshold, alpha, n_checked)


def _layout(table: CardTable) -> tuple[Floats, Floats, Floats] | None:
    """Marks freed of strictness, others' means and their number, by entry, judge, criterion."""
    analysis, marks = table.analysis, table.analysis.marks
    shape = (len(marks.entries), len(marks.judges), len(marks.criteria))
    if math.prod(shape) > LARGEST_LAYOUT or shape[1] < PANEL:
        return None
    own = np.full(shape, np.nan)
    level = np.nanmean(analysis.entry_mean, axis=0)
    free = marks.value - analysis.judge_effect[marks.judge, marks.criterion]
    own[marks.entry, marks.judge, marks.criterion] = free - level[marks.criterion]
    there = ~np.isnan(own)
    total = np.where(there, own, 0.0)
    n_others = there.sum(axis=1, keepdims=True) - there
    rest = total.sum(axis=1, keepdims=True) - total
    usable = there & (n_others > 0)
    others = np.where(usable, rest / np.maximum(n_others, 1), np.nan)
    return np.where(usable, own, np.nan), others, np.where(usable, n_others, 0.0)


def _levels(table: CardTable) -> list[_Levels] | None:
    """Variances for each judge, from the whole show; None when the marks fit exactly."""
    analysis = table.analysis
    known = ~np.isnan(analysis.entry_mean)
    judges_of_mark = analysis.marks.value.size / np.count_nonzero(known)
    noise = table.steadiness
    if not analysis.df or noise.pooled <= 0.0:
        return None
    own = careful_variances(noise)
    n = own.size
    others = (own.sum() - own) / (n - 1)
    merit = table.merit
    level = np.nanmean(analysis.entry_mean, axis=0)
    pattern = np.where(known, analysis.entry_mean - level - merit[:, None], 0.0)
    pattern_df = (len(merit) - 1) * (known.sum() / len(merit) - 1.0)
    rows = 0.0
    if pattern_df > 0:
        rows = max(float(np.sum(pattern**2)) / pattern_df - noise.pooled / judges_of_mark, 0.0)
    shown = table.spare > 0.0
    standard = np.abs(table.deviation[shown]) / np.sqrt(table.spare[shown])
    cards = (float(np.median(standard)) / NORMAL_MAD) ** 2
    per_card = float(np.mean(1.0 / table.n_marks))
    taste = max(cards - noise.pooled * per_card, 0.0)
    entries = max(float(np.var(merit, ddof=1)) - cards / judges_of_mark, 0.0)
    return [
        _Levels(
            marks=float(own[j]),
            marks_of_others=float(others[j]),
            rows=rows,
            cards=taste + float(own[j]) * per_card,
            cards_of_others=taste + float(others[j]) * per_card,
            entries=entries,
        )
        for j in range(n)
    ]


def _compare(own: Floats, others: Floats, n_others: Floats, levels: _Levels) -> _Compared:
    """Compare every two entries of one judge; arrays are by entry and criterion."""
    there = ~np.isnan(own)
    mask = there.astype(np.float64)
    q, c = np.where(there, own, 0.0), np.where(there, others, 0.0)
    n_rows = mask @ mask.T
    count = np.maximum(n_rows, 1.0)
    per_row = n_others.sum(axis=1) / np.maximum(mask.sum(axis=1), 1.0)
    per_row = np.maximum(per_row, 1.0)
    judges = 2.0 / (1.0 / per_row[:, None] + 1.0 / per_row[None, :])

    def mean(x: Floats) -> Floats:
        left = x @ mask.T
        difference: Floats = (left - left.T) / count
        return difference

    def product(x: Floats, y: Floats) -> Floats:
        same = (x * y) @ mask.T
        across = x @ y.T
        both: Floats = same + same.T - across - across.T
        return both

    q0, c0 = mean(q), mean(c)
    q_c = product(q, c) - count * q0 * c0
    c_c = np.maximum(product(c, c) - count * c0**2, 0.0)
    shrink_mean = levels.entries / (levels.entries + levels.cards_of_others / judges)
    noise_mean = 2.0 * (levels.cards + levels.entries * (1.0 - shrink_mean))
    shrink_row = levels.rows / (levels.rows + levels.marks_of_others / judges)
    noise_row = 2.0 * (levels.marks + levels.rows * (1.0 - shrink_row))
    log_odds = -2.0 * (shrink_mean * q0 * c0 / noise_mean + shrink_row * q_c / noise_row)
    spread = 4.0 * (shrink_mean**2 * c0**2 / noise_mean + shrink_row**2 * c_c / noise_row)
    root = np.sqrt(np.maximum(spread, 1e-12))
    return _Compared(log_odds, (log_odds + spread / 2.0) / root, n_rows, judges)


def _clearest(
    table: CardTable, compared: list[_Compared], likely: NDArray[np.bool_], threshold: float
) -> tuple[Swap, ...]:
    """Clearest exchanges first, each entry once."""
    marks = table.analysis.marks
    places = [(int(j), int(a), int(b)) for j, a, b in zip(*np.nonzero(likely), strict=True)]
    places.sort(key=lambda place: -compared[place[0]].log_odds[place[1:]])
    taken: set[int] = set()
    swaps = []
    for j, a, b in places[:MOST_TRIED]:
        if taken & {a, b} or not _better_than_one_card(table, j, a, b):
            continue
        taken |= {a, b}
        one = compared[j]
        swaps.append(
            Swap(
                judge=marks.judges[j],
                first=marks.entries[a],
                second=marks.entries[b],
                log_odds=float(one.log_odds[a, b]),
                statistic=float(one.statistic[a, b]),
                threshold=threshold,
                pair=bool(one.others[a, b] < PANEL),
            )
        )
    return tuple(swaps)


def _better_than_one_card(table: CardTable, judge: int, first: int, second: int) -> bool:
    """Whether exchanging leaves the table of cards as quiet as calling one card odd does."""
    weight = 1.0 / table.noise
    before = float(weight @ table.deviation**2)
    near = np.isin(table.entry, (first, second)) & (table.spare > 0.0)
    gain = (weight * table.deviation**2)[near] / table.spare[near]
    one_card = before - float(gain.max())
    after = float(weight @ _exchanged(table, judge, first, second) ** 2)
    noise = max(one_card, 1e-12 * before) / max(table.df - 1, 1)
    return after - one_card <= WORSE_BY * noise


def _exchanged(table: CardTable, judge: int, first: int, second: int) -> Floats:
    """Mean residual of each card with two cards of a judge exchanged where both have a mark."""
    marks, total = table.analysis.marks, np.zeros(table.entry.size)
    for design in table.analysis.designs:
        value = marks.value[design.position].T
        one = np.flatnonzero((design.judge == judge) & (design.entry == first))
        other = np.flatnonzero((design.judge == judge) & (design.entry == second))
        if one.size and other.size:
            value[[one[0], other[0]]] = value[[other[0], one[0]]]
        left = design.seen.solve(value)[2]
        total[table.card_of[design.position[0]]] += left.sum(axis=1)
    mean: Floats = total / table.n_marks
    return mean
