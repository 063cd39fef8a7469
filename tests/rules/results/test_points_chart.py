"""Judges' points as a chart: every dot inside, none on another, every judge of another form."""

import itertools
import re
from decimal import Decimal
from zlib import crc32

import pytest

from judging.rules.results.points_chart import (
    LANE,
    LOOKS,
    RADIUS,
    PointsChart,
    WagonPoints,
    outline,
    points_chart,
)
from judging.rules.windows.chart_text import text_width

POSSIBLE = Decimal(60)


def judges(count: int) -> dict[str, str]:
    return {f"J{n}": f"Judge Number {n}" for n in range(1, count + 1)}


def wagons(count: int, panel: dict[str, str], equal: bool) -> list[WagonPoints]:
    def points(wagon: int, judge: str) -> Decimal:
        return Decimal(41) if equal else Decimal(crc32(f"{wagon} {judge}".encode()) % 6001) / 100

    return [
        WagonPoints(n, f"Wagon of a long name {n}", {judge: points(n, judge) for judge in panel})
        for n in range(1, count + 1)
    ]


def demand_all_inside(drawn: PointsChart) -> None:
    y = float(drawn.top)
    for row in drawn.rows:
        assert row.y == y
        for dot in row.dots:
            assert dot.x - RADIUS >= 0
            assert dot.x + RADIUS <= drawn.width
            assert row.y <= dot.y - RADIUS
            assert dot.y + RADIUS <= row.y + row.height
            assert drawn.name_x + text_width(row.name, drawn.text_size) <= dot.x - RADIUS
        for n, dot in enumerate(row.dots):
            for other in row.dots[:n]:
                apart = max(abs(dot.x - other.x), abs(dot.y - other.y))
                assert apart > 2 * RADIUS + 1, (dot.title, other.title)
        y = round(y + row.height, 1)
    assert drawn.foot_y == y
    for item in drawn.key:
        assert drawn.foot_y < item.dot.y - RADIUS
        assert item.dot.y + RADIUS < drawn.height
        assert item.text_x + text_width(item.label, drawn.text_size) <= drawn.width


@pytest.mark.parametrize("equal", [False, True])
@pytest.mark.parametrize("n_judges", range(1, 7))
def test_every_dot_is_inside_the_frame_and_none_lies_on_another(n_judges: int, equal: bool) -> None:
    panel = judges(n_judges)
    for count in range(1, 41):
        drawn = points_chart("Harness", wagons(count, panel, equal), panel, POSSIBLE)
        assert drawn
        assert sum(len(row.dots) for row in drawn.rows) == count * n_judges
        demand_all_inside(drawn)


def test_equal_points_stand_one_under_the_other_in_a_row_that_grows() -> None:
    drawn = points_chart("Harness", wagons(2, judges(6), True), judges(6), POSSIBLE)
    assert drawn
    for row in drawn.rows:
        assert len({dot.x for dot in row.dots}) == 1
        ys = sorted(dot.y for dot in row.dots)
        assert [round(b - a, 1) for a, b in itertools.pairwise(ys)] == [LANE] * 5
        assert row.height > 5 * LANE


def test_more_points_stand_further_right_and_the_scale_says_how_many() -> None:
    seen = [WagonPoints(1, "A", {"J1": Decimal("41.25"), "J2": Decimal("44.75")})]
    drawn = points_chart("Harness", seen, judges(2), POSSIBLE)
    assert drawn
    at = {text: x for x, text in drawn.ticks}
    first, second = drawn.rows[0].dots
    assert at["41"] < first.x < at["42"]
    assert at["44"] < second.x < at["45"]
    assert "60 points are possible" in drawn.description


@pytest.mark.parametrize("points", ["0", "0.5", "60", "1000"])
def test_a_single_dot_has_a_scale_too(points: str) -> None:
    drawn = points_chart("H", [WagonPoints(1, "A", {"J1": Decimal(points)})], judges(1), POSSIBLE)
    assert drawn
    assert len(drawn.ticks) >= 2
    assert not any(text.startswith("-") for _, text in drawn.ticks)
    demand_all_inside(drawn)


