"""Rotations drafted by hand's rules: a file, bookings, a list."""

from __future__ import annotations

import math
import random
from bisect import insort
from collections.abc import Iterator, Sequence

from judging.rules.windows.problem import Span
from judging.rules.windows.search_day import fitted
from judging.rules.windows.search_shop import Field, Shop, Walker
from judging.rules.windows.walk import shortest_walk


def file_order(shop: Shop) -> list[int]:
    """All judges in file along the walk, each moving when free, the busiest last in the file.

    The k-th from the end begins k wagons ahead and comes round to the first wagons afterwards.
    """
    rank = {row: r for r, row in enumerate(shortest_walk(shop.walk, sorted(shop.spot)).order)}
    rounds: list[list[int]] = []
    for ahead, judge in enumerate(shop.busiest_first()):
        visits = sorted(
            shop.visits_of(judge),
            key=lambda v: (rank[shop.spot[shop.entry_of[v]]], shop.entry_of[v]),
        )
        shift = ahead % len(visits)
        rounds.append(visits[shift:] + visits[:shift])
    return first_come(shop, rounds)


def first_come(shop: Shop, rounds: list[list[int]]) -> list[int]:
    """Every judge keeps to a fixed round; whoever can start first does."""
    field = Field(shop)
    order: list[int] = []
    rounds = [own[:] for own in rounds if own]
    while rounds:
        _, r = min((field.earliest(own[0]), r) for r, own in enumerate(rounds))
        order.append(rounds[r].pop(0))
        field.go(order[-1])
        rounds = [own for own in rounds if own]
    return order


def list_order(
    shop: Shop, rng: random.Random, *, noise: float, detour: float, wagon_weight: float
) -> list[int]:
    """Always start the visit that is most pressing now, with a little chance in it.

    Parameters
    ----------
    shop
        The visits in bare numbers.
    rng, noise
        Chance, up to so many minutes [min].
    detour
        Minutes a minute of walking counts beside its own.
    wagon_weight
        How much the work left at a wagon presses.
    """
    field = Field(shop)
    wagon_left = [0.0] * len(shop.spot)
    judge_left = [0.0] * shop.n_judges
    for visit, minutes in enumerate(shop.minutes):
        wagon_left[shop.entry_of[visit]] += (minutes + shop.reset) * wagon_weight
        judge_left[shop.judge_of[visit]] += minutes * 0.05
    # Names of their own for what the inner loop reads: it takes most of the time.
    walk, spots, judge_of, entry_of = shop.walk, shop.spot, shop.judge_of, shop.entry_of
    ready, walkers, chance, plain = field.ready, field.walkers, rng.random, shop.plain
    left = list(range(len(shop.minutes)))
    order: list[int] = []
    while left:
        best, chosen = math.inf, -1
        rows = [walk[walker.where] for walker in walkers]
        free = [walker.free for walker in walkers]
        for visit in left:
            judge, entry = judge_of[visit], entry_of[visit]
            legs = rows[judge][spots[entry]]
            press = max(free[judge] + legs, ready[entry]) + detour * legs + chance() * noise
            press -= wagon_left[entry] + judge_left[judge]
            if press >= best:
                continue
            if not plain:
                # The plain figure is never above this one, so nothing better is passed over.
                press += field.earliest(visit) - max(free[judge] + legs, ready[entry])
            if press < best:
                best, chosen = press, visit
        left.remove(chosen)
        field.go(chosen)
        wagon_left[shop.entry_of[chosen]] -= (shop.minutes[chosen] + shop.reset) * wagon_weight
        judge_left[shop.judge_of[chosen]] -= shop.minutes[chosen] * 0.05
        order.append(chosen)
    return order


def booking_order(
    shop: Shop,
    judges: Sequence[int],
    rng: random.Random,
    *,
    noise: float,
    detour: float,
    lead: Sequence[int] = (),
) -> list[int]:
    """Judge after judge books wagons: the first walks a shortest round, the rest fill the gaps.

    Parameters
    ----------
    shop
        The visits in bare numbers.
    judges
        Order of booking; the busiest first leaves that judge without any waiting.
    rng, noise, detour
        As in `list_order`.
    lead
        Round of the first of them, with numbers from the number of visits up for breaks taken
        sooner than need be; drawn like the others' unless given.
    """
    booked: list[list[Span]] = [[] for _ in shop.spot]
    start = [0] * len(shop.minutes)
    strict = not any(shop.closed)
    for turn, judge in enumerate(judges):
        walker = Walker(shop, judge)
        if lead and not turn:
            for visit in lead:
                if visit < len(start):
                    start[visit] = _book(shop, booked, visit, walker)
                elif walker.rested < len(walker.rests):
                    walker.rest()
            continue
        left = shop.own_walk(judge)[0]
        while left:
            best, chosen = math.inf, -1
            for visit in left if turn or not strict else left[:1]:
                legs = shop.walk[walker.where][shop.spot[shop.entry_of[visit]]]
                at = _free_at(shop, booked, visit, walker.arrival(legs))
                press = at + detour * legs + rng.random() * noise
                if press < best:
                    best, chosen = press, visit
            left.remove(chosen)
            start[chosen] = _book(shop, booked, chosen, walker)
    return sorted(range(len(start)), key=start.__getitem__)


def _book(shop: Shop, booked: list[list[Span]], visit: int, walker: Walker) -> int:
    entry, minutes = shop.entry_of[visit], shop.minutes[visit]
    legs = shop.walk[walker.where][shop.spot[entry]]
    begins = -1
    ready = 0
    while begins != ready:
        begins = walker.meet(legs, ready, minutes, shop.closed[visit])
        ready = _free_at(shop, booked, visit, begins)
    end = begins + minutes
    insort(booked[entry], (begins, end + shop.reset))
    walker.go(end, shop.spot[entry])
    return begins


def _free_at(shop: Shop, booked: list[list[Span]], visit: int, earliest: int) -> int:
    own, minutes = booked[shop.entry_of[visit]], shop.minutes[visit]
    at = -1
    while at != earliest:
        at = fitted(earliest, minutes + shop.reset, own)
        earliest = fitted(at, minutes, shop.closed[visit])
    return at


def drafts(shop: Shop, rng: random.Random, number: int) -> Iterator[tuple[str, list[int]]]:
    """Give the file, then so many bookings, then up to as many lists, with what made each."""
    mean = shop.mean_minutes
    yield "file", file_order(shop)
    judges = shop.busiest_first()
    for draft in range(number):
        turn = judges if draft % 3 == 0 else shuffled_a_little(judges, rng)
        detour = (0.3, 0.7, 1.0, 1.5)[draft % 4]
        noise = draft % 5 * mean / 12
        yield "booking", booking_order(shop, turn, rng, noise=noise, detour=detour)
    for draft in range(tries(number, shop, 2)):
        yield (
            "list",
            list_order(
                shop,
                rng,
                noise=draft % 8 * mean / 16,
                detour=(0.5, 1.0, 2.0)[draft % 3],
                wagon_weight=(0.03, 0.1, 0.3, 1.0)[draft % 4],
            ),
        )


def tries(number: int, shop: Shop, power: int) -> int:
    """Fewer tries for many visits, where each takes longer by that power of their number."""
    return min(number, int(number * (80 / len(shop.minutes)) ** power) + 1)


def shuffled_a_little(judges: Sequence[int], rng: random.Random) -> list[int]:
    """The busiest still tend to come first."""
    place = {judge: p + rng.uniform(0, 2) for p, judge in enumerate(judges)}
    return sorted(judges, key=place.__getitem__)
