"""Sun times against printed almanac times, the poles, and advice that holds to the minute."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from judging.rules.windows.daylight import advice, daylight

# Sunrise and sunset as almanacs print them for the cities, on their own clocks (from memory).
ALMANAC = [
    ("Greenwich", 51.48, 0.00, "Europe/London", date(2024, 6, 21), "04:43", "21:21"),
    ("Greenwich", 51.48, 0.00, "Europe/London", date(2024, 12, 21), "08:04", "15:53"),
    ("New York", 40.71, -74.01, "America/New_York", date(2024, 6, 20), "05:25", "20:31"),
    ("New York", 40.71, -74.01, "America/New_York", date(2024, 12, 21), "07:17", "16:32"),
    ("Denver", 39.74, -104.98, "America/Denver", date(2024, 6, 21), "05:32", "20:31"),
    ("Denver", 39.74, -104.98, "America/Denver", date(2024, 12, 21), "07:17", "16:39"),
    ("Sydney", -33.87, 151.21, "Australia/Sydney", date(2024, 6, 21), "07:00", "16:54"),
]
TROMSO = (69.65, 18.96)
OSLO, DENVER = ZoneInfo("Europe/Oslo"), ZoneInfo("America/Denver")


@pytest.mark.parametrize(("place", "lat", "lon", "zone", "day", "rise", "set_"), ALMANAC)
def test_the_sun_keeps_the_almanacs_times_within_two_minutes(
    place: str, lat: float, lon: float, zone: str, day: date, rise: str, set_: str
) -> None:
    light = daylight(lat, lon, day, ZoneInfo(zone))
    for found, printed in ((light.sunrise, rise), (light.sunset, set_)):
        assert found is not None
        assert found.date() == day
        hour, minute = map(int, printed.split(":"))
        assert abs(found.hour * 60 + found.minute - hour * 60 - minute) <= 2, (place, found)


@pytest.mark.parametrize("month", range(1, 13))
def test_dawn_sunrise_sunset_and_dusk_follow_each_other_on_the_shows_own_day(month: int) -> None:
    light = daylight(39.74, -104.98, date(2027, month, 15), DENVER)
    assert light.kind == "usual"
    assert light.dawn and light.sunrise and light.sunset and light.dusk
    assert light.dawn < light.sunrise < light.sunset < light.dusk
    assert {at.date() for at in (light.dawn, light.dusk)} == {date(2027, month, 15)}
    assert {at.second for at in (light.dawn, light.sunrise, light.sunset, light.dusk)} == {0}
    # Civil twilight at 40 degrees lasts 27 to 33 minutes the year round (from memory).
    assert timedelta(minutes=25) < light.sunrise - light.dawn < timedelta(minutes=36)


@pytest.mark.parametrize(
    ("day", "kind", "words"),
    [
        (date(2027, 6, 21), "polar day", "does not set"),
        (date(2027, 12, 21), "polar night", "does not rise on this day; there is twilight from 09"),
    ],
)
def test_polar_day_and_night_are_said_in_words(day: date, kind: str, words: str) -> None:
    light = daylight(*TROMSO, day, OSLO)
    assert light.kind == kind
    assert (light.sunrise, light.sunset) == (None, None)
    assert words in light.sentence


def test_a_night_without_any_twilight_is_said() -> None:
    light = daylight(85.0, 18.0, date(2027, 12, 21), OSLO)
    assert light.kind == "polar night"
    assert "no twilight" in light.sentence
    lines = advice(light, datetime(2027, 12, 21, 9, tzinfo=OSLO), 60, OSLO)
    assert lines == ("There is no daylight to judge by; light the camps.",)


def test_a_summer_night_that_does_not_get_dark_is_said() -> None:
    light = daylight(64.13, -21.90, date(2027, 6, 21), ZoneInfo("Atlantic/Reykjavik"))
    assert "the night between does not get dark" in light.sentence


def test_polar_day_is_daylight_whenever_it_starts() -> None:
    light = daylight(*TROMSO, date(2027, 6, 21), OSLO)
    lines = advice(light, datetime(2027, 6, 21, 23, tzinfo=OSLO), 600, OSLO)
    assert lines == ("The judging lies in daylight, whenever it starts.",)


@pytest.mark.parametrize(("lat", "lon"), [(90.1, 0), (-91, 0), (0, 181), (0, -180.5)])
def test_a_place_off_the_globe_is_refused(lat: float, lon: float) -> None:
    with pytest.raises(ValueError, match="between -90 and 90"):
        daylight(lat, lon, date(2027, 5, 15), DENVER)


def test_judging_by_day_is_said_to_be_and_the_latest_start_holds() -> None:
    light = daylight(39.74, -104.98, date(2027, 5, 15), DENVER)
    assert light.sunset is not None
    opens = datetime(2027, 5, 15, 8, tzinfo=DENVER)
    inside, latest = advice(light, opens, 236, DENVER)
    assert inside == "The judging lies in daylight."
    at = (light.sunset.astimezone(UTC) - timedelta(minutes=236)).astimezone(DENVER)
    assert latest == f"To end by sunset it starts at {at:%H:%M} at the latest."
    assert advice(light, at, 236, DENVER)[0] == "The judging lies in daylight."
    late = advice(light, at + timedelta(minutes=1), 236, DENVER)[0]
    assert late.endswith("1 minute after sunset.")


def test_before_sunrise_and_after_sunset_are_counted_in_minutes() -> None:
    light = daylight(39.74, -104.98, date(2027, 5, 15), DENVER)
    assert light.sunrise and light.sunset
    opens = light.sunrise - timedelta(minutes=20)
    length = (light.sunset - light.sunrise) // timedelta(minutes=1) + 30
    lines = advice(light, opens, length, DENVER)
    assert lines[0].startswith("The window opens 20 minutes before sunrise")
    assert "10 minutes after sunset" in lines[1]
    assert lines[2] == "It does not fit between sunrise and sunset of one day."


def test_a_night_show_ends_on_the_next_day() -> None:
    light = daylight(39.74, -104.98, date(2027, 5, 15), DENVER)
    opens = datetime(2027, 5, 15, 22, tzinfo=DENVER)
    assert "ends at 01:00 on Sun 16 May" in advice(light, opens, 180, DENVER)[0]


def test_less_than_no_time_is_refused() -> None:
    light = daylight(39.74, -104.98, date(2027, 5, 15), DENVER)
    with pytest.raises(ValueError, match="less than no time"):
        advice(light, datetime(2027, 5, 15, 8, tzinfo=DENVER), -1, DENVER)
