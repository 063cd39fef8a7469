"""Who may plan a show, its address, and its classes."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from showrun.shows.rules.planning import classes_in, fault_of_days, may_plan, show_slug

ME = "cook@showrun.example"


@pytest.mark.parametrize(
    ("office", "named", "may"),
    [
        (False, [], False),  # a stranger on a new service
        (True, [], True),
        (True, ["else@showrun.example"], True),
        (False, [ME.upper()], True),
        (False, ["else@showrun.example"], False),
    ],
)
def test_who_may_plan(office: bool, named: list[str], may: bool):
    assert may_plan(ME, runs_an_office=office, named=named) is may


def test_an_address_is_short_plain_and_free():
    taken: list[str] = []
    for _ in range(12):
        address = show_slug("  Días del Río: " + "very " * 20, 2027, taken)
        assert len(address) <= 50
        assert address not in taken
        assert address.startswith("dias-del-rio-very")
        taken.append(address)
    assert show_slug("***", 2027, []) == "show-2027"


def test_classes_are_read_line_by_line():
    found = classes_in(["  Trail   wagon ", "", "Trail-wagon", "Trail wagon", "!!!"])
    assert [one["name"] for one in found] == ["Trail wagon", "Trail-wagon", "!!!"]
    assert [one["code"] for one in found] == ["trail_wagon", "trail_wagon_2", "class"]
    assert classes_in(["", "  "]) == []


def test_a_code_that_another_class_has_is_not_given_again():
    found = classes_in(["Trail wagon", "Trail-wagon"], taken={"trail_wagon", "trail_wagon_3"})
    assert [one["code"] for one in found] == ["trail_wagon_2", "trail_wagon_4"]


@pytest.mark.parametrize(
    ("lasts", "judged", "fault"),
    [
        (0, 0, None),
        (2, 0, None),
        (2, 2, None),
        (-1, 0, "ends_on"),
        (-1, -1, "ends_on"),
        (2, 3, "judged_on"),
        (2, -1, "judged_on"),
    ],
)
def test_a_show_ends_no_sooner_than_it_starts_and_is_judged_meanwhile(lasts, judged, fault):
    first = date(2027, 5, 14)
    last, judging = (first + timedelta(days=days) for days in (lasts, judged))
    assert list(fault_of_days(first, last, judging)) == ([fault] if fault else [])
