"""The chart of the rotation: nothing runs over, nothing lies over another, all is told apart."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from fontTools.ttLib import TTFont  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.chart import DASHES, FILLS, draw, looks
from judging.rules.windows.chart_shapes import Busy, Chart, ChartVisit, Frame, Who
from judging.rules.windows.chart_text import fitted, text_width
from tests.house.tree import ROOT

OPENS_AT = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)
FONTS = ROOT / "showrun/project/static/show/fonts"
DENVER = ZoneInfo("America/Denver")


def minutes(count: float) -> datetime:
    return OPENS_AT + timedelta(minutes=count)


def wagons(count: int, name: str = "Patient Mule") -> list[Who]:
    return [Who(n, str(n), f"{name} {n}") for n in range(1, count + 1)]


def judges(count: int, label: str = "J") -> list[Who]:
    return [Who(f"j{n}", f"{label}{n}", f"Judge Number {n}") for n in range(1, count + 1)]


def turning(n_wagons: int, n_judges: int, stay: int = 10, slot: int = 12) -> list[ChartVisit]:
    slots = max(n_wagons, n_judges)
    return [
        ChartVisit(place + 1, f"j{j + 1}", minutes(k * slot), minutes(k * slot + stay))
        for j in range(n_judges)
        for k in range(slots)
        if (place := (k + j) % slots) < n_wagons
    ]


def demand_nothing_runs_over(chart: Chart) -> None:
    size = chart.text_size
    for row in chart.rows:
        assert row.y >= chart.top
        assert row.y + row.height <= chart.height
        assert chart.name_x + text_width(row.name, size) <= chart.left
        assert text_width(row.label, size) <= chart.number_x
        for bar in row.bars:
            assert chart.left <= bar.x < bar.right <= chart.right
            assert row.y < bar.y
            assert bar.y + bar.height < row.y + row.height
        edges = [*(bar.x for bar in row.bars[1:]), chart.right]
        for bar, edge in zip(row.bars, edges, strict=False):
            assert bar.right <= edge + 0.011
            if bar.label:
                label_ends = bar.label_x + text_width(bar.label, size)
                inside = bar.x <= bar.label_x and label_ends <= bar.right
                beside = bar.right < bar.label_x and label_ends < edge
                assert inside or beside, bar
    labels = [tick for tick in chart.ticks if tick.label]
    for one, other in pairwise(labels):
        apart = other.x - one.x
        assert apart > (text_width(one.label, size) + text_width(other.label, size)) / 2
    for tick in labels:
        assert tick.x + text_width(tick.label, size) / 2 <= chart.width


@pytest.mark.parametrize(("n_wagons", "n_judges"), [(1, 1), (1, 30), (5, 3), (40, 6), (40, 30)])
@pytest.mark.parametrize("stay", [1, 5, 12])
def test_no_size_of_show_runs_over(n_wagons: int, n_judges: int, stay: int) -> None:
    chart = draw(turning(n_wagons, n_judges, stay), wagons(n_wagons), judges(n_judges), zone=DENVER)
    assert len(chart.rows) == n_wagons
    assert sum(len(row.bars) for row in chart.rows) == n_wagons * n_judges
    demand_nothing_runs_over(chart)


@given(
    starts=st.lists(st.integers(0, 500), min_size=1, max_size=25, unique=True),
    lasting=st.integers(1, 30),
    name=st.text(max_size=80),
    label=st.text(min_size=1, max_size=12),
    width=st.integers(400, 1600),
    size=st.integers(6, 16),
)
@settings(max_examples=150, deadline=None)
def test_any_names_and_times_stay_in_their_room(
    starts: list[int], lasting: int, name: str, label: str, width: int, size: int
) -> None:
    starts.sort()
    told = [
        ChartVisit(1, "j1", minutes(start), minutes(min(start + lasting, after)))
        for start, after in pairwise([*starts, 9999])
    ]
    frame = Frame(width=width, row_height=size * 2, name_width=size * 6, text_size=size)
    chart = draw(told, [Who(1, label, name)], [Who("j1", label, name)], zone=DENVER, frame=frame)
    demand_nothing_runs_over(chart)


def test_bars_stand_where_their_times_are() -> None:
    told = [
        ChartVisit(1, "j1", minutes(0), minutes(30)),
        ChartVisit(1, "j2", minutes(45), minutes(60)),
    ]
    chart = draw(told, wagons(1), judges(2), zone=DENVER)
    a_minute = (chart.right - chart.left) / 60
    first, second = chart.rows[0].bars
    assert first.x == chart.left
    assert first.width == pytest.approx(30 * a_minute, abs=0.02)
    assert second.x == pytest.approx(chart.left + 45 * a_minute, abs=0.02)
    assert second.right == chart.right
    assert [tick.label for tick in chart.ticks] == ["8 AM", "8:15", "8:30", "8:45", "9 AM"]
    for tick, minute in zip(chart.ticks, range(0, 61, 15), strict=True):
        assert tick.x == pytest.approx(chart.left + minute * a_minute, abs=0.02)


def test_full_hours_stand_at_full_hours_in_zones_that_are_half_an_hour_off() -> None:
    told = [ChartVisit(1, "j1", minutes(0), minutes(600))]
    chart = draw(told, wagons(1), judges(1), zone=ZoneInfo("Asia/Kolkata"))
    assert [tick.label for tick in chart.ticks][:3] == ["8 PM", "9 PM", "10 PM"]
    a_minute = (chart.right - chart.left) / 600
    assert chart.ticks[0].x == pytest.approx(chart.left + 30 * a_minute, abs=0.02)


def test_every_judge_looks_different_in_grey() -> None:
    worn = looks(judges(FILLS * len(DASHES)))
    assert len({(look.fill, look.dash) for look in worn.values()}) == 32
    assert len({look.label for look in worn.values()}) == 32
    with pytest.raises(ValueError, match="32 judges"):
        looks(judges(33))


def test_long_codes_become_letters_and_all_letters_differ() -> None:
    worn = looks(judges(30, label="senior-judge-"))
    labels = [look.label for look in worn.values()]
    assert labels[:2] == ["A", "B"]
    assert labels[25:28] == ["Z", "AA", "AB"]
    assert len(set(labels)) == 30


def test_a_label_stands_inside_then_beside_then_nowhere() -> None:
    def label_of(stay: int, gap: int) -> tuple[str, bool]:
        told = [
            ChartVisit(1, "j1", minutes(0), minutes(stay)),
            ChartVisit(1, "j1", minutes(stay + gap), minutes(600)),
        ]
        bar = draw(told, wagons(1), judges(1), zone=UTC).rows[0].bars[0]
        return bar.label, bar.label_x > bar.right

    assert label_of(60, 1) == ("J1", False)
    assert label_of(2, 60) == ("J1", True)
    assert label_of(2, 2) == ("", False)


def test_a_label_beside_does_not_stand_on_a_hatched_time() -> None:
    told = [
        ChartVisit(1, "j1", minutes(0), minutes(2)),
        ChartVisit(1, "j1", minutes(90), minutes(600)),
    ]
    for wagon in (None, 1):
        busy = [Busy(wagon, minutes(4), minutes(60), "Turn-in of beans")]
        chart = draw(told, wagons(1), judges(1), zone=UTC, busy=busy)
        assert chart.rows[0].bars[0].label == ""


def test_pauses_are_columns_and_busy_crews_are_parts_of_rows() -> None:
    busy = [
        Busy(None, minutes(60), minutes(75), "Cooks' meeting"),
        Busy(2, minutes(90), minutes(100), "Turn-in of beans"),
        Busy(None, minutes(-90), minutes(-60), "Before all"),
    ]
    chart = draw(turning(10, 2), wagons(10), judges(2), zone=DENVER, busy=busy)
    (pause,) = chart.pauses
    assert pause.title == "Cooks' meeting, 9:00 AM to 9:15 AM"
    assert pause.y == chart.top
    assert pause.height == pytest.approx(10 * chart.rows[0].height)
    assert [len(row.busy) for row in chart.rows] == [0, 1, *[0] * 8]
    for hatched in (pause, chart.rows[1].busy[0]):
        points = re.findall(r"([\d.]+) ([\d.]+)", hatched.strokes)
        assert len(points) >= 4
        for x, y in points:
            assert hatched.x - 0.01 <= float(x) <= hatched.x + hatched.width + 0.01
            assert hatched.y - 0.01 <= float(y) <= hatched.y + hatched.height + 0.01


def test_a_panel_that_walks_together_makes_one_bar() -> None:
    told = [
        ChartVisit(w, f"j{j}", minutes(20 * w), minutes(20 * w + 10 + j))
        for w in (1, 2)
        for j in (1, 2, 3)
    ]
    chart = draw(told, wagons(2), judges(3), zone=DENVER)
    assert [[bar.label for bar in row.bars] for row in chart.rows] == [["all"], ["all"]]
    bar = chart.rows[0].bars[0]
    a_minute = (chart.right - chart.left) / 45
    assert bar.width == pytest.approx(13 * a_minute, abs=0.02)
    assert "J2 Judge Number 2 at 1 Patient Mule 1, 8:20 AM to 8:32 AM" in bar.title
    pair = draw(told[:2], wagons(1), judges(3), zone=DENVER)
    assert pair.rows[0].bars[0].label == "J1 J2"


def test_the_present_time_is_a_line_only_while_judging() -> None:
    told = turning(5, 2)
    line = draw(told, wagons(5), judges(2), zone=UTC, now_at=minutes(30)).now_x
    chart = draw(told, wagons(5), judges(2), zone=UTC)
    assert chart.now_x is None
    assert line == pytest.approx((chart.left + chart.right) / 2, abs=0.02)
    for beyond in (-1, 61):
        assert draw(told, wagons(5), judges(2), zone=UTC, now_at=minutes(beyond)).now_x is None


def test_what_is_read_out_says_the_whole() -> None:
    chart = draw(turning(5, 2), wagons(5, "W" * 100), judges(2), zone=DENVER)
    assert chart.title == "Rotation: 5 wagons, 2 judges, 10 visits"
    assert "from 8:00 AM to 8:58 AM" in chart.description
    assert chart.rows[0].name.endswith("…")
    assert chart.rows[0].title == f"1 {'W' * 100} 1"


def test_a_wagon_nobody_visits_keeps_its_row_and_no_visits_are_refused() -> None:
    chart = draw(turning(1, 1), wagons(2), judges(1), zone=UTC)
    assert [len(row.bars) for row in chart.rows] == [1, 0]
    with pytest.raises(ValueError, match="no visit"):
        draw([], wagons(2), judges(1), zone=UTC)


@pytest.mark.parametrize(
    "cut", ["latin-400-normal", "latin-600-normal", "latin-ext-400-normal", "latin-ext-600-normal"]
)
def test_no_letter_of_our_font_is_wider_than_reckoned(cut: str) -> None:
    font = TTFont(FONTS / f"public-sans-{cut}.woff2")
    widths, em = font["hmtx"], font["head"].unitsPerEm
    letters = {chr(point): name for point, name in font.getBestCmap().items()}
    assert len(letters) > 100
    wider = {
        letter: widths[name][0] / em
        for letter, name in letters.items()
        if widths[name][0] / em > text_width(letter, 1)
    }
    assert wider == {}


@given(words=st.text(max_size=60), room=st.integers(0, 200))
def test_cut_words_fit_and_begin_like_the_whole(words: str, room: int) -> None:
    cut = fitted(words, 10, room)
    assert text_width(cut, 10) <= room
    whole = " ".join(words.split())
    assert cut == whole or cut == "" or whole.startswith(cut.removesuffix("…").rstrip())


def test_a_small_chart_stands_where_it_is_worked_out_to_stand() -> None:
    """Ninety minutes on 785.56 points; a bar leaves a tenth of its row free above and below."""
    told = [(1, "j1", 0, 30), (2, "j2", 0, 30), (2, "j1", 45, 90), (2, "j2", 45, 90)]
    visits = [ChartVisit(wagon, who, minutes(a), minutes(b)) for wagon, who, a, b in told]
    busy = [
        Busy(1, minutes(40), minutes(41), "Turn-in"),
        Busy(None, minutes(40), minutes(41), "Rest"),
    ]
    busy += [
        Busy(None, minutes(95), minutes(99), "Later"),
        Busy(1, minutes(-9), minutes(0), "Sooner"),
    ]
    chart = draw(visits, wagons(2), judges(2), zone=DENVER, busy=busy, now_at=minutes(45))
    measures = (chart.width, chart.height, chart.left, chart.right, chart.top, chart.text_size)
    assert measures == (1000, 86, 190, 975.56, 26, 13)
    assert (chart.foot_width, chart.number_x, chart.name_x, chart.scale_y) == (
        2.0,
        28.6,
        36.4,
        18.2,
    )
    assert [(row.y, row.height, row.text_y) for row in chart.rows] == [
        (26, 28, 43.9),
        (54, 28, 71.9),
    ]
    assert [(row.label, row.name, row.title) for row in chart.rows] == [
        ("1", "Patient Mule 1", "1 Patient Mule 1"),
        ("2", "Patient Mule 2", "2 Patient Mule 2"),
    ]
    bars = [bar for row in chart.rows for bar in row.bars]
    assert [(bar.x, bar.y, bar.width, bar.height, bar.foot_y) for bar in bars] == [
        (190.0, 28.8, 261.85, 22.4, 49.8),
        (190.0, 56.8, 261.85, 22.4, 77.8),
        (582.78, 56.8, 392.78, 22.4, 77.8),
    ]
    assert [(bar.label, bar.label_x, bar.label_y) for bar in bars] == [
        ("J1", 313.51, 43.55),
        ("J2", 313.51, 71.55),
        ("all", 768.77, 71.55),
    ]
    assert bars[0].title == "J1 Judge Number 1 at 1 Patient Mule 1, 8:00 AM to 8:30 AM"
    assert bars[2].title == (
        "J1 Judge Number 1 at 2 Patient Mule 2, 8:45 AM to 9:30 AM; "
        "J2 Judge Number 2 at 2 Patient Mule 2, 8:45 AM to 9:30 AM"
    )
    assert (bars[2].look.name, bars[2].look.fill) == ("Judge Number 1, Judge Number 2", 0)
    assert [tick.x for tick in chart.ticks] == [190, 320.93, 451.85, 582.78, 713.71, 844.63, 975.56]
    labels = ["8 AM", "8:15", "8:30", "8:45", "9 AM", "9:15", "9:30"]
    assert [tick.label for tick in chart.ticks] == labels
    assert chart.now_x == 582.78
    (turn_in,), (rest,) = chart.rows[0].busy, chart.pauses
    assert (turn_in.x, turn_in.y, turn_in.width, turn_in.height) == (539.14, 26, 8.73, 28)
    assert (rest.x, rest.y, rest.width, rest.height) == (539.14, 26, 8.73, 56)
    assert turn_in.title == "Turn-in, 8:40 AM to 8:41 AM"
    # Strokes every five points, rising to the right, cut off at the edges.
    assert turn_in.strokes.split("M")[1:4] == [
        "539.14 28.50L541.64 26.00",
        "539.14 33.50L546.64 26.00",
        "539.14 38.50L547.87 29.77",
    ]
    assert turn_in.strokes.split("M")[-1] == "543.64 54.00L547.87 49.77"
    assert chart.title == "Rotation: 2 wagons, 2 judges, 4 visits"
    assert chart.description == (
        "A row for each wagon, time from left to right, from 8:00 AM to 9:30 AM. The tables beside "
        "it say the same in words."
    )


def test_a_label_without_room_in_its_bar_stands_beside_it_or_nowhere() -> None:
    told = [(1, "j1", 0, 1), (1, "j2", 30, 31), (1, "j1", 32, 33)]
    visits = [ChartVisit(wagon, who, minutes(a), minutes(b)) for wagon, who, a, b in told]
    chart = draw(visits, wagons(1), judges(2, "Judge"), zone=DENVER, frame=Frame(width=500))
    bars = chart.rows[0].bars
    assert [bar.label for bar in bars] == ["A", "", "A"]
    assert bars[0].label_x > bars[0].right
    one = draw(visits[:1], wagons(1), judges(1), zone=DENVER)
    assert one.title == "Rotation: 1 wagon, 1 judge, 1 visit"
    assert one.now_x is None
    assert draw(visits[:1], wagons(1), judges(1), zone=DENVER, now_at=minutes(-1)).now_x is None
    assert (
        draw(visits[:1], wagons(1), judges(1), zone=DENVER, now_at=minutes(15)).now_x == one.right
    )
    with pytest.raises(ValueError, match=r"^there is no visit to draw$"):
        draw([], wagons(1), judges(1), zone=DENVER)
