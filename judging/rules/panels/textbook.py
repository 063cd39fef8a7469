"""Balanced incomplete block designs, where the numbers allow one and a short search finds it."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations
from math import comb, exp, gcd

Table = list[set[int]]
Group = list[list[int]]
FEW = 200  # tables of "all combinations" at most
LARGEST = 75  # dishes
STEPS = 6000  # of one search for base blocks
TRIES = 3
NODES = 50_000  # of one search for a difference set
# The field of four: sums are exclusive or, products as here.
PRODUCTS_4 = ((0, 0, 0, 0), (0, 1, 2, 3), (0, 2, 3, 1), (0, 3, 1, 2))


def balanced(v: int, b: int, k: int) -> bool:
    """Say whether the numbers allow every two dishes to meet equally often."""
    if not 1 < k < v or b * k % v:
        return False
    r = b * k // v
    return r * (k - 1) % (v - 1) == 0 and b >= v


def textbook_blocks(v: int, b: int, k: int) -> Table | None:
    """Return tables on which every two dishes meet equally often, None where none is found.

    Parameters
    ----------
    v, b, k
        Dishes, judges, dishes of each judge.

    Returns
    -------
    list of set of int, or None
        Dishes are 0 to ``v - 1``.

    Notes
    -----
    Tried in turn: everything for everybody; all combinations; the complement of a smaller
    design; copies of a smaller design; affine planes; difference sets; base blocks moved round
    by a group of the dishes, found by annealing with a fixed seed.

    Source
    ------
    Cochran and Cox 1957 (parameters); Bose 1939 (difference methods) (from memory).

    Example
    -------
    >>> sorted(map(sorted, textbook_blocks(4, 6, 2)))
    [[0, 1], [0, 2], [0, 3], [1, 2], [1, 3], [2, 3]]
    >>> textbook_blocks(20, 12, 5) is None
    True
    """
    if k == v:
        return [set(range(v)) for _ in range(b)]
    if v > LARGEST or not balanced(v, b, k):
        return None
    if 2 * k > v and v - k > 1:
        small = textbook_blocks(v, b, v - k)
        return [set(range(v)) - block for block in small] if small else None
    every = comb(v, k)
    if every <= FEW and b % every == 0:
        return [set(block) for block in combinations(range(v), k)] * (b // every)
    for copies in range(2, b // v + 1):
        if b % copies == 0 and balanced(v, b // copies, k):
            small = textbook_blocks(v, b // copies, k)
            if small:
                return [set(block) for block in small for _ in range(copies)]
    return _plane(v, b, k) or _difference_set(v, b, k) or _developed(v, b, k)


def _plane(v: int, b: int, k: int) -> Table | None:
    """Return the lines of an affine plane: dishes on a square, k to a side."""
    if v != k * k or b != k * k + k or k not in (2, 3, 4, 5, 7):
        return None

    def value(slope: int, x: int, c: int) -> int:
        return PRODUCTS_4[slope][x] ^ c if k == 4 else (slope * x + c) % k

    sloped = [{x * k + value(m, x, c) for x in range(k)} for m in range(k) for c in range(k)]
    return sloped + [{x * k + y for y in range(k)} for x in range(k)]


def _difference_set(v: int, b: int, k: int) -> Table | None:
    """Return the shifts of one set whose differences are all met equally often."""
    if b != v:
        return None
    often = k * (k - 1) // (v - 1)
    chosen = _powers(v, k, often) or _Differences(v, k, often).found()
    if chosen is None:
        return None
    return [{(dish + shift) % v for dish in chosen} for shift in range(v)]


def _powers(v: int, k: int, often: int) -> list[int] | None:
    """Try the squares, fourth, sixth and eighth powers of a prime number of dishes."""
    if any(v % p == 0 for p in range(2, int(v**0.5) + 1)):
        return None
    for power in (2, 4, 6, 8):
        powers = {pow(x, power, v) for x in range(1, v)}
        for chosen in (powers, powers | {0}):
            differences = Counter((x - y) % v for x in chosen for y in chosen if x != y)
            if len(chosen) == k and set(differences.values()) == {often}:
                return sorted(chosen)
    return None


class _Differences:
    """A set grown number by number, given up after so many trials."""

    def __init__(self, v: int, k: int, often: int) -> None:
        self.v, self.k, self.often = v, k, often
        self.count = [0] * v
        self.chosen = [0]
        self.nodes = 0

    def found(self) -> list[int] | None:
        return self.chosen if self._grow(1) else None

    def _grow(self, start: int) -> bool:
        if len(self.chosen) == self.k:
            return True
        for new in range(start, self.v):
            self.nodes += 1
            if self.nodes > NODES:
                return False
            fits = self._count(new, 1)
            if fits:
                self.chosen.append(new)
                if self._grow(new + 1):
                    return True
                self.chosen.pop()
            self._count(new, -1)
        return False

    def _count(self, new: int, by: int) -> bool:
        """Count the differences to the chosen ones in or out; say whether none is too often."""
        fits = True
        for old in self.chosen:
            for step in ((new - old) % self.v, (old - new) % self.v):
                self.count[step] += by
                fits = fits and self.count[step] <= self.often
        return fits


def _groups(v: int, b: int) -> Iterator[Group]:
    """Yield groups of moves of the dishes whose size divides the number of judges."""
    for size, fixed in ((v, 0), (v - 1, 1)):
        if size > 1 and b % size == 0:
            yield [[(d + s) % size for d in range(size)] + [size] * fixed for s in range(size)]
    for p in range(2, 10):
        if v % p == 0 and v // p > 1 and gcd(p, v // p) > 1 and b % v == 0:
            q = v // p
            yield [
                [((d // q + s) % p) * q + (d % q + t) % q for d in range(v)]
                for s in range(p)
                for t in range(q)
            ]
    if v & (v - 1) == 0 and b % v == 0:
        yield [[d ^ s for d in range(v)] for s in range(v)]
    for orbits, fixed in ((2, 0), (2, 1), (3, 0), (3, 1), (4, 0)):
        size, rest = divmod(v - fixed, orbits)
        if rest == 0 and size > 2 and b % size == 0:
            yield [
                [d // size * size + (d % size + s) % size for d in range(v - fixed)]
                + [v - 1] * fixed
                for s in range(size)
            ]


def _developed(v: int, b: int, k: int) -> Table | None:
    """Anneal base blocks until what the group makes of them is balanced."""
    often = b * k * (k - 1) // (v * (v - 1))
    for group in _groups(v, b):
        orbit = _orbits(v, group)
        for attempt in range(TRIES):
            found = _anneal_bases(v, k, b // len(group), often, orbit, random.Random(attempt))
            if found:
                return [{move[dish] for dish in base} for base in found for move in group]
    return None


def _orbits(v: int, group: Group) -> tuple[list[list[int]], list[float]]:
    """Number the pairs of dishes the group takes into each other, with the weight of each."""
    of = [[-1] * v for _ in range(v)]
    sizes: list[float] = []
    for x, y in combinations(range(v), 2):
        if of[x][y] < 0:
            images = {tuple(sorted((move[x], move[y]))) for move in group}
            for a, c in images:
                of[a][c] = of[c][a] = len(sizes)
            sizes.append(len(group) / len(images))
    return of, sizes


def _anneal_bases(
    v: int,
    k: int,
    n_bases: int,
    often: int,
    orbit: tuple[list[list[int]], list[float]],
    rng: random.Random,
) -> list[list[int]] | None:
    of, weight = orbit
    bases = [rng.sample(range(v), k) for _ in range(n_bases)]
    lacking = [-float(often)] * len(weight)
    for base in bases:
        for x, y in combinations(base, 2):
            lacking[of[x][y]] += weight[of[x][y]]
    # A pair in a large orbit stands for many pairs, and counts for as many.
    cost = sum(n * n / w for n, w in zip(lacking, weight, strict=True))
    heat, cool = 3.0, (0.15 / 3.0) ** (1 / STEPS)
    for _ in range(STEPS):
        if cost < 1e-9:
            return bases
        heat *= cool
        base = bases[int(rng.random() * n_bases)]
        at, new = int(rng.random() * k), int(rng.random() * v)
        if new in base:
            continue
        change = _changes(of, weight, base, at, new)
        then = sum(((lacking[o] + n) ** 2 - lacking[o] ** 2) / weight[o] for o, n in change.items())
        if then <= 0 or rng.random() < exp(-then / heat):
            cost += then
            base[at] = new
            for o, n in change.items():
                lacking[o] += n
    return None


def _changes(
    of: Sequence[Sequence[int]], weight: Sequence[float], base: Sequence[int], at: int, new: int
) -> dict[int, float]:
    change: dict[int, float] = {}
    old = base[at]
    for n, dish in enumerate(base):
        if n != at:
            out, into = of[old][dish], of[new][dish]
            change[out] = change.get(out, 0.0) - weight[out]
            change[into] = change.get(into, 0.0) + weight[into]
    return change
