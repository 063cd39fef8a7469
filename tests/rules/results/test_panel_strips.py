"""Where marks and intervals stand on the drawings of a panel."""

import math

import pytest

from judging.rules.results.panel_strips import (
    LABEL_WIDTH,
    RIGHT,
    WIDTH,
    interval_strip,
    wagon_strip,
)

LEFT_END, RIGHT_END = float(LABEL_WIDTH), float(WIDTH - RIGHT)


def test_a_wagons_marks_reach_from_nought_to_ten_and_the_mean_between() -> None:
    drawn = wagon_strip([("J1", [0.0, 10.0, 5.0]), ("J2", [7.5, 7.5])])
    one, other = drawn.lanes
    assert (one.low_x, one.high_x) == (LEFT_END, RIGHT_END)
    assert one.middle_x == (LEFT_END + RIGHT_END) / 2
    assert other.low_x == other.high_x == other.middle_x
    assert [x for x, _ in drawn.ticks] == [LEFT_END, (LEFT_END + RIGHT_END) / 2, RIGHT_END]
    assert drawn.zero_x is None
    assert one.y < other.y < drawn.foot_y < drawn.height


def test_a_dots_area_goes_with_the_rows_that_have_the_mark() -> None:
    (lane,) = wagon_strip([("J1", [3.0] * 4 + [8.0] * 16)]).lanes
    small, large = (dot.radius for dot in lane.dots)
    assert large / small == pytest.approx(2.0)


def test_a_long_name_is_cut_before_it_runs_into_the_drawing() -> None:
    (lane,) = wagon_strip([("verylongcode", [5.0])]).lanes
    assert len(lane.label) <= 6


def test_intervals_stand_about_a_judge_like_the_others() -> None:
    drawn = interval_strip([("J1", 0.4, -0.2, 1.0), ("J2", -0.4, -1.0, 0.2)])
    assert drawn is not None
    one, other = drawn.lanes
    assert drawn.zero_x == (LEFT_END + RIGHT_END) / 2
    assert one.high_x == RIGHT_END
    assert other.low_x == LEFT_END
    assert one.middle_x is not None
    assert one.low_x < drawn.zero_x < one.middle_x < one.high_x
    assert [text for _, text in drawn.ticks] == ["-1", "0", "+1"]


def test_a_judge_of_whom_nothing_can_be_told_has_an_empty_lane() -> None:
    nan = math.nan
    drawn = interval_strip([("J1", 1.2, 1.0, 1.4), ("J2", nan, nan, nan), ("J3", 1.1, nan, nan)], 1)
    assert drawn is not None
    assert [lane.middle_x is None for lane in drawn.lanes] == [False, True, False]
    assert drawn.lanes[2].low_x == drawn.lanes[2].high_x == drawn.lanes[2].middle_x
    assert interval_strip([("J2", nan, nan, nan)]) is None
