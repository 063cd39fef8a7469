"""The pace clock against the vectors it shares with the phone, and sums done by hand."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.windows.pace import Stop, pace

VECTORS = json.loads((Path(__file__).parents[2] / "vectors" / "pace.json").read_text())
MIN = 60


def planned(key, start, end, began=None, ended=None):
    """A stop in minutes."""

    def seconds(minute):
        return None if minute is None else minute * MIN

    return Stop(key, start * MIN, end * MIN, seconds(began), seconds(ended))


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["name"])
def test_vectors(vector):
    found = pace([Stop(**stop) for stop in vector["stops"]], vector["now_s"])
    assert asdict(found) == vector["expected"]


def test_six_minutes_late_at_a_nine_minute_visit():
    # Announced 0 to 9; came at 6, so it lasts until 15; at 11 there are 4 left, 6 behind.
    found = pace([planned("here", 0, 9, began=6)], 11 * MIN)
    assert (found.left_minutes, found.behind_minutes) == (4, 6)
    assert found.words == "4 min left here · 6 min behind"


def test_who_overstays_falls_behind_minute_by_minute():
    stops = [planned("here", 0, 9, began=0), planned("next", 10, 19)]
    assert [pace(stops, m * MIN).behind_minutes for m in (5, 9, 10, 12)] == [0, 0, 1, 3]
    assert [pace(stops, m * MIN).left_minutes for m in (5, 9, 10, 12)] == [4, 0, -1, -3]


def test_nothing_is_said_of_pace_before_the_first_visit_is_due():
    assert pace([planned("one", 10, 19)], 5 * MIN).behind_minutes is None
    assert pace([planned("one", 10, 19)], 12 * MIN).behind_minutes == 2


MOMENTS = st.none() | st.integers(0, 6_000)
STOPS = st.lists(
    st.builds(
        lambda key, start, length, began, ended: Stop(key, start, start + length, began, ended),
        st.integers(1, 9), st.integers(0, 6_000), st.integers(1, 1_200), MOMENTS, MOMENTS,
    ),
    max_size=6, unique_by=lambda stop: stop.key,
)  # fmt: skip


@given(STOPS, st.integers(0, 9_000), st.integers(-10_000, 10_000))
def test_only_differences_of_time_count(stops, now, shift):
    def moved(moment):
        return None if moment is None else moment + shift * MIN

    later = [
        Stop(s.key, moved(s.starts_s), moved(s.ends_s), moved(s.began_s), moved(s.ended_s))
        for s in stops
    ]
    assert pace(later, moved(now)) == pace(stops, now)


@given(STOPS, st.integers(0, 9_000))
def test_left_never_grows_while_the_judge_stays(stops, now):
    one, other = pace(stops, now), pace(stops, now + 30)
    if one.left_minutes is not None:
        assert other.left_minutes is not None
        assert one.behind_minutes is not None
        assert other.behind_minutes is not None
        assert other.left_minutes <= one.left_minutes
        assert other.behind_minutes >= one.behind_minutes
