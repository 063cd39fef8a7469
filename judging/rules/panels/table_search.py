"""Tables found by search: dishes are swapped between judges until pairs meet equally often."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from math import exp

Table = list[set[int]]
SWAPS = 60_000  # of one start, tried or made
SWAPS_A_CELL = 250  # fewer for a small table
STARTS = 30
WORK = 1_200_000  # swaps of all starts together, times the dishes of a judge: about a second
LARGE = 120  # dishes; above, one start has to do
SHUFFLES = 400
REPAIRS = 4000


def least_squares(cells: int, total: int) -> int:
    """Return the least sum of squares of `cells` whole numbers with this total."""
    if not cells:
        return 0
    low, more = divmod(total, cells)
    return (cells - more) * low * low + more * (low + 1) ** 2


def islands(tables: Sequence[set[int]], dishes: int) -> int:
    """Count the groups of dishes that no judge ties together."""
    of = list(range(dishes))

    def root(dish: int) -> int:
        while of[dish] != dish:
            of[dish] = of[of[dish]]
            dish = of[dish]
        return dish

    left = dishes
    for table in tables:
        first, *others = table
        for other in others:
            a, b = root(first), root(other)
            if a != b:
                of[a] = b
                left -= 1
    return left


class Search:
    """Tables of one size, from one seed."""

    def __init__(
        self, dishes: int, judges: int, size: int, seed: int, barred: frozenset[tuple[int, int]]
    ) -> None:
        self.v, self.b, self.k = dishes, judges, size
        self.barred = barred
        self.rng = random.Random(seed)

    def shuffled(self, book: Table) -> Table | None:
        """Return the tables with judges and dishes shuffled so that barred pairs are apart."""
        names = list(range(self.v))
        for _ in range(SHUFFLES if self.barred else 1):
            self.rng.shuffle(names)
            renamed = [{names[dish] for dish in block} for block in book]
            self.rng.shuffle(renamed)
            if seated := self._seated(renamed):
                return seated
        return None

    def _seated(self, tables: Table) -> Table | None:
        """Give each table to a judge who may taste all of it, by augmenting paths."""
        no = [{dish for j, dish in self.barred if j == judge} for judge in range(self.b)]
        holder: dict[int, int] = {}

        def seat(judge: int, seen: set[int]) -> bool:
            for n, table in enumerate(tables):
                if n in seen or table & no[judge]:
                    continue
                seen.add(n)
                if n not in holder or seat(holder[n], seen):
                    holder[n] = judge
                    return True
            return False

        if not all(seat(judge, set()) for judge in range(self.b)):
            return None
        of = {judge: n for n, judge in holder.items()}
        return [tables[of[judge]] for judge in range(self.b)]

    def tables(self) -> Iterator[Table]:
        """Yield connected tables, each from a start of its own."""
        left = WORK // self.k
        swaps = min(SWAPS, SWAPS_A_CELL * self.v * self.b, left // 3)
        for _ in range(STARTS if self.v <= LARGE else 1):
            table = self._start()
            left -= self._anneal(table, swaps) + self.v * self.v
            if self._connect(table):
                yield table
            if left < swaps // 2:
                break

    def _start(self) -> Table:
        """Fill the tables so that dishes are tasted as equally often as can be."""
        tables: Table = [set() for _ in range(self.b)]
        count = [0] * self.v
        judges = [judge for judge in range(self.b) for _ in range(self.k)]
        self.rng.shuffle(judges)
        for judge in judges:
            self._add(tables, count, judge)
        return tables

    def _add(self, tables: Table, count: list[int], judge: int) -> None:
        """Give the judge one more dish: along a chain of exchanges to the dish tasted least."""
        came: dict[int, tuple[int, int | None]] = {}
        queue: list[tuple[int, int | None]] = [(judge, None)]
        asked = {judge}
        while queue:
            at, via = queue.pop(0)
            for dish in self.rng.sample(range(self.v), self.v):
                if dish in came or dish in tables[at] or (at, dish) in self.barred:
                    continue
                came[dish] = (at, via)
                for other in range(self.b):
                    if other not in asked and dish in tables[other]:
                        asked.add(other)
                        queue.append((other, dish))
        if not came:
            raise ValueError("with these barred pairs the tables cannot be filled; bar fewer")
        taken: int | None = min(came, key=lambda one: count[one])
        if taken is not None:
            count[taken] += 1
        while taken is not None:
            at, via = came[taken]
            tables[at].add(taken)
            if via is not None:
                tables[at].discard(via)
            taken = via

    def _anneal(self, tables: Table, swaps: int) -> int:
        """Swap two dishes between two judges while it evens out how often dishes meet.

        Returns how many swaps were tried.
        """
        if self.k == self.v or self.b < 2:
            return 0
        rng, barred, meets = self.rng, self.barred, self._meets(tables)
        lists = [list(table) for table in tables]
        goal = least_squares(self.v * (self.v - 1) // 2, self.b * self.k * (self.k - 1) // 2)
        now = sum(n * n for row in meets for n in row) // 2
        heat, cool = 2.0, (0.08 / 2.0) ** (1 / swaps)
        for tried in range(swaps):
            if now <= goal:
                return tried
            heat *= cool
            a, c = int(rng.random() * self.b), int(rng.random() * self.b)
            i, j = int(rng.random() * self.k), int(rng.random() * self.k)
            x, y = lists[a][i], lists[c][j]
            if x in tables[c] or y in tables[a]:
                continue
            if barred and ((a, y) in barred or (c, x) in barred):
                continue
            gain = self._gain(meets, lists[a], lists[c], x, y)
            if gain > 0 and rng.random() >= exp(-gain / heat):
                continue
            now += gain
            self._swap(meets, tables, lists, (a, i), (c, j))
        return swaps

    def _meets(self, tables: Table) -> list[list[int]]:
        meets = [[0] * self.v for _ in range(self.v)]
        for table in tables:
            for x in table:
                for y in table:
                    meets[x][y] += x != y
        return meets

    @staticmethod
    def _gain(meets: list[list[int]], one: list[int], two: list[int], x: int, y: int) -> int:
        """Return the change of the sum of squares when x and y change places."""
        of_x, of_y, gain = meets[x], meets[y], 0
        for dish in one:
            if dish != x:
                gain += of_y[dish] - of_x[dish] + 1
        for dish in two:
            if dish != y:
                gain += of_x[dish] - of_y[dish] + 1
        # A dish both judges taste loses x and wins it again: counted twice as if apart.
        both = sum(1 for dish in one if dish != x and dish in two)
        return 2 * (gain - 2 * both)

    @staticmethod
    def _swap(
        meets: list[list[int]],
        tables: Table,
        lists: list[list[int]],
        one: tuple[int, int],
        two: tuple[int, int],
    ) -> None:
        (a, i), (c, j) = one, two
        x, y = lists[a][i], lists[c][j]
        for at, out, into in ((a, x, y), (c, y, x)):
            for dish in tables[at]:
                if dish != out:
                    meets[out][dish] -= 1
                    meets[dish][out] -= 1
                    meets[into][dish] += 1
                    meets[dish][into] += 1
            tables[at].discard(out)
            tables[at].add(into)
        lists[a][i], lists[c][j] = y, x

    def _connect(self, tables: Table) -> bool:
        """Swap dishes between islands until there is one; False where that does not succeed."""
        now = islands(tables, self.v)
        for _ in range(REPAIRS):
            if now == 1:
                return True
            a, c = self.rng.randrange(self.b), self.rng.randrange(self.b)
            x = self.rng.choice(sorted(tables[a]))
            y = self.rng.choice(sorted(tables[c]))
            if x in tables[c] or y in tables[a] or {(a, y), (c, x)} & self.barred:
                continue
            self._exchange(tables, a, x, c, y)
            then = islands(tables, self.v)
            if then > now:
                self._exchange(tables, a, y, c, x)
            else:
                now = then
        return now == 1

    @staticmethod
    def _exchange(tables: Table, a: int, x: int, c: int, y: int) -> None:
        tables[a].remove(x)
        tables[a].add(y)
        tables[c].remove(y)
        tables[c].add(x)
