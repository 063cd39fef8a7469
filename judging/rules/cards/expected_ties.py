"""How many wagons of a class would share a total: steps too coarse for the field, foretold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from judging.rules.cards.scorecard import Criterion, Form, Section

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

# Our own assumption about marks, in shares of a row's most.
LEVEL, BETWEEN_WAGONS, WITHIN_WAGON = 0.70, 0.10, 0.15
ASSUMPTION = (
    "Reckoned with invented marks: wagons around seven tenths of the most, one tenth more or "
    "less, and single marks another fifteen hundredths around their wagon. This spread is our "
    "own assumption."
)
SEED = 1866
TRIALS = 200
# Most marks drawn in one forecast; a very long card is tried fewer times.
MOST_MARKS = 4_000_000


@dataclass(frozen=True)
class TieForecast:
    """What the invented classes showed.

    Attributes
    ----------
    sharing : float [entries]
        Entries that share their total with another one, on average.
    first_shared : float
        Share of the classes whose highest total was shared.
    trials : int
        Classes invented.
    """

    sharing: float
    first_shared: float
    trials: int


def expect_ties(
    sections: Sequence[Section],
    *,
    entries: int,
    judges: int,
    rigs: Sequence[Mapping[str, str]] = (),
    seed: int = SEED,
) -> TieForecast:
    """Invent marks for a class many times and count equal totals.

    Parameters
    ----------
    sections : sequence of Section
        That the class counts.
    entries : int
        Wagons of the class.
    judges : int
        Judges of each section; each of them sees every wagon.
    rigs : sequence of mapping, optional
        Rigs of the wagons, used in turn; without any, every row applies to every wagon.
    seed : int
        The same seed gives the same answer.

    Returns
    -------
    TieForecast

    Raises
    ------
    ValueError
        For less than one wagon or judge.

    Notes
    -----
    A wagon has a level, normal around 0.70 with standard deviation 0.10; each mark is the level
    plus normal noise of 0.15, times the row's most, rounded to its step and kept on the scale. A
    pass is a mark of one half or more; places follow the same numbers. Section points are
    rescaled to the rig and rounded to 0.01 as in `judging.rules.cards.score`, and a total adds
    them over sections and judges. Ties are counted before any tie ladder. 200 classes are
    invented, fewer when the card is so long that there would be more than four million marks.

    Source
    ------
    Common practice, no source: the spread of marks is our own assumption. That small spreads and
    too few items cause ties is said in Judging Guidelines, American Chuck Wagon Association, n.d.

    Examples
    --------
    >>> rows = tuple(Criterion(f"r{n}", f"Row {n}", Decimal(3), Decimal(1)) for n in range(4))
    >>> coarse = Section("camp", "Camp", Decimal(20), 3, rows)
    >>> expect_ties([coarse], entries=12, judges=1).sharing > 6
    True
    """
    if entries < 1 or judges < 1:
        raise ValueError("A class has at least one wagon and one judge.")
    rows = sum(len(section.criteria) for section in sections) or 1
    trials = max(1, min(TRIALS, MOST_MARKS // (rows * entries * judges)))
    random = np.random.default_rng(seed)
    level = random.normal(LEVEL, BETWEEN_WAGONS, (trials, entries, 1, 1))
    totals: Counts = np.zeros((trials, entries), dtype=np.int64)
    for section in sections:
        if not section.criteria:
            continue
        shape = (trials, entries, judges, len(section.criteria))
        share = np.clip(level + random.normal(0, WITHIN_WAGON, shape), 0, 1)
        totals += _hundredths(section, share, rigs).sum(axis=2)
    return TieForecast(
        sharing=float(np.mean([_sharing(total) for total in totals])),
        first_shared=float(np.mean([(total == total.max()).sum() > 1 for total in totals])),
        trials=trials,
    )


def _hundredths(section: Section, share: Floats, rigs: Sequence[Mapping[str, str]]) -> Counts:
    """Section points in hundredths, shape (trials, entries, judges)."""
    worth = float(section.points * 100)
    if section.form is Form.PLACINGS:
        return _of_places(share[..., 0], worth)
    most, step, weight = (
        np.array([float(value) for value in column])
        for column in zip(*map(_scale, section.criteria), strict=True)
    )
    steps = np.rint(share * (most / step))
    judged = _judged(section, share.shape[1], rigs)[:, np.newaxis, :]
    possible = (judged * (weight * most)).sum(axis=-1)
    given = (steps * step * weight * judged).sum(axis=-1)
    # A hair more than one half, so that binary fractions round as exact ones do.
    points = np.floor(worth * given / np.where(possible, possible, 1) + 0.5 + 1e-9)
    if section.form is Form.PASS_FAIL and section.all_or_nothing:
        points = np.where(((steps == 0) & judged).any(axis=-1), 0, points)
    return np.asarray(points, dtype=np.int64)


def _scale(row: Criterion) -> tuple[Decimal, Decimal, Decimal]:
    return row.max_mark, row.step, row.weight


def _judged(section: Section, entries: int, rigs: Sequence[Mapping[str, str]]) -> NDArray[np.bool_]:
    """Which rows are judged on which wagon, shape (entries, rows)."""
    if not rigs:
        return np.ones((entries, len(section.criteria)), dtype=bool)
    by_rig = np.array([[row.is_for(rig) for row in section.criteria] for rig in rigs[:entries]])
    return by_rig[np.arange(entries) % len(by_rig)]


def _of_places(share: Floats, worth: float) -> Counts:
    """Points of places, best share first, shape (trials, entries, judges)."""
    entries = share.shape[1]
    behind = share.argsort(axis=1).argsort(axis=1)
    if entries == 1:
        behind = np.ones_like(behind)
    points = np.floor(worth * behind / max(entries - 1, 1) + 0.5 + 1e-9)
    return np.asarray(points, dtype=np.int64)


def _sharing(total: Counts) -> int:
    _, counts = np.unique(total, return_counts=True)
    return int(counts[counts > 1].sum())
