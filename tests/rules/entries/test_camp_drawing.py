"""The camp plan as shapes."""

from __future__ import annotations

from entries.rules.camp_drawing import MARGIN_FT, SpotShape, ZoneShape, draw_camp
from entries.rules.camp_plan import Place, Zone


def test_north_is_at_the_top_and_everything_is_inside() -> None:
    spots = [Place(1, 25, 0, 50, 40, "Tin Sparrow"), Place(2, 25, 100, 50, 40)]
    drawn = draw_camp(spots, [Zone("water", "Pond", 60, -20, 30, 10)], (-40, 20))
    south, north = drawn.spots
    assert north.top < south.top
    assert (drawn.left, drawn.top) == (-40 - MARGIN_FT, -100 - MARGIN_FT)
    shapes: list[SpotShape | ZoneShape] = [*drawn.spots, *drawn.zones]
    for shape in shapes:
        assert drawn.left < shape.left < shape.left + shape.width < drawn.left + drawn.width
        assert drawn.top < shape.top < shape.top + shape.height < drawn.top + drawn.height
    # The front is the side of the spot that its own y says.
    assert (south.front_y, south.top) == (0, 0)
    assert (north.front_y, north.top) == (-100, -100)


def test_a_long_name_is_cut_where_its_spot_ends_and_stands_whole_in_the_title() -> None:
    name = "The Greater Cottonwood Slough Co-operative Supper Wagon"
    (shape,) = draw_camp([Place(8, 0, 0, 50, 40, name)], [], (0, 0)).spots
    assert shape.name.endswith("…")
    assert len(shape.name) < 16
    assert shape.title == f"Camp spot 8: {name}"
    (wide,) = draw_camp([Place(8, 0, 0, 400, 40, name)], [], (0, 0)).spots
    assert wide.name == name


def test_a_zone_says_what_it_is_once_and_small_ones_lie_on_top() -> None:
    zones = [
        Zone("fire_lane", "West lane", 0, 0, 10, 90),
        Zone("fire_lane", "North fire lane", 0, 0, 90, 10),
        Zone("other", "Parking", 0, 0, 300, 300),
    ]
    drawn = draw_camp([], zones, (0, 0)).zones
    assert [zone.label for zone in drawn] == [
        "Parking", "North fire lane", "West lane, fire lane",
    ]  # fmt: skip
    assert [zone.upright for zone in drawn] == [False, False, True]
