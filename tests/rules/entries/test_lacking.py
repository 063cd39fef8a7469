"""What an entry still lacks."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from entries.rules.animal_papers import AnimalFacts
from entries.rules.lacking import Demands, Given, lacking

DAY = date(2027, 5, 14)
DOLLY = AnimalFacts("Dolly", eia_tested_on=date(2027, 4, 1), certificate_on=date(2027, 5, 1))


def where(asked: dict[str, Any], given: dict[str, Any]) -> list[str]:
    """The fields at which something is missing."""
    return [lack.where for lack in lacking(Demands(first_day=DAY, **asked), Given(**given))]


def test_a_show_that_asks_for_nothing_misses_nothing() -> None:
    assert where({}, {}) == []
    assert where({}, {"animals": [AnimalFacts("Dolly")]}) == []


@pytest.mark.parametrize(
    ("asked", "given", "fields"),
    [
        ({"waiver_version": 1}, {}, ["waiver_agreed_by"]),
        ({"waiver_version": 1}, {"waiver_version": 1}, []),
        ({"waiver_version": 2}, {"waiver_version": 1}, ["waiver_agreed_by"]),
        ({"waiver_version": 0}, {"waiver_version": 1}, []),
        ({"emergency": True}, {}, ["emergency_name"]),
        ({"emergency": True}, {"emergency": True}, []),
        ({"camp": True}, {}, ["frontage_ft"]),
        ({"camp": True}, {"frontage": True}, ["depth_ft"]),
        ({"camp": True}, {"depth": True}, ["frontage_ft"]),
        ({"camp": True}, {"frontage": True, "depth": True}, []),
        ({"animals": True}, {}, ["animal_name_1"]),
        ({"animals": True}, {"animals": [AnimalFacts("Dolly")]}, []),
        ({"eia_max_age_days": 365}, {"animals": [AnimalFacts("D"), DOLLY]}, ["animal_eia_1"]),
        (
            {"certificate_max_age_days": 30},
            {"animals": [DOLLY, AnimalFacts("D")]},
            ["animal_certificate_2"],
        ),
    ],
)
def test_each_thing_asked_for(
    asked: dict[str, Any], given: dict[str, Any], fields: list[str]
) -> None:
    assert where(asked, given) == fields


def test_a_new_waiver_says_so_and_every_lack_has_its_day() -> None:
    everything = Demands(DAY, 2, emergency=True, camp=True, animals=True)
    found = lacking(everything, Given(waiver_version=1))
    assert "new version" in found[0].what
    assert [lack.where for lack in found] == [
        *("waiver_agreed_by", "frontage_ft", "emergency_name", "animal_name_1")
    ]
    assert {lack.by for lack in found} == {DAY}


def test_a_papers_lack_names_the_animal() -> None:
    (lack,) = lacking(Demands(DAY, eia_max_age_days=30), Given(animals=[DOLLY]))
    assert lack.what.startswith("Dolly: The date of the EIA test is older than this show asks")
