"""Places with their intervals as a chart: inside its frame, in order, told without colour."""

import itertools

import pytest

from judging.rules.results.places_chart import (
    AIR,
    LEFT,
    RIGHT,
    ROW,
    PlaceLine,
    name_fitted,
    places_chart,
)
from judging.rules.windows.chart_text import text_width

HALF_SQUARE = 5


def lines(count: int) -> list[PlaceLine]:
    """Every wagon may be two places better or worse, and with its missing card four."""

    def about(place: int, reach: int) -> tuple[int, int]:
        return max(1, place - reach), min(count, place + reach)

    return [
        PlaceLine(100 + n, f"Wagon of a long name {n}", n, about(n, 2), about(n, 4))
        for n in range(1, count + 1)
    ]


@pytest.mark.parametrize("count", range(1, 41))
def test_nothing_runs_over_the_frame(count: int) -> None:
    drawn = places_chart(lines(count))
    assert len(drawn.rows) == count
    for row in drawn.rows:
        assert drawn.top + HALF_SQUARE < row.y < drawn.foot_y - HALF_SQUARE
        assert row.ranks_x
        assert row.reach_x
        for x in (row.place_x, *row.ranks_x, *row.reach_x):
            assert LEFT <= x <= RIGHT
        assert row.reach_x[0] <= row.ranks_x[0] <= row.place_x <= row.ranks_x[1] <= row.reach_x[1]
        assert text_width(row.number, drawn.text_size) <= drawn.number_x
        assert drawn.name_x + text_width(row.name, drawn.text_size) < LEFT - HALF_SQUARE
    assert drawn.width >= RIGHT + HALF_SQUARE
    assert drawn.foot_y < drawn.height


@pytest.mark.parametrize("count", [1, 2, 7, 12, 13, 20, 40, 150])
def test_the_scale_names_places_in_order_and_no_label_runs_into_the_next(count: int) -> None:
    drawn = places_chart(lines(count))
    places = [int(text) for _, text in drawn.ticks]
    assert places[0] == 1
    assert places == sorted(set(places))
    assert places[-1] <= count
    assert len(places) > 3 or count < 4
    room = text_width(str(count), drawn.text_size) + AIR
    xs = [x for x, _ in drawn.ticks]
    assert all(b - a >= room - 0.1 for a, b in itertools.pairwise(xs))
    assert xs[-1] + text_width(str(count), drawn.text_size) / 2 <= drawn.width


def test_each_place_stands_at_its_own_tick() -> None:
    drawn = places_chart(lines(5))
    assert [row.place_x for row in drawn.rows] == [x for x, _ in drawn.ticks]
    assert [b.y - a.y for a, b in zip(drawn.rows, drawn.rows[1:], strict=False)] == [ROW] * 4


def test_equal_places_stand_one_under_the_other() -> None:
    drawn = places_chart([PlaceLine(n, "W", 1, (1, 3)) for n in (4, 7, 9)])
    assert len({row.place_x for row in drawn.rows}) == 1
    assert len({row.y for row in drawn.rows}) == 3


def test_what_is_not_known_is_not_drawn_nor_spoken_of() -> None:
    drawn = places_chart([PlaceLine(4, "Quiet Anvil", 1), PlaceLine(7, "Tin Sparrow", 2)])
    assert {(row.ranks_x, row.reach_x) for row in drawn.rows} == {(None, None)}
    assert drawn.rows[0].title == "4 Quiet Anvil: place 1"
    assert "line" not in drawn.description
    told = places_chart([PlaceLine(4, "Quiet Anvil", 2, None, (1, 4))])
    assert told.rows[0].title == "4 Quiet Anvil: place 2, with the missing cards 1 to 4"
    assert "broken line" in told.description
    assert "thick line" not in told.description


def test_a_chart_of_nobody_is_refused() -> None:
    with pytest.raises(ValueError, match="no place"):
        places_chart([])


def test_a_long_name_is_cut_with_a_sign_of_it() -> None:
    assert name_fitted("Tin") == "Tin"
    assert name_fitted("A name that does not fit in").endswith("…")
