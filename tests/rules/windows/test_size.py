"""Window sizes: true bounds, shortest walks, and ways out that hold when computed again."""

from __future__ import annotations

from datetime import time
from itertools import pairwise, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.rotation import planned_minutes
from judging.rules.windows.size import (
    VisitNeed,
    WayOut,
    WindowSize,
    rotating,
    rotation_bound,
    shortest_walk,
    walking_panel,
)

Table = tuple[tuple[int, ...], ...]


@st.composite
def tables(draw: st.DrawFn, most: int = 6) -> Table:
    """Symmetric walking tables with the gate in row 0; shortcuts through a third spot allowed."""
    n = draw(st.integers(1, most)) + 1
    half: dict[tuple[int, int], int] = {
        (i, k): draw(st.integers(0, 9)) for i in range(n) for k in range(i)
    }
    return tuple(
        tuple(0 if i == k else half[max(i, k), min(i, k)] for k in range(n)) for i in range(n)
    )


def without_shortcuts(walk: Table) -> Table:
    rows = [list(row) for row in walk]
    for via, i, k in product(range(len(rows)), repeat=3):
        rows[i][k] = min(rows[i][k], rows[i][via] + rows[via][k])
    return tuple(tuple(row) for row in rows)


def row_of_spots(wagons: int, apart: int = 1) -> Table:
    spots = range(wagons + 1)
    return tuple(tuple(apart * abs(i - k) for k in spots) for i in spots)


def tried_all(walk: Table, stops: list[int], back: bool = False) -> int:
    lengths: list[int] = [
        sum(walk[a][b] for a, b in pairwise((0, *order, *((0,) if back else ()))))
        for order in permutations(stops)
    ]
    return min(lengths)


@given(walk=tables(), back=st.booleans())
@settings(max_examples=80, deadline=None)
def test_short_walks_are_the_shortest(walk: Table, back: bool) -> None:
    stops = list(range(1, len(walk)))
    found = shortest_walk(walk, stops, back_to_gate=back)
    assert found.minutes == tried_all(walk, stops, back)
    assert found.proven
    assert sorted(found.order) == stops


@given(walk=tables(), kicks=st.integers(0, 3))
@settings(max_examples=60, deadline=None)
def test_the_bound_of_a_walk_is_never_too_high(walk: Table, kicks: int) -> None:
    """Three wagons on every spot: more stops than are ever solved exactly, same shortest walk."""
    walk = without_shortcuts(walk)
    stops = list(range(1, len(walk)))
    found = shortest_walk(walk, stops * 3, kicks=kicks)
    assert found.lower_bound <= tried_all(walk, stops) <= found.minutes


def test_no_stop_is_no_walk() -> None:
    assert shortest_walk(((0, 1), (1, 0)), []).minutes == 0


