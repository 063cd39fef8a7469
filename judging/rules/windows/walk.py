"""The shortest way from the gate past every stop, with a figure no way can beat."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

WalkMinutes = tuple[tuple[int, ...], ...]

EXACT_UP_TO = 12  # stops; dynamic programming over subsets takes a fraction of a second


@dataclass(frozen=True)
class Walk:
    """A way from the gate through every stop, without going back unless asked for.

    Parameters
    ----------
    order
        The stops in walking order, as rows of the walking table.
    minutes
        Its walking time [min].
    lower_bound
        No walk through these stops is shorter [min].
    """

    order: tuple[int, ...]
    minutes: int
    lower_bound: int

    @property
    def proven(self) -> bool:
        """Whether the walk is known to be a shortest one."""
        return self.minutes == self.lower_bound


def shortest_walk(
    walk: WalkMinutes,
    stops: Sequence[int],
    *,
    back_to_gate: bool = False,
    seed: int = 0,
    kicks: int = 150,
) -> Walk:
    """Walk from the gate past every stop in as few minutes as can be found.

    Parameters
    ----------
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min], symmetric; row 0 is the gate.
    stops
        Rows of ``walk`` to be visited; a row may come twice (two wagons on one spot).
    back_to_gate
        Whether the way back to the gate counts.
    seed, kicks
        Random restarts of the improvement; the same values give the same walk.

    Returns
    -------
    Walk
        With a true lower bound. To 12 stops the walk is always a shortest one.

    Raises
    ------
    ValueError
        For a table that is not square, symmetric and free of negative times.

    Notes
    -----
    Nearest neighbour, then two-opt, or-opt and double-bridge kicks. The bound is the 1-tree of a
    closed tour through an extra point next to the gate, raised by Lagrangian penalties in whole
    thousandths, so that rounding cannot lift it over the truth.

    Source
    ------
    Held and Karp (1962), J. SIAM 10:196-210, and (1971), Mathematical Programming 1:6-25 (from
    memory).

    Example
    -------
    >>> line = ((0, 2, 4, 6), (2, 0, 2, 4), (4, 2, 0, 2), (6, 4, 2, 0))
    >>> shortest_walk(line, [3, 1, 2])
    Walk(order=(1, 2, 3), minutes=6, lower_bound=6)
    """
    check_walk(walk)
    return _shortest_walk(walk, tuple(sorted(stops)), back_to_gate, seed, kicks)


def shortest(
    minutes: Sequence[Sequence[int]], closed: bool = False, *, seed: int = 0, kicks: int = 400
) -> Walk:
    """Walk past every place of a plain table in as few minutes as can be found.

    Parameters
    ----------
    minutes
        Shape ``(n_places, n_places)`` [min], symmetric; there is no gate.
    closed
        Whether the way back to the first place counts; otherwise the walk begins and ends
        anywhere.
    seed, kicks
        As in `shortest_walk`; kicks end as soon as the bound is met.

    Returns
    -------
    Walk
        Its order holds every row of the table once; a closed walk begins at row 0. Without a
        place, and at a single one, nobody walks.

    Raises
    ------
    ValueError
        For a table that is not square, symmetric and free of negative times.

    Source
    ------
    As `shortest_walk` (from memory).

    Example
    -------
    >>> line = [[0, 2, 6], [2, 0, 4], [6, 4, 0]]
    >>> shortest(line).minutes, shortest(line, closed=True)
    (6, Walk(order=(0, 1, 2), minutes=12, lower_bound=12))
    """
    table = tuple(tuple(row) for row in minutes)
    check_walk(table)
    places = range(len(table))
    if closed:
        found = _shortest_walk(table, tuple(places[1:]), True, seed, kicks)
        return Walk((*places[:1], *found.order), found.minutes, found.lower_bound)
    anywhere = ((0,) * (len(table) + 1), *((0, *row) for row in table))
    found = _shortest_walk(anywhere, tuple(place + 1 for place in places), False, seed, kicks)
    return Walk(tuple(stop - 1 for stop in found.order), found.minutes, found.lower_bound)


def check_walk(walk: WalkMinutes) -> None:
    """Refuse a walking table that is not square, symmetric, zero in its diagonal, never negative.

    Parameters
    ----------
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min].

    Raises
    ------
    ValueError
        Naming what is wrong.

    Example
    -------
    >>> check_walk(((0, 3), (2, 0)))
    Traceback (most recent call last):
        ...
    ValueError: walking from 0 to 1 takes 3 minutes but back 2
    """
    for i, row in enumerate(walk):
        if len(row) != len(walk):
            raise ValueError(f"row {i} of the walking table has {len(row)} of {len(walk)} times")
        if row[i] != 0:
            raise ValueError(f"walking from {i} to itself takes {row[i]} minutes")
        for k, minutes in enumerate(row[:i]):
            if minutes < 0:
                raise ValueError(f"walking from {k} to {i} takes {minutes} minutes")
            if minutes != walk[k][i]:
                raise ValueError(
                    f"walking from {k} to {i} takes {walk[k][i]} minutes but back {minutes}"
                )


def from_gate(walk: WalkMinutes) -> list[int]:
    """Say how soon each spot can be reached at all, past other spots where that is quicker.

    Parameters
    ----------
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min]; row 0 is the gate.

    Returns
    -------
    list of int
        Shape ``(n_spots + 1,)`` [min].

    Notes
    -----
    Tables of rounded minutes may hold a detour that is quicker than the straight way.

    Source
    ------
    Dijkstra (1959), Numerische Mathematik 1:269-271 (from memory).

    Example
    -------
    >>> from_gate(((0, 1, 5), (1, 0, 2), (5, 2, 0)))
    [0, 1, 3]
    """
    soonest = list(walk[0])
    left = set(range(1, len(walk)))
    while left:
        here = min(left, key=soonest.__getitem__)
        left.remove(here)
        for spot in left:
            soonest[spot] = min(soonest[spot], soonest[here] + walk[here][spot])
    return soonest


@lru_cache(maxsize=1024)
def _shortest_walk(
    walk: WalkMinutes, stops: tuple[int, ...], back_to_gate: bool, seed: int, kicks: int
) -> Walk:
    if not stops:
        return Walk((), 0, 0)
    # Row 0 is the gate, the last row an extra point where every walk ends.
    rows = (0, *stops)
    last = [walk[stop][0] if back_to_gate else 0 for stop in stops]
    d = [[*(walk[a][b] for b in rows), *end] for a, end in zip(rows, zip([0, *last]), strict=True)]
    d.append([0, *last, 0])
    way = _nearest_first(d)
    _shorten(way, d)
    bound = _lower_bound(d, _length(way, d))
    if _length(way, d) > bound and len(stops) > 3:
        rng = random.Random(seed)
        way = _kicked(way, d, bound, rng, kicks)
    if _length(way, d) > bound and len(stops) <= EXACT_UP_TO:
        way = _exact_way(d)
        bound = _length(way, d)
    return Walk(tuple(rows[node] for node in way[1:-1]), _length(way, d), bound)


def _length(way: Sequence[int], d: Sequence[Sequence[int]]) -> int:
    return sum(d[a][b] for a, b in pairwise(way))


def _nearest_first(d: Sequence[Sequence[int]]) -> list[int]:
    way, left = [0], list(range(1, len(d) - 1))
    while left:
        here = d[way[-1]]
        way.append(min(left, key=here.__getitem__))
        left.remove(way[-1])
    return [*way, len(d) - 1]


def _shorten(way: list[int], d: Sequence[Sequence[int]]) -> None:
    """Turn stretches round and move short stretches, in place, until neither helps."""
    while _turn_round(way, d) or _move_stretch(way, d):
        pass


def _turn_round(way: list[int], d: Sequence[Sequence[int]]) -> bool:
    better = False
    for i in range(1, len(way) - 2):
        for k in range(i + 1, len(way) - 1):
            before, first, last, after = way[i - 1], way[i], way[k], way[k + 1]
            if d[before][last] + d[first][after] < d[before][first] + d[last][after]:
                way[i : k + 1] = way[i : k + 1][::-1]
                better = True
    return better


def _move_stretch(way: list[int], d: Sequence[Sequence[int]]) -> bool:
    for size in (1, 2, 3):
        for i in range(1, len(way) - size):
            first, last = way[i], way[i + size - 1]
            rest = way[:i] + way[i + size :]
            saved = d[way[i - 1]][first] + d[last][way[i + size]] - d[rest[i - 1]][rest[i]]
            if saved <= 0:
                continue
            for k in range(1, len(rest)):
                a, b = rest[k - 1], rest[k]
                straight = d[a][first] + d[last][b] - d[a][b]
                turned = d[a][last] + d[first][b] - d[a][b]
                if min(straight, turned) < saved:
                    stretch = way[i : i + size]
                    way[:] = (
                        rest[:k] + (stretch if straight <= turned else stretch[::-1]) + rest[k:]
                    )
                    return True
    return False


def _kicked(
    way: list[int], d: Sequence[Sequence[int]], bound: int, rng: random.Random, kicks: int
) -> list[int]:
    """Exchange two neighbouring stretches at random and shorten again, keeping what is no worse."""
    best, shortest = way, _length(way, d)
    for _ in range(kicks):
        if shortest == bound:
            break
        i, j, k = sorted(rng.sample(range(1, len(way)), 3))
        tried = best[:i] + best[j:k] + best[i:j] + best[k:]
        _shorten(tried, d)
        if (length := _length(tried, d)) <= shortest:
            best, shortest = tried, length
    return best


def _lower_bound(d: Sequence[Sequence[int]], upper: int, rounds: int = 120) -> int:
    """Held-Karp bound in thousandths; every figure is whole, so nothing is lost to rounding."""
    scale, step = 1000, 1.0
    price = [0] * (len(d) - 1)
    best = 0
    stale = 0
    for _ in range(rounds):
        value, degree = _one_tree(d, price, scale)
        if value > best or not best:
            best, stale = max(best, value), 0
        else:
            stale += 1
            if stale == 6:
                step, stale = step / 2, 0
        off = [deg - 2 for deg in degree]
        norm = sum(x * x for x in off)
        if norm == 0 or -(-best // scale) >= upper:
            break
        length = step * max(upper * scale - value, scale) / norm
        price = [p + round(length * x) for p, x in zip(price, off, strict=True)]
    return -(-best // scale)


def _one_tree(
    d: Sequence[Sequence[int]], price: Sequence[int], scale: int
) -> tuple[int, list[int]]:
    """Cheapest tree over gate and stops, closed through the extra point; its value and degrees."""
    n = len(price)
    extra = d[n]
    end = min(range(1, n), key=lambda node: extra[node] * scale + price[node])
    degree = [0] * n
    degree[0] = degree[end] = 1
    value = extra[end] * scale + price[end] + price[0] - 2 * sum(price)
    near = [d[0][node] * scale + price[0] + price[node] for node in range(n)]
    via = [0] * n
    left = list(range(1, n))
    while left:
        node = min(left, key=near.__getitem__)
        left.remove(node)
        value += near[node]
        degree[node] += 1
        degree[via[node]] += 1
        row, own = d[node], price[node]
        for other in left:
            reduced = row[other] * scale + own + price[other]
            if reduced < near[other]:
                near[other], via[other] = reduced, node
    return value, degree


def _exact_way(d: Sequence[Sequence[int]]) -> list[int]:
    """A shortest way by dynamic programming over the subsets of stops already passed."""
    n = len(d) - 2
    reached: dict[tuple[int, int], tuple[int, int]] = {
        (1 << node, node): (d[0][node + 1], -1) for node in range(n)
    }
    layer = list(reached)
    for _ in range(n - 1):
        following: dict[tuple[int, int], tuple[int, int]] = {}
        for done, node in layer:
            so_far = reached[done, node][0]
            row = d[node + 1]
            for other in range(n):
                if done >> other & 1:
                    continue
                key = (done | 1 << other, other)
                length = so_far + row[other + 1]
                if key not in following or length < following[key][0]:
                    following[key] = (length, node)
        reached |= following
        layer = list(following)
    done, node = min(layer, key=lambda key: reached[key][0] + d[key[1] + 1][n + 1])
    way = [n + 1]
    while node >= 0:
        way.append(node + 1)
        before = reached[done, node][1]
        done, node = done & ~(1 << node), before
    return [*way, 0][::-1]
