"""In which order each judge is served, so that no dish is always met first or last."""

from __future__ import annotations

import random
from collections.abc import Hashable, Sequence
from typing import Any

Dish = Hashable
ROUNDS = 4000


def serve(tables: Sequence[Sequence[Dish]], *, seed: int = 0) -> tuple[tuple[Any, ...], ...]:
    """Put each judge's dishes in order: a dish is met at each position as seldom as can be.

    Parameters
    ----------
    tables
        Shape ``(n_judges, size)``: the dishes of each judge, each once.
    seed
        The same number gives the same orders.

    Returns
    -------
    tuple of tuples
        Shape ``(n_judges, size)``: the same dishes, the first served first. Where no dish is
        tasted by more judges than there are positions, none is met twice at one position.

    Raises
    ------
    ValueError
        Where judges taste unequally many dishes, or a judge one dish twice.

    Notes
    -----
    Judges and dishes are the two sides of a graph, positions the colours of its edges; a dish
    with more judges than positions is taken apart first. Then two positions are exchanged along
    chains where that brings each dish nearer the middle on average, and lets fewer judges meet
    the same dish right after the same other.

    Source
    ------
    Koenig 1916; de Werra 1971 (both from memory).

    Example
    -------
    >>> for order in serve([("beans", "bread"), ("bread", "pie"), ("beans", "pie")]):
    ...     print(order)
    ('beans', 'bread')
    ('bread', 'pie')
    ('pie', 'beans')
    """
    if not tables:
        return ()
    size = len(tables[0])
    for table in tables:
        if len(table) != size:
            raise ValueError("every judge must taste equally many dishes to be served in step")
        if len(set(table)) != size:
            raise ValueError("a judge tastes one dish twice")
    orders = _coloured(tables, size)
    _balance(orders, size, random.Random(seed))
    return tuple(tuple(order) for order in orders)


def _coloured(tables: Sequence[Sequence[Dish]], size: int) -> list[list[Any]]:
    """Colour the edges one by one; a chain of two colours makes room where it is needed."""
    parts = _parts(tables, size)
    at_judge: list[list[Any]] = [[None] * size for _ in tables]
    at_part: dict[Any, list[int | None]] = {part: [None] * size for row in parts for part in row}
    for judge, row in enumerate(parts):
        for part in row:
            mine = at_judge[judge].index(None)
            its = at_part[part].index(None)
            if mine != its:
                _turn(at_judge, at_part, part, mine, its)
            at_judge[judge][mine] = part
            at_part[part][mine] = judge
    return [[dish for dish, _ in row] for row in at_judge]


def _parts(tables: Sequence[Sequence[Dish]], size: int) -> list[list[tuple[Any, int]]]:
    """Take dishes apart that more judges taste than there are positions."""
    met: dict[Dish, int] = {}
    parts = []
    for table in tables:
        row = []
        for dish in table:
            row.append((dish, met.get(dish, 0) // size))
            met[dish] = met.get(dish, 0) + 1
        parts.append(row)
    return parts


def _turn(
    at_judge: list[list[Any]],
    at_part: dict[Any, list[int | None]],
    part: Any,
    wanted: int,
    other: int,
) -> None:
    """Exchange two colours along the chain that begins at the dish, so that `wanted` is free."""
    chain: list[tuple[int, Any, int]] = []  # judge, part, colour
    colour, here = wanted, part
    while (judge := at_part[here][colour]) is not None:
        chain.append((judge, here, colour))
        colour = other if colour == wanted else wanted
        following = at_judge[judge][colour]
        if following is None:
            break
        chain.append((judge, following, colour))
        here, colour = following, (other if colour == wanted else wanted)
    for judge, at, was in chain:
        at_judge[judge][was] = None
        at_part[at][was] = None
    for judge, at, was in chain:
        now = other if was == wanted else wanted
        at_judge[judge][now] = at
        at_part[at][now] = judge


def _balance(orders: list[list[Any]], size: int, rng: random.Random) -> None:
    """Exchange two positions along chains as long as the orders get fairer."""
    if size < 2 or len(orders) < 2:
        return
    best = _unfairness(orders, size)
    for _ in range(ROUNDS // len(orders) + 20):
        one, two = rng.sample(range(size), 2)
        chain = _chain(orders, rng.randrange(len(orders)), one, two)
        _exchange(orders, chain, one, two)
        then = _unfairness(orders, size)
        if then <= best:
            best = then
        else:
            _exchange(orders, chain, one, two)


def _chain(orders: Sequence[Sequence[Any]], first: int, one: int, two: int) -> set[int]:
    """Return the judges whose two positions must be exchanged together."""
    chain, ask = {first}, [first]
    while ask:
        dishes = {orders[ask[-1]][one], orders[ask.pop()][two]}
        for judge, order in enumerate(orders):
            if judge not in chain and {order[one], order[two]} & dishes:
                chain.add(judge)
                ask.append(judge)
    return chain


def _exchange(orders: list[list[Any]], chain: set[int], one: int, two: int) -> None:
    for judge in chain:
        order = orders[judge]
        order[one], order[two] = order[two], order[one]


def _unfairness(orders: Sequence[Sequence[Any]], size: int) -> float:
    middle = (size - 1) / 2
    off: dict[Any, float] = {}
    after: dict[tuple[Any, Any], int] = {}
    for order in orders:
        for position, dish in enumerate(order):
            off[dish] = off.get(dish, 0.0) + position - middle
            if position:
                pair = (order[position - 1], dish)
                after[pair] = after.get(pair, 0) + 1
    return sum(x * x for x in off.values()) + 2 * sum(n * n - n for n in after.values())