def test_twelve_judges_are_told_apart_by_form_and_filling_and_more_are_not_drawn() -> None:
    panel = judges(len(LOOKS))
    drawn = points_chart("Harness", wagons(3, panel, False), panel, POSSIBLE)
    assert drawn
    forms = {(re.sub(r"[\d.]+", "", item.dot.path), item.dot.filled) for item in drawn.key}
    assert len(set(LOOKS)) == len(LOOKS)
    assert len(forms) > 6
    demand_all_inside(drawn)
    many = judges(len(LOOKS) + 1)
    assert points_chart("Harness", wagons(3, many, False), many, POSSIBLE) is None
    assert points_chart("Harness", [WagonPoints(1, "A", {})], {}, POSSIBLE) is None


def test_a_judge_who_did_not_see_a_wagon_has_no_dot_there() -> None:
    seen = [WagonPoints(1, "A", {"J1": Decimal(3)}), WagonPoints(2, "B", {"J2": Decimal(4)})]
    drawn = points_chart("Harness", seen, judges(2), POSSIBLE)
    assert drawn
    assert [[dot.title for dot in row.dots] for row in drawn.rows] == [
        ["1 A, J1 Judge Number 1: 3"],
        ["2 B, J2 Judge Number 2: 4"],
    ]


@pytest.mark.parametrize("form", sorted({form for form, _ in LOOKS} - {"circle"}))
def test_no_form_reaches_beyond_its_size(form: str) -> None:
    pairs = re.findall(r"(-?[\d.]+) (-?[\d.]+)", outline(form, 0, 0, 4))
    assert pairs
    assert all(abs(float(x)) <= 4 and abs(float(y)) <= 4 for x, y in pairs)


def test_a_circle_is_two_half_arcs_that_end_where_they_began() -> None:
    """SVG 1.1, 8.3.8 (from memory): `a rx ry turn large sweep dx dy`, measured from where it is."""
    path = outline("circle", 10, 20, 4)
    begun = re.match(r"M(\S+) (\S+?)a", path)
    assert begun and (float(begun[1]), float(begun[2])) == (10 - 4, 20)
    arcs = re.findall(r"a(\S+) (\S+) 0 1 0 (\S+) (-?[\d.]+)", path)
    assert [(float(a), float(b)) for a, b, _, _ in arcs] == [(4, 4), (4, 4)]
    assert [(float(dx), float(dy)) for _, _, dx, dy in arcs] == [(8, 0), (-8, 0)]
    assert path.endswith("Z")


@pytest.mark.parametrize(
    ("form", "corners"), [("square", 4), ("triangle", 3), ("wedge", 3), ("diamond", 4)]
)
def test_a_form_with_corners_is_closed_and_has_as_many(form: str, corners: int) -> None:
    path = outline(form, 0, 0, 4)
    assert path.endswith("Z")
    assert len(set(re.findall(r"[ML](\S+ -?[\d.]+)", path))) == corners


def test_the_scale_ends_at_the_frame_and_the_title_counts_the_wagons() -> None:
    panel = judges(2)
    one, three = (
        points_chart("Harness", wagons(count, panel, False), panel, POSSIBLE) for count in (1, 3)
    )
    assert one and three
    assert one.title == "Harness: each judge's points of 1 wagon"
    assert three.title == "Harness: each judge's points of 3 wagons"
    for drawn in (one, three):
        xs = [x for x, _ in drawn.ticks]
        assert xs == sorted(set(xs))
        assert xs[-1] <= drawn.width
        dots = [dot.x for row in drawn.rows for dot in row.dots]
        assert xs[0] <= min(dots) <= max(dots) <= xs[-1]


def test_the_key_says_who_wears_which_form_and_stands_clear_of_its_words() -> None:
    drawn = points_chart("Harness", wagons(3, judges(3), False), judges(3), POSSIBLE)
    assert drawn
    assert [item.dot.title for item in drawn.key] == [f"J{n} Judge Number {n}" for n in (1, 2, 3)]
    assert all(item.dot.x + RADIUS < item.text_x for item in drawn.key)
