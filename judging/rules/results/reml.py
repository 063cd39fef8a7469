"""The arithmetic of `crossed.py`: cards and entries are absorbed, judges and means remain."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import scipy

from judging.rules.results.labels import Codes, Floats

# Pairs of cards of one entry up to which they are added up one by one.
MANY_PAIRS = 4_000_000
# Below this ratio the slope towards nought is nought.
LEAST_RATIO = 1e-7


@dataclass(frozen=True, eq=False)
class Cells:
    """What the scores say, card by card: a card is one judge's scores of one entry.

    Attributes
    ----------
    entry, judge : ndarray of int, shape (n_cards,)
        Sorted by entry, then judge.
    count, total : ndarray of float, shape (n_cards,)
        Scores of the card, and their sum about ``centre`` [points].
    rows : ndarray of float, shape (n_cards, n_criteria)
        How often each criterion was scored on the card.
    row_count, row_total : ndarray of float, shape (n_criteria,)
    square : float [points squared]
        Sum of squares about ``centre``.
    centre : ndarray of float, shape (n_criteria,) [points]
        Mean of each criterion.
    n_scores, n_entries, n_judges, n_criteria : int
    first_of_entry : ndarray of int, shape (n_entries,)
        Where the cards of each entry begin.
    by_judge, first_of_judge : ndarray of int
        The cards ordered by judge, and where each judge's cards begin in that order.
    pair_left, pair_right : ndarray of int
        Every pair of cards of the same entry; empty when there are too many.
    """

    entry: Codes
    judge: Codes
    count: Floats
    total: Floats
    rows: Floats
    row_count: Floats
    row_total: Floats
    square: float
    centre: Floats
    n_scores: int
    n_entries: int
    n_judges: int
    n_criteria: int
    first_of_entry: Codes
    by_judge: Codes
    first_of_judge: Codes
    pair_left: Codes
    pair_right: Codes

    def per_entry(self, card: Floats) -> Floats:
        """Add up over the cards of each entry."""
        added: Floats = np.add.reduceat(card, self.first_of_entry, axis=0)
        return added

    def per_judge(self, card: Floats) -> Floats:
        """Add up over the cards of each judge."""
        added: Floats = np.add.reduceat(card[self.by_judge], self.first_of_judge, axis=0)
        return added


@dataclass(frozen=True, eq=False)
class Absorbed:
    """The mixed model equations of judges and means, at given ratios.

    Attributes
    ----------
    deviance : float
        Restricted, with the noise at its best value.
    quadratic : float [points squared]
        Sum of squares left when all is fitted.
    df : int
        Scores less means.
    lower : ndarray of float, shape (n_judges + n_criteria, n_judges + n_criteria)
        Lower Cholesky factor of the equations.
    right : ndarray of float, shape (n_judges + n_criteria,)
    entry_weight, entry_right : ndarray of float, shape (n_entries,)
    ratios : tuple of three floats
    """

    deviance: float
    quadratic: float
    df: int
    lower: Floats
    right: Floats
    entry_weight: Floats
    entry_right: Floats
    ratios: tuple[float, float, float]
    _card_weight: Floats
    _entry_rows: Floats
    _entry_sum: Floats
    _cells: Cells

    def slope(self) -> Floats:
        """Slope of the deviance in the three ratios, shape (3,).

        Notes
        -----
        For an effect with ratio t, design Z and the projection P of the whole model the slope is
        2 t (trace(Z'PZ) - df |Z'Py|^2 / y'Py).
        """
        cells, n = self._cells, self._cells.n_judges
        inverse, solution = self.inverse_and_solution()
        a, b, c = self.ratios
        shrink = a**2 / self.entry_weight
        links_times = self.links_through(inverse)
        pull = self.df / self.quadratic
        entry_left = self.entry_right - self.linked(solution)
        entry_score = entry_left / self.entry_weight
        trace = float((self._entry_sum / self.entry_weight).sum())
        trace -= float((links_times / self.entry_weight**2).sum())
        slopes = np.zeros(3)
        slopes[0] = 2.0 * a * (trace - pull * float(entry_score @ entry_score))
        if b > LEAST_RATIO:
            kept = n - float(np.trace(inverse[:n, :n]))
            slopes[1] = 2.0 / b * (kept - pull * float(solution[:n] @ solution[:n]))
        if c > 0.0:
            g = self._card_weight / cells.count
            fitted = cells.count * (shrink * entry_left)[cells.entry] + cells.rows @ solution[n:]
            fitted += cells.count * b * solution[cells.judge]
            card_score = g * (cells.total - fitted)
            spread = np.zeros((cells.count.size, len(inverse)))
            spread[:, n:] = cells.rows
            spread[np.arange(cells.count.size), cells.judge] = b * cells.count
            spread -= cells.count[:, None] * (shrink[:, None] * self.entry_links())[cells.entry]
            variance = np.einsum("ij,ij->i", spread @ inverse, spread)
            variance += cells.count**2 * shrink[cells.entry]
            trace = float((self._card_weight - g**2 * variance).sum())
            slopes[2] = 2.0 * c * (trace - pull * float(card_score @ card_score))
        return slopes

    def inverse_and_solution(self) -> tuple[Floats, Floats]:
        """Inverse of the equations, and their solution: judges scaled, then means."""
        inverse = scipy.linalg.lapack.dpotri(self.lower, lower=1)[0]
        inverse = np.tril(inverse) + np.tril(inverse, -1).T
        return inverse, inverse @ self.right

    def linked(self, solution: Floats) -> Floats:
        """Weights of each entry times what judges and means have."""
        cells = self._cells
        part = self.ratios[1] * self._card_weight * solution[cells.judge]
        return cells.per_entry(part) + self._entry_rows @ solution[cells.n_judges :]

    def links_through(self, inverse: Floats) -> Floats:
        """Weights of each entry times the inverse times these weights again, shape (n_entries,)."""
        cells, n, b = self._cells, self._cells.n_judges, self.ratios[1]
        rows = self._entry_rows
        if not cells.pair_left.size:
            links = self.entry_links()
            whole: Floats = np.einsum("ij,ij->i", links @ inverse, links)
            return whole
        left, right = cells.pair_left, cells.pair_right
        weight = b * self._card_weight
        paired = weight[left] * weight[right] * inverse[cells.judge[left], cells.judge[right]]
        across = inverse[cells.judge, n:] * rows[cells.entry]
        total = cells.per_entry(2.0 * weight * across.sum(axis=1))
        total += np.einsum("ij,ij->i", rows @ inverse[n:, n:], rows)
        total += np.bincount(cells.entry[left], weights=paired, minlength=cells.n_entries)
        return total

    def entry_links(self) -> Floats:
        """Weights which tie each entry to judges and means, shape (n_entries, n_judges + ...)."""
        cells = self._cells
        links = np.zeros((cells.n_entries, cells.n_judges + cells.n_criteria))
        links[cells.entry, cells.judge] = self.ratios[1] * self._card_weight
        links[:, cells.n_judges :] = self._entry_rows
        return links


def cells_of(entry: Codes, judge: Codes, criterion: Codes, score: Floats) -> Cells:
    """Sum the scores up by card.

    Parameters
    ----------
    entry, judge, criterion : ndarray of int, shape (n,)
        Codes 0, 1, ... without gaps.
    score : ndarray of float, shape (n,) [points]

    Returns
    -------
    Cells

    Example
    -------
    >>> seen = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])
    >>> cells_of(*seen, np.zeros(4, dtype=int), np.array([1.0, 2.0, 3.0, 6.0])).total.tolist()
    [-2.0, -1.0, 0.0, 3.0]
    """
    n_entries, n_judges = int(entry.max()) + 1, int(judge.max()) + 1
    n_criteria = int(criterion.max()) + 1
    row_count = np.bincount(criterion).astype(np.float64)
    centre = np.bincount(criterion, weights=score) / row_count
    y = score - centre[criterion]
    key, cell = np.unique(entry * n_judges + judge, return_inverse=True)
    n_cards = key.size
    flat = np.bincount(cell * n_criteria + criterion, minlength=n_cards * n_criteria)
    card_entry, card_judge = key // n_judges, key % n_judges
    cards_of = np.bincount(card_entry)
    begins = np.concatenate(([0], np.cumsum(cards_of)[:-1]))
    by_judge = np.argsort(card_judge, kind="stable")
    left = right = np.zeros(0, dtype=np.intp)
    if float(cards_of @ cards_of) <= MANY_PAIRS:
        left = np.repeat(np.arange(n_cards), cards_of[card_entry])
        within = np.arange(left.size) - np.repeat(
            np.cumsum(cards_of[card_entry]) - cards_of[card_entry], cards_of[card_entry]
        )
        right = begins[card_entry[left]] + within
    return Cells(
        entry=card_entry,
        judge=card_judge,
        count=np.bincount(cell).astype(np.float64),
        total=_sums(cell, y),
        rows=flat.reshape(n_cards, n_criteria).astype(np.float64),
        row_count=row_count,
        row_total=_sums(criterion, y),
        square=float(y @ y),
        centre=centre,
        n_scores=score.size,
        n_entries=n_entries,
        n_judges=n_judges,
        n_criteria=n_criteria,
        first_of_entry=begins,
        by_judge=by_judge,
        first_of_judge=np.searchsorted(card_judge[by_judge], np.arange(n_judges)),
        pair_left=left,
        pair_right=right,
    )


def connected_parts(cells: Cells) -> tuple[int, Codes]:
    """Count the parts of the panel that no judge links, and give each entry's part.

    Example
    -------
    >>> codes = np.array([0, 1, 2]), np.array([0, 0, 1]), np.zeros(3, dtype=int)
    >>> connected_parts(cells_of(*codes, np.zeros(3)))[1].tolist()
    [0, 0, 1]
    """
    size = cells.n_entries + cells.n_judges
    link = (np.ones(cells.entry.size), (cells.entry, cells.judge + cells.n_entries))
    n_parts, part = scipy.sparse.csgraph.connected_components(
        scipy.sparse.coo_array(link, shape=(size, size)), directed=False
    )
    return int(n_parts), part[: cells.n_entries].astype(np.intp)


def absorb(cells: Cells, ratios: Floats) -> Absorbed:
    """Set up and factorise the equations of judges and means.

    Parameters
    ----------
    cells : Cells
    ratios : ndarray of float, shape (3,)
        Standard deviations of entries, judges and cards over that of the noise.

    Returns
    -------
    Absorbed

    Notes
    -----
    With g = 1 / (1 + n c^2) for a card of n scores, absorbing the cards leaves weights n g; with
    D = 1 + a^2 times their sum, absorbing the entries leaves a system of judges and means. The
    effects are scaled by their ratios, so that a ratio of nought needs no special case.

    Example
    -------
    >>> seen = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])
    >>> cells = cells_of(*seen, np.zeros(4, dtype=int), np.array([1.0, 2.0, 3.0, 6.0]))
    >>> absorb(cells, np.zeros(3)).quadratic
    14.0
    """
    a, b, c = float(ratios[0]) ** 2, float(ratios[1]), float(ratios[2]) ** 2
    judges = slice(0, cells.n_judges)
    means = slice(cells.n_judges, None)
    g = 1.0 / (1.0 + c * cells.count)
    weight = cells.count * g
    card_rows = g[:, None] * cells.rows
    entry_rows = cells.per_entry(card_rows)
    entry_right = cells.per_entry(g * cells.total)
    entry_sum = cells.per_entry(weight)
    entry_weight = 1.0 + a * entry_sum
    shrink = a / entry_weight
    size = cells.n_judges + cells.n_criteria
    matrix = np.empty((size, size))
    matrix[judges, judges] = -(b**2) * _judge_gram(cells, weight, shrink)
    matrix[judges, judges] += np.diag(1.0 + b**2 * cells.per_judge(weight))
    across = card_rows - (weight * shrink[cells.entry])[:, None] * entry_rows[cells.entry]
    matrix[judges, means] = b * cells.per_judge(across)
    matrix[means, judges] = matrix[judges, means].T
    matrix[means, means] = np.diag(cells.row_count) - cells.rows.T @ (c * card_rows)
    matrix[means, means] -= entry_rows.T @ (shrink[:, None] * entry_rows)
    right = np.empty(size)
    fitted = g * cells.total - weight * (shrink * entry_right)[cells.entry]
    right[judges] = b * cells.per_judge(fitted)
    right[means] = cells.row_total - cells.rows.T @ (c * g * cells.total)
    right[means] -= entry_rows.T @ (shrink * entry_right)
    lower = scipy.linalg.cholesky(matrix, lower=True, check_finite=False)
    half = scipy.linalg.solve_triangular(lower, right, lower=True, check_finite=False)
    quadratic = cells.square - c * float(g @ cells.total**2)
    quadratic -= float(shrink @ entry_right**2) + float(half @ half)
    quadratic = max(quadratic, 0.0)
    log_det = -float(np.log(g).sum()) + float(np.log(entry_weight).sum())
    log_det += 2.0 * float(np.log(np.diag(lower)).sum())
    df = cells.n_scores - cells.n_criteria
    deviance = math.inf
    if quadratic > 0.0 and df > 0:
        deviance = log_det + df * (1.0 + math.log(2.0 * math.pi * quadratic / df))
    return Absorbed(
        deviance=deviance,
        quadratic=quadratic,
        df=df,
        lower=lower,
        right=right,
        entry_weight=entry_weight,
        entry_right=entry_right,
        _card_weight=weight,
        _entry_rows=entry_rows,
        _entry_sum=entry_sum,
        ratios=(float(ratios[0]), b, float(ratios[2])),
        _cells=cells,
    )


def _judge_gram(cells: Cells, weight: Floats, shrink: Floats) -> Floats:
    """Sum over entries of shrink times the outer product of the entry's judge weights."""
    n = cells.n_judges
    if cells.pair_left.size:
        left, right = cells.pair_left, cells.pair_right
        product = (weight * shrink[cells.entry])[left] * weight[right]
        place = cells.judge[left] * n + cells.judge[right]
        return _sums(place, product, n * n).reshape(n, n)
    links = np.zeros((cells.n_entries, n))
    links[cells.entry, cells.judge] = weight
    gram: Floats = links.T @ (shrink[:, None] * links)
    return gram


def _sums(place: Codes, value: Floats, length: int = 0) -> Floats:
    """Add the values up by place."""
    added: Floats = np.bincount(place, weights=value, minlength=length).astype(np.float64)
    return added