@pytest.mark.parametrize(
    ("walk", "words"),
    [
        (((0, 1), (2, 0)), "but back"),
        (((0, -1), (-1, 0)), "-1 minutes"),
        (((0, 1),), "1 times|of 1 times"),
        (((1,),), "to itself"),
    ],
)
def test_a_wrong_walking_table_is_refused(walk: Table, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        shortest_walk(walk, [])


@given(walk=tables(), data=st.data())
@settings(max_examples=80, deadline=None)
def test_every_way_out_of_a_walking_panel_holds(walk: Table, data: st.DataObject) -> None:
    n = len(walk) - 1
    minutes = data.draw(st.lists(st.integers(1, 12), min_size=n, max_size=n))
    rest = data.draw(st.integers(0, 5))
    visits = [VisitNeed(w, "panel", m) for w, m in enumerate(minutes, start=1)]
    exact = sum(minutes) + tried_all(walk, list(range(1, n + 1))) + rest
    available = data.draw(st.integers(1, exact + 5))
    size = walking_panel(
        visits=visits,
        walk=walk,
        available_minutes=available,
        break_minutes=[rest],
        starts_at=time(8),
    )
    assert size.needed_minutes == size.bound_minutes == exact
    assert size.certain
    assert size.fits == (exact <= available)
    assert size.short_by == max(0, exact - available)
    assert not (size.fits and size.ways_out)
    for way in size.ways_out:
        assert way.needed_minutes == recomputed(way, walk, minutes, rest, size)
        extra = way.amount if way.change == "start" else 0
        assert way.needed_minutes <= available + extra


def recomputed(way: WayOut, walk: Table, minutes: list[int], rest: int, size: WindowSize) -> int:
    """What the change really needs, by trying everything."""
    spots = list(range(1, len(minutes) + 1))
    if way.change == "start":
        return sum(minutes) + tried_all(walk, spots) + rest
    if way.change == "minutes":
        return sum(max(1, m - way.amount) for m in minutes) + tried_all(walk, spots) + rest
    order = [int(str(entry)) for entry in size.order]
    if way.change == "wagons":
        kept = order[: len(order) - way.amount]
        return sum(minutes[w - 1] for w in kept) + tried_all(walk, kept) + rest
    sizes = [
        int(n)
        for n in way.sentence.split("(")[1].split(" wagons")[0].replace(" and", ",").split(", ")
    ]
    assert len(sizes) == way.amount
    parts = [[order.pop(0) for _ in range(n)] for n in sizes]
    assert not order
    return max(sum(minutes[w - 1] for w in part) + tried_all(walk, part) + rest for part in parts)


def test_a_window_that_holds_says_so() -> None:
    size = walking_panel(
        visits=[VisitNeed(1, "panel", 5), VisitNeed(2, "panel", 7)],
        walk=row_of_spots(2),
        available_minutes=20,
        break_minutes=[3],
    )
    assert size.sentence == (
        "2 wagons of 12 minutes in all + 2 walking + 3 of breaks = 17 minutes. "
        "The window has 20: enough, 3 to spare."
    )
    assert size.order == (1, 2)


def test_no_start_before_midnight_and_no_visit_below_a_minute() -> None:
    size = walking_panel(
        visits=[VisitNeed(1, "panel", 10)],
        walk=row_of_spots(1, apart=5),
        available_minutes=4,
        starts_at=time(0, 3),
    )
    assert size.short_by == 11
    assert size.ways_out == ()


def test_a_walking_panel_is_one_party() -> None:
    walk = row_of_spots(2)
    with pytest.raises(ValueError, match="one party"):
        walking_panel(
            visits=[VisitNeed(1, "a", 5), VisitNeed(2, "b", 5)], walk=walk, available_minutes=9
        )
    with pytest.raises(ValueError, match="each entry once"):
        walking_panel(visits=[VisitNeed(1, "a", 5)] * 2, walk=walk, available_minutes=9)
    with pytest.raises(ValueError, match="no visit"):
        walking_panel(visits=[], walk=walk, available_minutes=9)
    with pytest.raises(ValueError, match="one whole minute"):
        VisitNeed(1, "a", 0)


def rotation_of(wagons: int, minutes: dict[str, int]) -> list[VisitNeed]:
    return [VisitNeed(w, judge, m) for w in range(1, wagons + 1) for judge, m in minutes.items()]


def test_the_bottleneck_judge_is_named_and_relieved() -> None:
    visits = rotation_of(20, {"Chuck box": 9, "Fire": 6})
    size = rotating(
        visits=visits,
        walk=row_of_spots(20),
        available_minutes=170,
        starts_at=time(8, 30),
        planned=planned_minutes(walk=row_of_spots(20), spot={w: w for w in range(1, 21)}),
    )
    assert size.bottleneck == (
        "Chuck box: 20 visits x 9 + 20 walking = 200 minutes; none can be shorter."
    )
    assert (size.needed_minutes, size.bound_minutes, size.short_by) == (200, 200, 30)
    assert size.certain
    ways = {way.change: way for way in size.ways_out}
    assert ways["start"].sentence == "Start at 08:00, 30 minutes earlier: 200 minutes, fits."
    assert ways["judges"].sentence.startswith("1 more judge (1 beside Chuck box): ")
    assert ways["judges"].sentence.endswith("Fire sets the pace.")
    assert ways["judges"].needed_minutes <= 170
    assert ways["minutes"].sentence.startswith("Take 2 minutes off each visit: 160 minutes")
    assert "1 would be 10 short" in ways["minutes"].sentence
    assert ways["wagons"].amount == 3
    assert "18, 19 and 20" in ways["wagons"].sentence


def test_a_wagon_can_be_the_bottleneck() -> None:
    visits = [*rotation_of(3, {"a": 4, "b": 4, "c": 4}), VisitNeed(3, "d", 20)]
    size = rotating(
        visits=visits,
        walk=row_of_spots(3),
        available_minutes=30,
        crew_reset_minutes=2,
        names={3: "wagon 3"},
    )
    assert size.bottleneck == (
        "wagon 3: 3 from the gate + 4 visits of 32 minutes in all + 6 of crew reset = 41 minutes; "
        "none can be shorter."
    )
    ways = {way.change: way for way in size.ways_out}
    assert "judges" not in ways
    assert ways["wagons"].sentence.startswith("Keep 2 wagons and leave wagon 3 to another window")


def test_without_a_drawn_rotation_nothing_is_promised() -> None:
    visits = rotation_of(3, {"a": 5, "b": 5, "c": 5})
    size = rotating(visits=visits, walk=row_of_spots(3), available_minutes=18)
    assert not size.certain
    assert size.fits
    assert "only a drawn rotation is sure" in size.sentence
    short = rotating(visits=visits, walk=row_of_spots(3), available_minutes=15)
    assert short.ways_out
    assert all("by the bound" in way.sentence for way in short.ways_out)


def shortest_rotation(visits: list[VisitNeed], walk: Table, reset: int) -> int:
    """Every order of visits, each as early as it can be: the best is a shortest rotation."""
    best = 10**9
    for order in permutations(visits):
        judge_at: dict[object, tuple[int, int]] = {}
        crew_from: dict[object, int] = {}
        end = 0
        for need in order:
            free, where = judge_at.get(need.judge, (0, 0))
            spot = int(str(need.entry))
            start = max(free + walk[where][spot], crew_from.get(need.entry, 0))
            judge_at[need.judge] = (start + need.minutes, spot)
            crew_from[need.entry] = start + need.minutes + reset
            end = max(end, start + need.minutes)
        best = min(best, end)
    return best


@st.composite
def small_rotations(draw: st.DrawFn) -> tuple[list[VisitNeed], Table, int]:
    walk = draw(tables(most=3))
    pairs = [(w, j) for w in range(1, len(walk)) for j in "abc"]
    chosen = draw(st.lists(st.sampled_from(pairs), unique=True, min_size=1, max_size=6))
    visits = [VisitNeed(w, j, draw(st.integers(1, 9))) for w, j in chosen]
    return visits, walk, draw(st.integers(0, 3))


@given(small_rotations())
@settings(max_examples=60, deadline=None)
def test_the_bound_of_a_rotation_is_never_too_high(
    case: tuple[list[VisitNeed], Table, int],
) -> None:
    visits, walk, reset = case
    spot = {w: w for w in range(1, len(walk))}
    bound = rotation_bound(visits, walk, spot, reset)
    assert bound.minutes <= shortest_rotation(visits, walk, reset)
    assert f"= {bound.minutes} minutes" in bound.sentence


@given(small_rotations(), st.integers(1, 40))
@settings(max_examples=40, deadline=None)
def test_ways_out_of_a_rotation_fit_when_drawn_again(
    case: tuple[list[VisitNeed], Table, int], available: int
) -> None:
    visits, walk, reset = case
    spot = {w: w for w in range(1, len(walk))}
    planned = planned_minutes(walk=walk, spot=spot, crew_reset_minutes=reset)
    size = rotating(
        visits=visits,
        walk=walk,
        spot=spot,
        crew_reset_minutes=reset,
        available_minutes=available,
        planned=planned,
    )
    assert size.needed_minutes >= shortest_rotation(visits, walk, reset) >= size.bound_minutes
    for way in size.ways_out:
        extra = way.amount if way.change == "start" else 0
        assert way.needed_minutes <= available + extra
        if way.change == "minutes":
            cut = [VisitNeed(n.entry, n.judge, max(1, n.minutes - way.amount)) for n in visits]
            assert shortest_rotation(cut, walk, reset) <= way.needed_minutes


def test_there_must_be_a_visit() -> None:
    with pytest.raises(ValueError, match="no visit"):
        rotating(visits=[], walk=((0,),), available_minutes=10)
