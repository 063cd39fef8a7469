"""What a camp plan is looked over for, and spots laid out in rows."""

from __future__ import annotations

import pytest

from entries.rules.camp_plan import MOST_GAPS, Place, Plot, Zone, footprint, rows_of_spots, warnings


def spot(number: int, x: float, y: float = 0, **more: object) -> Place:
    return Place(number, x, y, 50, 40, **more)  # type: ignore[arg-type]


def whats(*places: Place, zones: tuple[Zone, ...] = ()) -> list[str]:
    return [found.what for found in warnings(places, zones)]


# --- Where a camp lies ---------------------------------------------------------------------


def test_a_camp_lies_south_of_its_front_unless_it_faces_south() -> None:
    alone = spot(1, 25)
    assert footprint(alone, [alone], []) == Plot(0, -40, 50, 0)


@pytest.mark.parametrize("lane", [20, 40])
def test_two_rows_face_each_other_across_a_lane(lane: int) -> None:
    south, north = spot(1, 25, 0), spot(2, 25, lane)
    plots = [footprint(one, [south, north], []) for one in (south, north)]
    assert [(plot.south, plot.north) for plot in plots] == [(-40, 0), (lane, lane + 40)]
    assert whats(south, north) == []


def test_a_row_behind_a_row_faces_the_same_way() -> None:
    front, behind = spot(1, 25, 0), spot(2, 25, -60)
    assert footprint(behind, [front, behind], []) == Plot(0, -100, 50, -60)


def test_a_camp_south_of_a_way_and_one_north_of_it_both_face_it() -> None:
    way = Zone("public", "Main way", 0, 30, 200, 30)
    south, north = spot(1, 25, 0), spot(2, 125, 30)
    plots = [footprint(one, [south, north], [way]) for one in (south, north)]
    assert [(plot.south, plot.north) for plot in plots] == [(-40, 0), (30, 70)]
    # A fire lane is no way to face, and a way elsewhere is none either.
    lane = Zone("fire_lane", "Lane", 0, 30, 200, 30)
    far = Zone("public", "Far way", 500, 30, 100, 30)
    assert footprint(north, [north], [lane, far]) == Plot(100, -10, 150, 30)


# --- What is warned of ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("apart", "found"), [(49, ["overlap"]), (50, ["gap"]), (59, ["gap"]), (60, [])]
)
def test_neighbors_overlap_touch_or_are_clear(apart: int, found: list[str]) -> None:
    assert whats(spot(1, 0), spot(2, apart)) == found


def test_camps_that_meet_only_at_a_corner_are_no_neighbors() -> None:
    assert whats(spot(1, 0, 0), spot(2, 50, -40)) == []


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("fire_lane", "fire lane"),
        ("animals", "animal zone"),
        ("water", "water"),
        ("public", "public way"),
        ("other", "zone"),
    ],
)
def test_a_spot_in_a_zone_is_named_with_it_and_officials_decide(kind: str, words: str) -> None:
    zone = Zone(kind, "The strip", 20, -10, 10, 10)
    (found,) = warnings([spot(7, 25)], [zone])
    assert (found.what, found.spots) == ("zone", (7,))
    assert found.words.startswith(f"Spot 7 lies in The strip ({words}).")
    assert "officials decide" in found.words


def test_a_zone_that_only_touches_a_spot_is_no_fault() -> None:
    assert whats(spot(1, 25), zones=(Zone("fire_lane", "Lane", 50, 0, 20, 40),)) == []


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"asked_frontage": 51}, "Nine Biscuit asked for 51 ft of frontage; spot 1 has 50 ft."),
        ({"asked_depth": 60}, "Nine Biscuit asked for 60 ft of depth; spot 1 has 40 ft."),
        ({"asked_frontage": 50, "asked_depth": 40}, ""),
        ({}, ""),
    ],
)
def test_a_spot_smaller_than_the_camp_asked_for(asked: dict[str, float], words: str) -> None:
    found = warnings([spot(1, 25, wagon="Nine Biscuit", **asked)], [])
    assert [one.words for one in found] == ([words] if words else [])


def test_many_narrow_gaps_are_one_warning_that_names_a_few() -> None:
    line = [spot(n, 52.0 * n) for n in range(1, 12)]
    (found,) = warnings(line, [])
    assert found.spots == tuple(range(1, 12))
    assert found.words.count(" ft,") + found.words.count(" ft. ") >= MOST_GAPS
    assert "and 4 more" in found.words
    assert "One campus asks for 10 ft" in found.words


# --- Rows ----------------------------------------------------------------------------------


def lay(**more: float) -> tuple[Place, ...]:
    asked = {"n": 5, "first_number": 1, "x": 0, "y": 0, "frontage": 50, "depth": 40,
             "gap": 10, "n_rows": 2, "lane": 30, **more}  # fmt: skip
    return rows_of_spots(**asked)  # type: ignore[arg-type]


def test_rows_are_numbered_west_to_east_and_southward() -> None:
    assert [(p.number, p.x, p.y) for p in lay()] == [
        (1, 25, 0), (2, 85, 0), (3, 145, 0), (4, 25, -70), (5, 85, -70),
    ]  # fmt: skip


@pytest.mark.parametrize("n", [1, 7, 40])
@pytest.mark.parametrize("n_rows", [1, 3, 6])
@pytest.mark.parametrize(("lane", "gap"), [(10, 10), (41, 30), (200, 10)])
def test_rows_laid_out_with_room_never_overlap_nor_come_near(
    n: int, n_rows: int, lane: int, gap: int
) -> None:
    laid = lay(n=n, n_rows=n_rows, lane=lane, gap=gap)
    assert len({place.number for place in laid}) == n
    assert whats(*laid) == []


@pytest.mark.parametrize("wrong", [{"n": 0}, {"n_rows": 0}, {"frontage": 0}, {"gap": -1}])
def test_rows_of_nothing_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="size"):
        lay(**wrong)
