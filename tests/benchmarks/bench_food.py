"""Tables of dishes: how near the bound, how long, and what dealing out in a row would give."""

from __future__ import annotations

from collections.abc import Iterator
from statistics import median

from judging.rules.panels.serving import serve
from judging.rules.panels.tables import bound, connected, design, efficiency
from tests.benchmarks.measure import Bound, Row, clocked
from tests.served import dealt, most_at_one_position

NAME = "food"
SIZES = ((20, 12, 5), (15, 12, 5), (24, 16, 6), (30, 18, 5))
SEEDS = 3
AT_MOST_MS = 2000.0
LEAST_SHARE = 0.96  # of the second-moment bound


def rows() -> Iterator[Row]:
    """Measure each size with several seeds; short of the bound is what is missing of 1."""
    for dishes, judges, each in SIZES:
        times, shares = [], []
        for seed in range(SEEDS):
            drawn: list[tuple[tuple[int, ...], ...]] = []
            times.append(
                clocked(lambda: drawn.append(design(dishes, judges, each, seed=seed)))  # noqa: B023
            )
            assert connected(drawn[0])
            assert most_at_one_position(serve(drawn[0])) == 1
            shares.append(efficiency(drawn[0]))
        limits, by_hand = bound(dishes, judges, each), dealt(dishes, judges, each)
        worst = min(shares)
        said = f"{efficiency(by_hand):.4f}" if connected(by_hand) else "islands"
        yield Row(
            NAME,
            f"tables of {dishes} dishes for {judges} judges, {each} each",
            median(times),
            bounds=(
                Bound("ms slowest", max(times), AT_MOST_MS),
                Bound("short of bound", 1 - worst / limits.second_moment, 1 - LEAST_SHARE),
            ),
            note=f"efficiency {worst:.4f}, bound {limits.second_moment:.4f}, sharper "
            f"{limits.dual:.4f}; dealt out in a row: {said}",
        )
