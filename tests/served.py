"""Dishes as they are dealt out by hand, and how evenly they are served, counted from orders."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence


def most_at_one_position(orders: Sequence[Sequence[Hashable]]) -> int:
    """Return how many judges meet one dish at one position, at most; 1 is as even as can be."""
    met = Counter((position, dish) for order in orders for position, dish in enumerate(order))
    return max(met.values(), default=0)


def dealt(v: int, b: int, k: int) -> tuple[tuple[int, ...], ...]:
    """Deal dishes out in a row, as is done by hand: `v` of them to `b` judges, `k` each."""
    return tuple(tuple((j * k + i) % v for i in range(k)) for j in range(b))
