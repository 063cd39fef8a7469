"""Who tastes which dishes: tables that are short for the palate and still compare every dish."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from judging.rules.panels.table_polish import polish
from judging.rules.panels.table_search import Search, islands, least_squares
from judging.rules.panels.textbook import textbook_blocks
from showrun.language import gettext as _

Label = Hashable
Blocks = tuple[tuple[Any, ...], ...]
SAME = 1e-9
ENOUGH = 5  # tables in a row that are no better


@dataclass(frozen=True)
class Bounds:
    """What no table can pass.

    Parameters
    ----------
    average
        The arithmetic mean of the canonical efficiency factors, which their harmonic mean
        cannot pass [1].
    second_moment
        Sharper: their spread cannot be nought unless every two dishes meet equally often [1].
    dual
        With fewer judges than dishes, as many factors as dishes outnumber judges are 1, and the
        rest is bounded from the judges' side; else as ``second_moment`` [1].
    """

    average: float
    second_moment: float
    dual: float

    @property
    def least(self) -> float:
        """The sharpest of the three [1]."""
        return min(self.average, self.second_moment, self.dual)


def design(
    treatments: int | Sequence[Label],
    blocks: int,
    size: int,
    *,
    seed: int = 0,
    barred: Iterable[tuple[int, Label]] = (),
) -> Blocks:
    """Lay out tables: each judge tastes `size` dishes, every dish about equally often.

    Parameters
    ----------
    treatments
        How many dishes there are, or their names, each once.
    blocks
        Number of judges.
    size
        Dishes each judge tastes.
    seed
        The same number lays out the same tables.
    barred
        Pairs (judge 0 to ``blocks - 1``, dish) that must not meet.

    Returns
    -------
    tuple of tuples
        Shape ``(blocks, size)``: the dishes of each judge, in the order of ``treatments``.
        The table is connected: any two dishes can be compared through judges they share.

    Raises
    ------
    ValueError
        With a sentence, where no such table can be.

    Notes
    -----
    Where the numbers allow a balanced incomplete block design, it is built (`textbook_blocks`)
    and its judges and dishes are shuffled until barred pairs are apart. Otherwise swaps of two
    dishes between two judges are annealed on the sum of squared concurrences; of several tables
    the one with the best `efficiency` is taken. How often two dishes are tasted differs by one
    at most, unless barred pairs force more.

    Source
    ------
    Cochran and Cox 1957 (parameters of balanced designs); Kirkpatrick, Gelatt and Vecchi 1983;
    John and Williams 1995, Cyclic and Computer Generated Designs (both from memory).

    Example
    -------
    >>> tables = design(7, 7, 3)
    >>> sorted(concurrence(tables).values()) == [1] * 21
    True
    >>> design(["beans", "bread"], 2, 1)
    Traceback (most recent call last):
        ...
    ValueError: a judge who tastes one dish compares nothing; give each two at least
    """
    labels = list(range(treatments)) if isinstance(treatments, int) else list(treatments)
    place = {label: n for n, label in enumerate(labels)}
    if len(place) != len(labels):
        raise ValueError("a dish is named twice")
    kept_apart = _kept_apart(barred, place, blocks)
    _check(len(labels), blocks, size, kept_apart)
    found = _lay_out(len(labels), blocks, size, seed, kept_apart)
    return tuple(tuple(labels[dish] for dish in sorted(block)) for block in found)


def _kept_apart(
    barred: Iterable[tuple[int, Label]], place: dict[Label, int], blocks: int
) -> frozenset[tuple[int, int]]:
    pairs = set()
    for judge, dish in barred:
        if dish not in place or not 0 <= judge < blocks:
            raise ValueError(f"a barred pair names a judge or dish that is not there: {dish}")
        pairs.add((judge, place[dish]))
    return frozenset(pairs)


def _check(dishes: int, judges: int, size: int, barred: frozenset[tuple[int, int]]) -> None:
    if dishes < 1 or judges < 1 or size < 1:
        raise ValueError(_("tables need a dish, a judge and a dish for each judge at least"))
    if size > dishes:
        words = _("a judge cannot taste {size} dishes where there are {dishes}")
        raise ValueError(words.format(size=size, dishes=dishes))
    if size < 2 and judges > 1 and dishes > 1:
        raise ValueError(_("a judge who tastes one dish compares nothing; give each two at least"))
    if judges * size < dishes + judges - 1:
        short = dishes + judges - 1 - judges * size
        raise ValueError(
            _(
                "{judges} judges with {size} dishes each have {places} places; to compare "
                "{dishes} dishes takes {short} more"
            ).format(judges=judges, size=size, places=judges * size, dishes=dishes, short=short)
        )
    for judge in range(judges):
        free = dishes - sum(1 for j, _ in barred if j == judge)
        if free < size:
            words = _("judge {judge} may taste {free} dishes, fewer than {size}")
            raise ValueError(words.format(judge=judge + 1, free=free, size=size))
    for dish in range(dishes):
        if sum(1 for _, d in barred if d == dish) == judges:
            raise ValueError(_("dish {dish} is barred for every judge").format(dish=dish + 1))


def _lay_out(
    dishes: int, judges: int, size: int, seed: int, barred: frozenset[tuple[int, int]]
) -> list[set[int]]:
    search = Search(dishes, judges, size, seed, barred)
    book = textbook_blocks(dishes, judges, size)
    if book and (apart := search.shuffled(book)):
        return apart
    best, best_share, since = None, -1.0, 0
    for found in search.tables():
        share, since = polish(found, dishes, barred, search.rng), since + 1
        if share > best_share + SAME:
            best, best_share, since = found, share, 0
        if since == ENOUGH or best_share >= bound(dishes, judges, size).least - SAME:
            break
    if best is None or best_share <= 0.0:
        raise ValueError(_("with these barred pairs no table compares all dishes; bar fewer"))
    return best


def concurrence(blocks: Iterable[Iterable[Label]]) -> dict[tuple[Any, Any], int]:
    """Count how many judges taste both dishes, for every two dishes.

    Parameters
    ----------
    blocks
        The dishes of each judge; a word stands for its letters.

    Returns
    -------
    dict
        From pairs (earlier dish, later dish), in the order of their names where names can be
        ordered, to judges [judges]. Pairs that never meet are there with 0.

    Raises
    ------
    ValueError
        For no dish, or a dish twice at one judge.

    Source
    ------
    Arithmetic.

    Example
    -------
    >>> concurrence(["AB", "BC"])
    {('A', 'B'): 1, ('A', 'C'): 0, ('B', 'C'): 1}
    """
    labels, incidence = _incidence(blocks)
    meets = (incidence @ incidence.T).astype(int)
    return {
        (labels[i], labels[j]): int(meets[i, j])
        for i in range(len(labels))
        for j in range(i + 1, len(labels))
    }


def connected(blocks: Iterable[Iterable[Label]]) -> bool:
    """Say whether any two dishes can be compared, through one judge or over several.

    Parameters
    ----------
    blocks
        The dishes of each judge.

    Returns
    -------
    bool
        False where the tables fall into islands.

    Raises
    ------
    ValueError
        As `concurrence`.

    Source
    ------
    Arithmetic: as many islands as the information has zero eigenvalues.

    Example
    -------
    >>> connected(["AB", "BC"]), connected(["AB", "CD"])
    (True, False)
    """
    labels, incidence = _incidence(blocks)
    tables = [set(np.flatnonzero(column).tolist()) for column in incidence.T]
    return islands(tables, len(labels)) == 1


def efficiency(blocks: Iterable[Iterable[Label]]) -> float:
    """Return how much of a comparison survives that no judge tastes everything.

    Parameters
    ----------
    blocks
        The dishes of each judge; a word stands for its letters.

    Returns
    -------
    float
        Harmonic mean of the canonical efficiency factors, 0 to 1 [1]; 0.0 where the tables fall
        into islands, 1.0 where every judge tastes everything.

    Raises
    ------
    ValueError
        As `concurrence`.

    Notes
    -----
    With R the tastings of each dish, K the dishes of each judge and N who tastes what, the
    factors are the eigenvalues of R^-1/2 (R - N K^-1 N') R^-1/2 without its certain zero.

    Source
    ------
    John and Williams 1995, Cyclic and Computer Generated Designs (from memory).

    Example
    -------
    >>> round(efficiency(["BCEA", "CDBA", "ADEB", "ECDB", "DCEA"]), 4)
    0.9375
    """
    labels, incidence = _incidence(blocks)
    if len(labels) == 1:
        return 1.0
    root = np.sqrt(incidence.sum(axis=1))
    scaled = incidence / root[:, None] / np.sqrt(incidence.sum(axis=0))[None, :]
    factors = np.linalg.eigvalsh(np.eye(len(labels)) - scaled @ scaled.T)[1:]
    if factors[0] < SAME:
        return 0.0
    return float((len(labels) - 1) / np.sum(1.0 / factors))


def bound(v: int, b: int, k: int) -> Bounds:
    """Return the efficiency no table of these numbers can pass.

    Parameters
    ----------
    v
        Dishes.
    b
        Judges.
    k
        Dishes each judge tastes.

    Returns
    -------
    Bounds
        Three bounds. Where dishes are tasted unequally often the second repeats the first.

    Raises
    ------
    ValueError
        For fewer than two dishes, no judge, or more dishes for a judge than there are.

    Notes
    -----
    For given mean and spread of the factors their harmonic mean is greatest when all but one are
    equal and that one is greater.

    Source
    ------
    John and Williams 1995, Cyclic and Computer Generated Designs (from memory); for the judges'
    side: the dual of a table shares its factors other than 1.

    Example
    -------
    >>> limits = bound(20, 12, 5)
    >>> round(limits.average, 4), round(limits.second_moment, 4), round(limits.least, 4)
    (0.8421, 0.8275, 0.8181)
    """
    if v < 2 or b < 1 or not 1 <= k <= v:
        raise ValueError("a bound needs two dishes, a judge, and at most all dishes for each")
    average = v * (k - 1) / (k * (v - 1))
    equal = b * k % v == 0
    second = _second_moment(v, b, k) if equal else average
    dual = second
    if 1 < b < v:
        rest = (v - 1) * average - (v - b)  # what is left for the factors that may be below 1
        of_judges = _second_moment(b, v, b * k // v) if equal else rest / (b - 1)
        dual = (v - 1) / (v - b + (b - 1) / of_judges) if of_judges > 0 else 0.0
    return Bounds(average, second, dual)


def _second_moment(v: int, b: int, k: int) -> float:
    r = b * k // v
    squares = v * r * r + 2 * least_squares(v * (v - 1) // 2, b * k * (k - 1) // 2) - (r * k) ** 2
    first = v * r - r * k
    spread = max(0.0, squares - first * first / (v - 1)) / (r * k) ** 2
    mean = 1 - first / (v - 1) / (r * k)
    if v == 2 or mean <= 0:
        return mean
    step = (spread / (v - 1) / (v - 2)) ** 0.5
    return float((mean - step) * (mean + (v - 2) * step) / (mean + (v - 3) * step))


def _incidence(
    blocks: Iterable[Iterable[Label]],
) -> tuple[list[Any], npt.NDArray[np.float64]]:
    tables = [list(block) for block in blocks]
    labels: list[Any] = list(dict.fromkeys(dish for block in tables for dish in block))
    if not labels:
        raise ValueError("there is no dish on these tables")
    with suppress(TypeError):  # names of several kinds keep the order they came in
        labels.sort()
    row = {label: n for n, label in enumerate(labels)}
    incidence = np.zeros((len(labels), len(tables)))
    for column, block in enumerate(tables):
        if not block or len(set(block)) != len(block):
            raise ValueError("a judge tastes nothing, or one dish twice")
        incidence[[row[dish] for dish in block], column] = 1
    return labels, incidence
