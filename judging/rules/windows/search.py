"""Shorten an order of visits by moving those that everything waits for."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from operator import add

from judging.rules.windows.search_day import reached
from judging.rules.windows.search_shop import Shop, Walker

LATE_WEIGHT = 0.1  # how much a judge's own finish counts beside the last finish of all
STRETCH = 12  # visits between two kept states
SORT_EVERY = 200  # tries
COLDEST = 1 / 7  # warmth at the end as a share of the first
# Moves up to the first share exchange two of the chain, up to the next two of one judge's visits,
# up to the last move a visit within its judge's round, above that anywhere.
CHAIN_SHARE, SWAP_SHARE, OWN_SHARE = 0.3, 0.6, 0.8
FAIR_TRIES = 200  # shuffles of the judges before fair first and last stops are given up


def finishes(shop: Shop, order: Sequence[int]) -> list[int]:
    """When each judge has finished [min].

    Numbers from the number of visits up stand for breaks taken sooner than need be.
    """
    return Tour(shop, order).ends


def starts(shop: Shop, order: Sequence[int]) -> list[int]:
    """Start of each visit [min]."""
    start = [0] * len(shop.minutes)
    walkers = [Walker(shop, judge) for judge in range(shop.n_judges)]
    ready = [0] * len(shop.spot)
    for visit in order:
        if visit >= len(start):
            walker = walkers[shop.rest_of[visit - len(start)]]
            if walker.rested < len(walker.rests):
                walker.rest()
            continue
        entry = shop.entry_of[visit]
        walker = walkers[shop.judge_of[visit]]
        way = shop.walk[walker.where][shop.spot[entry]]
        start[visit] = walker.meet(way, ready[entry], shop.minutes[visit], shop.closed[visit])
        walker.go(start[visit] + shop.minutes[visit], shop.spot[entry])
        ready[entry] = walker.free + shop.reset
    return start


# free, left, where and rested, resting, up by judge, ready by wagon: as `Walker` and `Field` have
# them, with the minutes of visits still to come.
State = tuple[list[int], list[int], list[int], list[int], list[int], list[int], list[int]]
Moved = tuple[list[int], int, int]  # an order, its first and last position that changed


class Tour:
    """An order of visits with their starts, played in stretches so that a change is cheap.

    The state before each stretch is kept. A changed order is played from the first stretch that
    differs, to where it comes back to the old state or is worse than it may be.
    """

    def __init__(self, shop: Shop, order: Sequence[int], before: Tour | None = None) -> None:
        self.shop = shop
        self.order = order
        self.marks: list[State] = []
        self.start: list[int] = []
        self.ends: list[int] = []
        self.chain: list[int] = []
        if before is None:
            self.start = [0] * len(shop.minutes)
            self.play(self._opening(), 0, math.inf)

    @property
    def cost(self) -> float:
        """The last finish of all, and a little of every judge's own [min]."""
        return max(self.ends) + LATE_WEIGHT * sum(self.ends)

    def _opening(self) -> State:
        shop = self.shop
        left = [0] * shop.n_judges
        for judge, minutes in zip(shop.judge_of, shop.minutes, strict=True):
            left[judge] += minutes
        free, where, rested, resting, up = ([0] * shop.n_judges for _ in range(5))
        return free, left, where, rested, resting, up, [0] * len(shop.spot)

    def changed(self, order: Sequence[int], first: int, last: int, most: float) -> Tour | None:
        """Play an order that differs from position first to last; None if it costs too much."""
        tour = Tour(self.shop, order, self)
        stretch = first // STRETCH
        tour.marks = self.marks[:stretch]
        tour.start = self.start[:]
        old = self.marks[stretch]
        if tour.play(tuple(part[:] for part in old), stretch, most, self, last // STRETCH):  # type: ignore[arg-type]  # as many parts as there were
            return tour
        return None

    def play(  # noqa: C901, PLR0912 - most of the running time is spent in this one loop
        self,
        state: State,
        stretch: int,
        most: float,
        before: Tour | None = None,
        same_after: int = 0,
    ) -> bool:
        """Play from a stretch on; `Walker` says the same in words, and tests hold both together."""
        shop, order, start_of, marks = self.shop, self.order, self.start, self.marks
        walk, spot, reset, away, rests = shop.walk, shop.spot, shop.reset, shop.away, shop.rests
        entry_of, judge_of, minutes, closed = (
            shop.entry_of,
            shop.judge_of,
            shop.minutes,
            shop.closed,
        )
        n_visits = len(minutes)
        free, left, where, rested, resting, up, ready = state
        for at in range(stretch, -(-len(order) // STRETCH)):
            if before is not None and at > same_after and before.marks[at] == state:
                marks += before.marks[at:]
                self.ends = before.ends
                return True
            marks.append((free[:], left[:], where[:], rested[:], resting[:], up[:], ready[:]))
            for visit in order[at * STRETCH : (at + 1) * STRETCH]:
                if visit >= n_visits:
                    judge = shop.rest_of[visit - n_visits]
                    if rested[judge] < len(rests[judge]):
                        walker = Walker.resumed(shop, judge, state)
                        walker.rest()
                        rested[judge], resting[judge], up[judge] = walker.breaks
                    continue
                judge, entry, length = judge_of[visit], entry_of[visit], minutes[visit]
                here = free[judge]
                way = walk[where[judge]][spot[entry]] + resting[judge]
                start = reached(here, way, away[judge]) if away[judge] else here + way
                if up[judge] > start:  # noqa: PLR1730
                    start = up[judge]
                if ready[entry] > start:  # noqa: PLR1730
                    start = ready[entry]
                for begins, ends in closed[visit]:
                    if start + length <= begins:
                        break
                    if ends > start:  # noqa: PLR1730
                        start = ends
                if rested[judge] < len(rests[judge]):
                    rest = rests[judge][rested[judge]]
                    if start + length > rest.last_begin or start - here - way >= rest.minutes:
                        walker = Walker.resumed(shop, judge, state)
                        start = walker.meet(
                            way - resting[judge], ready[entry], length, closed[visit]
                        )
                        rested[judge] = walker.rested
                start_of[visit] = start
                end = start + length
                free[judge] = end
                left[judge] -= length
                where[judge] = spot[entry]
                if resting[judge]:
                    resting[judge] = up[judge] = 0
                ready[entry] = end + reset
            soonest = list(map(add, free, left))
            if max(soonest) + LATE_WEIGHT * sum(soonest) > most:
                return False
        self.ends = free
        return True


def improve(
    shop: Shop,
    order: list[int],
    bound: int,
    rng: random.Random,
    *,
    rounds: int,
    warmth: float,
    moved: Callable[[Tour, random.Random], Moved] | None = None,
    called_off: Callable[[], bool] = lambda: False,
) -> list[int]:
    """Move visits of the longest chain of waiting, taking some worse orders at first.

    Parameters
    ----------
    shop, order, rng
        The visits in bare numbers, where to begin, and chance.
    bound
        Stop as soon as this makespan is met [min].
    rounds
        Number of tries.
    warmth
        A try worse by about so many minutes may be taken at first [min].
    moved
        Gives what to try next; the moves below unless given.
    called_off
        Asked now and then; ends the work.

    Notes
    -----
    Simulated annealing on the order of visits. Some moves exchange two visits of the longest
    chain where one waited for the other, some change the round of one judge a little, some put
    a visit anywhere. The order is sorted by start now and then, so that near means soon after.
    """
    tour = Tour(shop, order)
    cost = tour.cost
    best, least = order, max(tour.ends)
    cooling = COLDEST ** (1 / max(1, rounds))
    for turn in range(rounds):
        warmth *= cooling
        if turn % SORT_EVERY == 0:
            if called_off():
                break
            by_start = Tour(shop, _by_start(tour))
            if by_start.cost <= cost and fair(shop, by_start.order):
                tour, cost = by_start, by_start.cost
        tried, first, last = (moved or _moved)(tour, rng)
        if shop.most_ends is not None and not fair(shop, tried):
            continue
        # Chance first: a try that turns out too long need not be played to its end.
        most = cost - warmth * math.log(1.0 - rng.random())
        new = tour.changed(tried, first, last, most)
        if new is None:
            continue
        tour, cost = new, new.cost
        if max(new.ends) < least:
            best, least = tried, max(new.ends)
            if least <= bound:
                break
    return best


def _longest_chain(tour: Tour, rng: random.Random) -> list[int]:
    """Visits that each waited for the one before, ending with one of the last to finish."""
    shop, start = tour.shop, tour.start
    minutes, walk, spot = shop.minutes, shop.walk, shop.spot
    judged_last = [-1] * shop.n_judges
    seen_last = [-1] * len(spot)
    waited = [-1] * len(start)
    for visit in tour.order:
        if visit >= len(start):
            continue
        judge, entry = shop.judge_of[visit], shop.entry_of[visit]
        here, there = judged_last[judge], seen_last[entry]
        if there < 0:
            waited[visit] = here
        elif here < 0:
            waited[visit] = there
        else:
            came = start[here] + minutes[here] + walk[spot[shop.entry_of[here]]][spot[entry]]
            waited[visit] = there if start[there] + minutes[there] + shop.reset > came else here
        judged_last[judge] = seen_last[entry] = visit
    last = max(tour.ends)
    visit = rng.choice([v for v in judged_last if v >= 0 and start[v] + minutes[v] == last])
    chain = []
    while visit >= 0:
        chain.append(visit)
        visit = waited[visit]
    return chain[::-1]


def _moved(tour: Tour, rng: random.Random) -> Moved:
    """Exchange two visits of the longest chain, or put a visit elsewhere."""
    chain = tour.chain = tour.chain or _longest_chain(tour, rng)
    tried, way = list(tour.order), rng.random()
    if way < CHAIN_SHARE and len(chain) > 1:
        k = rng.randrange(len(chain) - 1)
        first, second = tried.index(chain[k]), tried.index(chain[k + 1])
        if rng.random() < 0.5:
            tried.insert(first, tried.pop(second))
        else:
            tried.insert(second, tried.pop(first))
        return tried, first, second
    visit = rng.choice(chain) if rng.random() < 0.6 else rng.choice(tried)
    here = tried.index(visit)
    there = rng.randrange(len(tried))
    if way < OWN_SHARE and visit < len(tour.start):
        there = _near(tour, tried, here, rng)
        if way < SWAP_SHARE:
            tried[here], tried[there] = tried[there], tried[here]
            return tried, min(here, there), max(here, there)
    tried.insert(there, tried.pop(here))
    return tried, min(here, there), max(here, there)


def _near(tour: Tour, order: Sequence[int], here: int, rng: random.Random) -> int:
    """Position of another visit of the same judge, mostly one of the next few."""
    judge_of, n_visits = tour.shop.judge_of, len(tour.start)
    judge = judge_of[order[here]]
    own = [at for at, visit in enumerate(order) if visit < n_visits and judge_of[visit] == judge]
    away = rng.choice((-3, -2, -1, 1, 2, 3))
    k = own.index(here) + away if rng.random() < 0.7 else rng.randrange(len(own))
    return own[k] if 0 <= k < len(own) else rng.choice(own)


def _by_start(tour: Tour) -> list[int]:
    """The same visits by their start, each early break before the visit it stood before."""
    n_visits = len(tour.start)
    pieces: list[tuple[int, int, list[int]]] = []
    early: list[int] = []
    for visit in tour.order:
        early.append(visit)
        if visit < n_visits:
            pieces.append((tour.start[visit], len(pieces), early))
            early = []
    return [visit for _, _, piece in sorted(pieces) for visit in piece] + early


def best_drafts(
    shop: Shop, bound: int, drafts: Iterable[tuple[str, list[int]]], number: int
) -> list[tuple[int, str, list[int]]]:
    """The shortest drafts with makespan and who made it; no further once the bound is met."""
    best: list[tuple[int, str, list[int]]] = []
    for how, order in drafts:
        best.append((max(finishes(shop, order)), how, order))
        best = sorted(best, key=lambda draft: draft[0])[:number]
        if best[0][0] <= bound:
            break
    return best


def fair(shop: Shop, order: Iterable[int]) -> bool:
    """Whether first and last stops are spread over the wagons as the problem asks."""
    if shop.most_ends is None:
        return True
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for visit in order:
        if visit < len(shop.minutes):
            judge, entry = shop.judge_of[visit], shop.entry_of[visit]
            first.setdefault(judge, entry)
            last[judge] = entry
    several = [judge for judge in first if first[judge] != last[judge]]
    return all(
        max(Counter(ends[judge] for judge in several).values(), default=0) <= shop.most_ends
        for ends in (first, last)
    )


def with_fair_ends(shop: Shop, order: list[int], rng: random.Random) -> list[int]:
    """Change each judge's first and last stop by as little as makes them fair.

    Raises
    ------
    ValueError
        When no such stops are found.
    """
    if fair(shop, order):
        return order
    rounds: list[list[int]] = [[] for _ in range(shop.n_judges)]
    for visit in order:
        rounds[shop.judge_of[visit]].append(visit)
    judges = [judge for judge, own in enumerate(rounds) if len(own) > 1]
    for _ in range(FAIR_TRIES):
        first = _matched(shop, judges, rounds, dict.fromkeys(judges, -1))
        last = first and _matched(shop, judges, [own[::-1] for own in rounds], first)
        if first and last:
            for judge in judges:
                a, b = first[judge], last[judge]
                rounds[judge] = [a, *(v for v in rounds[judge] if v not in {a, b}), b]
            return _merged(shop, order, rounds)
        rng.shuffle(judges)
        for own in rounds:
            rng.shuffle(own)
    raise ValueError(
        "the first and last stops cannot be spread over the wagons as asked: too many judges "
        "come to the same few wagons"
    )


def _matched(
    shop: Shop, judges: Sequence[int], wishes: Sequence[Sequence[int]], taken: dict[int, int]
) -> dict[int, int]:
    """Give each judge a visit at a wagon no more than the allowed number have; empty if none."""
    most = shop.most_ends or 0
    at: dict[int, list[int]] = {}
    given: dict[int, int] = {}

    def settle(judge: int, seen: set[int]) -> bool:
        for visit in wishes[judge]:
            entry = shop.entry_of[visit]
            if visit == taken[judge] or entry in seen:
                continue
            seen.add(entry)
            here = at.setdefault(entry, [])
            for other in [-1] if len(here) < most else list(here):
                if other >= 0 and not settle(other, seen):
                    continue
                if other >= 0:
                    here.remove(other)
                here.append(judge)
                given[judge] = visit
                return True
        return False

    return given if all(settle(judge, set()) for judge in judges) else {}


def _merged(shop: Shop, order: Sequence[int], rounds: Sequence[Sequence[int]]) -> list[int]:
    """Keep whose turn it is as the order has it, and follow each judge's new round."""
    turns = [iter(own) for own in rounds]
    return [next(turns[shop.judge_of[visit]]) for visit in order]
