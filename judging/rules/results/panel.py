"""The marks of a panel, taken apart criterion by criterion: what every check starts from."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from judging.rules.results.effects import Crossing, crossing
from judging.rules.results.labels import Codes, Floats, Labels, encode, finite_scores


@dataclass(frozen=True, eq=False)
class Marks:
    """Marks of a show with the codes of entry, judge and criterion.

    Attributes
    ----------
    entries, judges, criteria : tuple
        Labels, sorted.
    entry, judge, criterion : ndarray of int, shape (n,)
        Position of each mark's label.
    value : ndarray of float, shape (n,) [points]
        On one common scale, 0 to 10.
    """

    entries: tuple[Hashable, ...]
    judges: tuple[Hashable, ...]
    criteria: tuple[Hashable, ...]
    entry: Codes
    judge: Codes
    criterion: Codes
    value: Floats

    @property
    def card(self) -> Codes:
        """One number for each entry and judge."""
        code: Codes = self.entry * len(self.judges) + self.judge
        return code


@dataclass(frozen=True, eq=False)
class Design:
    """Criteria which the same judges marked on the same entries.

    Attributes
    ----------
    seen : Crossing
        Who saw what; its codes are those of this design alone.
    position : ndarray of int, shape (n_criteria, n_cards)
        Where its marks stand in the list of all marks.
    entry, judge : ndarray of int, shape (n_cards,)
        Codes of the whole show.
    """

    seen: Crossing
    position: NDArray[np.intp]
    entry: Codes
    judge: Codes

    @cached_property
    def maker(self) -> Floats:
        """Matrix which turns the marks of a criterion into residuals."""
        return self.seen.residual_maker()


@dataclass(frozen=True, eq=False)
class Analysis:
    """One additive entry + judge fit for each criterion.

    Attributes
    ----------
    marks : Marks
    designs : tuple of Design
    residual : ndarray of float, shape (n,) [points]
    leverage : ndarray of float, shape (n,)
    entry_mean : ndarray of float, shape (n_entries, n_criteria) [points]
        Adjusted mean of each entry on each criterion; nan where nobody marked it.
    judge_effect : ndarray of float, shape (n_judges, n_criteria) [points]
        How much higher than the others a judge marks a criterion; nan where the judge did not.
    sse : float [points squared]
    df : int
        Residual degrees of freedom over all criteria.
    """

    marks: Marks
    designs: tuple[Design, ...]
    residual: Floats
    leverage: Floats
    entry_mean: Floats
    judge_effect: Floats
    sse: float
    df: int


def read_marks(entry: Labels, judge: Labels, criterion: Labels, score: ArrayLike) -> Marks:
    """Take in the marks, or refuse them in a sentence the office can act on.

    Parameters
    ----------
    entry, judge, criterion : sequence of hashable, shape (n,)
    score : array_like of float, shape (n,) [points]

    Returns
    -------
    Marks

    Raises
    ------
    ValueError
        When lists differ in length, are empty, a score is not finite, or a judge has two marks
        for the same entry and criterion.

    Example
    -------
    >>> read_marks(["Bell", "Ace"], ["Lee", "Lee"], ["fire", "fire"], [7, 8]).entry.tolist()
    [1, 0]
    """
    values = finite_scores(score, entry=entry, judge=judge, criterion=criterion)
    entries, entry_code = encode(entry)
    judges, judge_code = encode(judge)
    criteria, criterion_code = encode(criterion)
    marks = Marks(entries, judges, criteria, entry_code, judge_code, criterion_code, values)
    order = _order(marks)
    cell, row = marks.card[order], criterion_code[order]
    twice = (np.diff(cell) == 0) & (np.diff(row) == 0)
    if twice.any():
        where = int(np.flatnonzero(twice)[0])
        first, second = sorted((int(order[where]), int(order[where + 1])))
        raise ValueError(
            f"Marks number {first + 1} and {second + 1} are by the same judge for the same "
            "entry and criterion; keep one of them."
        )
    return marks


def analyse(marks: Marks) -> Analysis:
    """Fit every criterion by itself.

    Parameters
    ----------
    marks : Marks

    Returns
    -------
    Analysis

    Example
    -------
    >>> marks = read_marks(list("AABB"), list("XYXY"), ["fire"] * 4, [7, 8, 5, 9])
    >>> analyse(marks).residual.tolist()
    [0.75, -0.75, -0.75, 0.75]
    """
    n_criteria = len(marks.criteria)
    residual, leverage = np.empty(marks.value.size), np.empty(marks.value.size)
    entry_mean = np.full((len(marks.entries), n_criteria), np.nan)
    judge_effect = np.full((len(marks.judges), n_criteria), np.nan)
    sse, df = 0.0, 0
    designs = tuple(_designs(marks))
    for design in designs:
        means, effects, left = design.seen.solve(marks.value[design.position].T)
        rows = marks.criterion[design.position[:, 0]]
        entry_mean[np.ix_(np.unique(design.entry), rows)] = means
        judge_effect[np.ix_(np.unique(design.judge), rows)] = effects
        residual[design.position] = left.T
        leverage[design.position] = design.seen.leverage
        sse += float(np.sum(left**2))
        df += design.seen.df * len(design.position)
    return Analysis(marks, designs, residual, leverage, entry_mean, judge_effect, sse, df)


def _order(marks: Marks) -> Codes:
    """Positions by criterion, entry, judge."""
    return np.lexsort((marks.card, marks.criterion))


def _designs(marks: Marks) -> Iterator[Design]:
    """Group the criteria which the same judges marked on the same entries."""
    order, card = _order(marks), marks.card
    starts = np.flatnonzero(np.diff(marks.criterion[order])) + 1
    alike: dict[bytes, list[Codes]] = {}
    for position in np.split(order, starts):
        alike.setdefault(card[position].tobytes(), []).append(position)
    for positions in alike.values():
        entry, judge = marks.entry[positions[0]], marks.judge[positions[0]]
        seen = crossing(
            np.unique(entry, return_inverse=True)[1], np.unique(judge, return_inverse=True)[1]
        )
        yield Design(seen, np.stack(positions), entry, judge)
