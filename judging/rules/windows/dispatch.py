"""Rotations built by hand's rules - a file, bookings, a list - and then improved."""

from __future__ import annotations

import math
import random
from bisect import insort
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from judging.rules.windows.walk import WalkMinutes, shortest_walk

LATE_WEIGHT = 0.05  # how much a judge's own finish counts beside the last finish of all


@dataclass(frozen=True)
class Shop:
    """A rotation in bare numbers; a plan is an order of visits, each starting as early as it can.

    Parameters
    ----------
    entry_of, judge_of, minutes
        Per visit: position of its entry, of its judge, and its length [min].
    spot
        Per entry: row of ``walk``.
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min]; row 0 is the gate.
    reset
        The crew's time between two visits [min].
    n_judges
        Number of judges.
    """

    entry_of: tuple[int, ...]
    judge_of: tuple[int, ...]
    minutes: tuple[int, ...]
    spot: tuple[int, ...]
    walk: WalkMinutes
    reset: int
    n_judges: int

    @property
    def mean_minutes(self) -> float:
        """Mean length of a visit [min], the natural size of a disturbance."""
        return sum(self.minutes) / len(self.minutes)

    def visits_of(self, judge: int) -> list[int]:
        """All visits of one judge."""
        return [visit for visit, who in enumerate(self.judge_of) if who == judge]

    def own_walk(self, judge: int) -> tuple[list[int], int]:
        """The judge's visits along their own shortest walk, and its minutes."""
        visits = self.visits_of(judge)
        way = shortest_walk(self.walk, [self.spot[self.entry_of[visit]] for visit in visits])
        rank = {row: r for r, row in enumerate(way.order)}
        return sorted(visits, key=lambda v: rank[self.spot[self.entry_of[v]]]), way.minutes

    def busiest_first(self) -> list[int]:
        """Judges by minutes of visits and own walk, the busiest first."""
        work = [
            sum(self.minutes[visit] for visit in visits) + walking
            for visits, walking in map(self.own_walk, range(self.n_judges))
        ]
        return sorted(range(self.n_judges), key=lambda judge: -work[judge])


def finishes(shop: Shop, order: Sequence[int]) -> list[int]:
    """When each judge has finished [min]."""
    walk, spot, reset = shop.walk, shop.spot, shop.reset
    entry_of, judge_of, minutes = shop.entry_of, shop.judge_of, shop.minutes
    free = [0] * shop.n_judges
    where = [0] * shop.n_judges
    ready = [0] * len(spot)
    for visit in order:
        judge, entry = judge_of[visit], entry_of[visit]
        start = free[judge] + walk[where[judge]][spot[entry]]
        if ready[entry] > start:  # noqa: PLR1730 - most of the running time is spent here
            start = ready[entry]
        end = start + minutes[visit]
        free[judge] = end
        where[judge] = spot[entry]
        ready[entry] = end + reset
    return free


def starts(shop: Shop, order: Sequence[int]) -> tuple[list[int], list[int]]:
    """Start of each visit [min] and the visit it waited for, -1 where only the gate was before."""
    free = [0] * shop.n_judges
    where = [0] * shop.n_judges
    ready = [0] * len(shop.spot)
    judged_last = [-1] * shop.n_judges
    seen_last = [-1] * len(shop.spot)
    start = [0] * len(order)
    waited = [-1] * len(order)
    for visit in order:
        judge, entry = shop.judge_of[visit], shop.entry_of[visit]
        arrival = free[judge] + shop.walk[where[judge]][shop.spot[entry]]
        late = ready[entry] > arrival
        start[visit] = max(arrival, ready[entry])
        waited[visit] = seen_last[entry] if late else judged_last[judge]
        free[judge] = start[visit] + shop.minutes[visit]
        where[judge] = shop.spot[entry]
        ready[entry] = free[judge] + shop.reset
        judged_last[judge] = seen_last[entry] = visit
    return start, waited


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
    return _first_come(shop, rounds)


