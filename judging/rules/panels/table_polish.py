"""The last touch to a table: swaps that leave pairs as even as they are and lose less."""

from __future__ import annotations

import random
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

EVALUATIONS = 300
TRIES = 40  # swaps looked at for one that is evaluated
ZERO = 1e-9


def polish(
    tables: Sequence[set[int]], dishes: int, barred: frozenset[tuple[int, int]], rng: random.Random
) -> float:
    """Change the tables in place while their efficiency grows, and return it.

    Only swaps that do not raise the sum of squared concurrences are evaluated: among tables as
    even as each other the efficiency still differs, most where dishes are tasted twice or thrice.
    """
    met = np.zeros((dishes, len(tables)))
    for judge, table in enumerate(tables):
        met[list(table), judge] = 1
    share = _share(met)
    size = len(tables[0])
    if size == dishes or len(tables) < 2:
        return share
    tried = 0
    for _ in range(EVALUATIONS * TRIES):
        if tried == EVALUATIONS:
            break
        a, c = int(rng.random() * len(tables)), int(rng.random() * len(tables))
        x = int(rng.random() * dishes)
        y = int(rng.random() * dishes)
        if not _may_swap(tables, barred, (a, x), (c, y)):
            continue
        before = _squares(met, x, y)
        _swap(met, a, x, c, y)
        if _squares(met, x, y) <= before:
            tried += 1
            then = _share(met)
            if then >= share - ZERO:
                share = then
                tables[a].remove(x)
                tables[a].add(y)
                tables[c].remove(y)
                tables[c].add(x)
                continue
        _swap(met, a, y, c, x)
    return share


def _may_swap(
    tables: Sequence[set[int]],
    barred: frozenset[tuple[int, int]],
    one: tuple[int, int],
    two: tuple[int, int],
) -> bool:
    (a, x), (c, y) = one, two
    if x not in tables[a] or y in tables[a] or y not in tables[c] or x in tables[c]:
        return False
    return (a, y) not in barred and (c, x) not in barred


def _swap(met: npt.NDArray[np.float64], a: int, x: int, c: int, y: int) -> None:
    met[x, a] = met[y, c] = 0
    met[y, a] = met[x, c] = 1


def _squares(met: npt.NDArray[np.float64], x: int, y: int) -> float:
    """Return the squared concurrences of the two dishes that change places."""
    meets = met[[x, y]] @ met.T
    return float(np.sum(meets * meets))


def _share(met: npt.NDArray[np.float64]) -> float:
    """Return the efficiency from the smaller of the two sides, whose factors are the same."""
    dishes, judges = met.shape
    scaled = met / np.sqrt(met.sum(axis=1))[:, None] / np.sqrt(met.sum(axis=0))[None, :]
    gram = scaled @ scaled.T if dishes <= judges else scaled.T @ scaled
    factors = 1 - np.linalg.eigvalsh(gram)[:-1]
    if len(factors) and factors[-1] < ZERO:
        return 0.0
    losses = float(np.sum(1 / factors)) + max(0, dishes - judges)
    return (dishes - 1) / losses if losses else 1.0
