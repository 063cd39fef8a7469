"""The whole draw of a food round from one number: codes, tables and serving orders."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass

from judging.rules.panels.blind import blind_codes
from judging.rules.panels.serving import serve
from judging.rules.panels.tables import design

SEED_BITS = 63  # so many that the seed cannot be found by trying


@dataclass(frozen=True)
class FoodDraw:
    """A drawn round.

    Parameters
    ----------
    codes
        Shape ``(n_wagons,)``, the first for the first wagon.
    orders
        Shape ``(n_judges, each)``: the wagons of each judge by place in the list, the first
        served first.
    """

    codes: tuple[str, ...]
    orders: tuple[tuple[int, ...], ...]


def draw_round(
    wagons: int,
    judges: int,
    each: int,
    *,
    seed: int,
    barred: Iterable[tuple[int, int]] = (),
    taken: Iterable[str] = (),
) -> FoodDraw:
    """Draw who tastes what in which order under which code.

    Parameters
    ----------
    wagons, judges, each
        Dishes, judges, dishes for each judge.
    seed
        Who knows it can draw the key again: it comes from chance, of `SEED_BITS` bits, and is
        kept as close as the key until that is opened. Then anybody can repeat the draw.
    barred
        Pairs (judge, wagon), both from 0, that must not meet.
    taken
        Codes of other dishes of the show.

    Returns
    -------
    FoodDraw
        The wagons are shuffled before the tables are laid out, so that tables alone tell nothing.

    Raises
    ------
    ValueError
        As `design` and `blind_codes`.

    Source
    ------
    As `design`, `serve` and `blind_codes`.

    Example
    -------
    >>> drawn = draw_round(5, 4, 3, seed=1)
    >>> len(drawn.codes), [len(order) for order in drawn.orders]
    (5, [3, 3, 3, 3])
    """
    rng = random.Random(seed)
    shuffled = rng.sample(range(wagons), wagons)
    place = {wagon: n for n, wagon in enumerate(shuffled)}
    apart = [(judge, place[wagon]) for judge, wagon in barred]
    tables = design(wagons, judges, each, seed=rng.getrandbits(SEED_BITS), barred=apart)
    orders = serve(tables, seed=rng.getrandbits(SEED_BITS))
    codes = blind_codes(wagons, seed=rng.getrandbits(SEED_BITS), taken=taken)
    return FoodDraw(codes, tuple(tuple(shuffled[n] for n in order) for order in orders))