def _first_come(shop: Shop, rounds: list[list[int]]) -> list[int]:
    """Every judge keeps to a fixed round; whoever can start first does."""
    field = _Field(shop)
    order: list[int] = []
    while rounds:
        _, r = min((field.earliest(own[0]), r) for r, own in enumerate(rounds))
        order.append(rounds[r].pop(0))
        field.go(order[-1])
        rounds = [own for own in rounds if own]
    return order


class _Field:
    """Where the judges are and when each judge and each crew is free."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.free = [0] * shop.n_judges
        self.where = [0] * shop.n_judges
        self.ready = [0] * len(shop.spot)

    def legs(self, visit: int) -> int:
        entry = self.shop.entry_of[visit]
        return self.shop.walk[self.where[self.shop.judge_of[visit]]][self.shop.spot[entry]]

    def earliest(self, visit: int) -> int:
        arrival = self.free[self.shop.judge_of[visit]] + self.legs(visit)
        return max(arrival, self.ready[self.shop.entry_of[visit]])

    def go(self, visit: int) -> None:
        judge, entry = self.shop.judge_of[visit], self.shop.entry_of[visit]
        self.free[judge] = self.earliest(visit) + self.shop.minutes[visit]
        self.where[judge] = self.shop.spot[entry]
        self.ready[entry] = self.free[judge] + self.shop.reset


def list_order(
    shop: Shop, rng: random.Random, *, noise: float, detour: float, wagon_weight: float
) -> list[int]:
    """Always start the visit that is most pressing now, with a little chance in it.

    Parameters
    ----------
    rng, noise
        Chance, up to so many minutes [min].
    detour
        Minutes a minute of walking counts beside its own.
    wagon_weight
        How much the work left at a wagon presses.
    """
    field = _Field(shop)
    wagon_left = [0.0] * len(shop.spot)
    judge_left = [0.0] * shop.n_judges
    for visit, minutes in enumerate(shop.minutes):
        wagon_left[shop.entry_of[visit]] += (minutes + shop.reset) * wagon_weight
        judge_left[shop.judge_of[visit]] += minutes * 0.05
    # Names of their own for what the inner loop reads: it takes most of the time.
    walk, spots, judge_of, entry_of = shop.walk, shop.spot, shop.judge_of, shop.entry_of
    free, ready, chance = field.free, field.ready, rng.random
    left = list(range(len(shop.minutes)))
    order: list[int] = []
    while left:
        best, chosen = math.inf, -1
        rows = [walk[spot] for spot in field.where]
        for visit in left:
            judge, entry = judge_of[visit], entry_of[visit]
            legs = rows[judge][spots[entry]]
            press = max(free[judge] + legs, ready[entry]) + detour * legs + chance() * noise
            press -= wagon_left[entry] + judge_left[judge]
            if press < best:
                best, chosen = press, visit
        left.remove(chosen)
        field.go(chosen)
        wagon_left[shop.entry_of[chosen]] -= (shop.minutes[chosen] + shop.reset) * wagon_weight
        judge_left[shop.judge_of[chosen]] -= shop.minutes[chosen] * 0.05
        order.append(chosen)
    return order


def booking_order(
    shop: Shop, judges: Sequence[int], rng: random.Random, *, noise: float, detour: float
) -> list[int]:
    """Judge after judge books wagons: the first walks a shortest round, the rest fill the gaps.

    Parameters
    ----------
    judges
        Order of booking; the busiest first leaves that judge without any waiting.
    rng, noise, detour
        As in `list_order`.
    """
    booked: list[list[tuple[int, int]]] = [[] for _ in shop.spot]
    start = [0] * len(shop.minutes)
    for turn, judge in enumerate(judges):
        now, here = 0, 0
        left = shop.own_walk(judge)[0]
        while left:
            best, chosen, begins = math.inf, -1, 0
            for visit in left if turn else left[:1]:
                entry = shop.entry_of[visit]
                legs = shop.walk[here][shop.spot[entry]]
                at = _gap(booked[entry], now + legs, shop.minutes[visit] + shop.reset)
                press = at + detour * legs + rng.random() * noise
                if press < best:
                    best, chosen, begins = press, visit, at
            left.remove(chosen)
            start[chosen] = begins
            now = begins + shop.minutes[chosen]
            entry = shop.entry_of[chosen]
            here = shop.spot[entry]
            insort(booked[entry], (begins, now + shop.reset))
    return sorted(range(len(start)), key=start.__getitem__)


def _gap(booked: Sequence[tuple[int, int]], earliest: int, length: int) -> int:
    for begins, ends in booked:
        if earliest + length <= begins:
            return earliest
        earliest = max(earliest, ends)
    return earliest


def improve(
    shop: Shop, order: list[int], bound: int, rng: random.Random, *, rounds: int, warmth: float
) -> list[int]:
    """Move visits of the longest chain of waiting, taking some worse orders at first.

    Parameters
    ----------
    order
        Where to begin.
    bound
        Stop as soon as this makespan is met [min].
    rounds
        Number of tries.
    warmth
        A try worse by about so many minutes may be taken at first [min].

    Notes
    -----
    Simulated annealing on the order of visits; half of the moves exchange two visits of the
    longest chain where one waited for the other.
    """
    ends = finishes(shop, order)
    cost = max(ends) + LATE_WEIGHT * sum(ends)
    best, least = order, max(ends)
    cooling = (0.02 * shop.mean_minutes / warmth) ** (1 / max(1, rounds))
    chain: list[int] = []
    for _ in range(rounds):
        warmth *= cooling
        chain = chain or _longest_chain(shop, order, rng)
        tried = _moved(order, chain, rng)
        ends = finishes(shop, tried)
        new = max(ends) + LATE_WEIGHT * sum(ends)
        if new <= cost or rng.random() < math.exp((cost - new) / warmth):
            order, cost, chain = tried, new, []
            if max(ends) < least:
                best, least = order, max(ends)
                if least <= bound:
                    break
    return best


def _longest_chain(shop: Shop, order: Sequence[int], rng: random.Random) -> list[int]:
    """Visits that each waited for the one before, ending with one of the last to finish."""
    start, waited = starts(shop, order)
    end = [start[visit] + shop.minutes[visit] for visit in range(len(start))]
    last = max(end)
    visit = rng.choice([v for v, finish in enumerate(end) if finish == last])
    chain = []
    while visit >= 0:
        chain.append(visit)
        visit = waited[visit]
    return chain[::-1]


def _moved(order: Sequence[int], chain: Sequence[int], rng: random.Random) -> list[int]:
    tried = list(order)
    if len(chain) > 1 and rng.random() < 0.6:
        k = rng.randrange(len(chain) - 1)
        first, second = tried.index(chain[k]), tried.index(chain[k + 1])
        if rng.random() < 0.5:
            tried.insert(first, tried.pop(second))
        else:
            tried.insert(second, tried.pop(first))
        return tried
    visit = rng.choice(chain) if rng.random() < 0.5 else rng.randrange(len(tried))
    tried.remove(visit)
    tried.insert(rng.randrange(len(order)), visit)
    return tried


def shortest_draft(
    shop: Shop, bound: int, drafts: Iterator[tuple[str, list[int]]]
) -> tuple[list[int], str, int]:
    """The shortest draft, who made it and its makespan; no further draft once the bound is met."""
    how, best = next(drafts)
    least = max(finishes(shop, best))
    while least > bound and (draft := next(drafts, None)):
        length = max(finishes(shop, draft[1]))
        if length < least:
            (how, best), least = draft, length
    return best, how, least


def shuffled_a_little(judges: Sequence[int], rng: random.Random) -> list[int]:
    """The busiest still tend to come first."""
    place = {judge: p + rng.uniform(0, 2) for p, judge in enumerate(judges)}
    return sorted(judges, key=place.__getitem__)
