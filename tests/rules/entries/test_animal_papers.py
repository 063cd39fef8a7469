"""Dates on animals' papers against a show's own rule."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from entries.rules.animal_papers import (
    ANIMALS_MAX,
    CERTIFICATE,
    EIA,
    AnimalFacts,
    faults_of_animals,
    oldest_date,
    paper_faults,
    read_date,
)

FIRST_DAY = date(2027, 5, 14)
TODAY = date(2027, 5, 1)


def faults(**said: Any) -> dict[str, str]:
    """What the papers lack, by field."""
    asked: dict[str, Any] = {
        "kind": "horse",
        "eia_tested_on": None,
        "certificate_on": None,
        "first_day": FIRST_DAY,
        "eia_max_age_days": None,
        "certificate_max_age_days": None,
    }
    return {fault.field: fault.words for fault in paper_faults(**{**asked, **said})}


def test_a_show_that_asks_for_no_paper_misses_none() -> None:
    assert faults() == {}
    assert faults(eia_tested_on=date(1999, 1, 1)) == {}


@pytest.mark.parametrize(("age", "taken"), [(0, True), (364, True), (365, True), (366, False)])
def test_the_age_is_taken_on_the_first_day(age: int, taken: bool) -> None:
    found = faults(eia_tested_on=FIRST_DAY - timedelta(days=age), eia_max_age_days=365)
    assert (found == {}) is taken
    if not taken:
        assert "366 days before its first day; it asks for 365 at most" in found[EIA]


def test_the_oldest_date_is_the_one_the_rule_still_takes() -> None:
    oldest = oldest_date(FIRST_DAY, 30)
    assert faults(certificate_on=oldest, certificate_max_age_days=30) == {}
    assert CERTIFICATE in faults(
        certificate_on=oldest - timedelta(days=1), certificate_max_age_days=30
    )


def test_a_leap_day_counts() -> None:
    asked = {"first_day": date(2028, 5, 14), "eia_max_age_days": 365}
    assert EIA in faults(eia_tested_on=date(2027, 5, 14), **asked)
    assert faults(eia_tested_on=date(2027, 5, 15), **asked) == {}


def test_a_date_not_given_and_a_date_after_the_first_day() -> None:
    assert "not given" in faults(eia_max_age_days=365)[EIA]
    late = faults(certificate_on=FIRST_DAY + timedelta(days=1), certificate_max_age_days=30)
    assert "after the show's first day" in late[CERTIFICATE]


def test_the_eia_test_is_asked_for_horses_and_mules() -> None:
    for kind, asked in (("horse", True), ("mule", True), ("other", False)):
        assert (EIA in faults(kind=kind, eia_max_age_days=365)) is asked
    assert CERTIFICATE in faults(kind="other", certificate_max_age_days=30)


def test_nothing_said_is_a_statement_of_health() -> None:
    words = " ".join(faults(eia_max_age_days=365, certificate_max_age_days=30).values())
    assert not any(word in words for word in ("health", "healthy", "negative", "safe"))


@pytest.mark.parametrize("typed", ["2027-04-20", "4/20/2027", " 04/20/2027 "])
def test_dates_as_they_are_typed(typed: str) -> None:
    assert read_date(typed) == date(2027, 4, 20)


@pytest.mark.parametrize("typed", ["20/4/2027", "2027-02-30", "soon", "4/20/27", "20270420"])
def test_what_is_no_date(typed: str) -> None:
    with pytest.raises(ValueError, match="A date, please"):
        read_date(typed)


def test_no_date_is_none() -> None:
    assert read_date("  ") is None


def test_a_list_that_can_be_kept() -> None:
    old = AnimalFacts("Dolly", eia_tested_on=date(1999, 1, 1), certificate_on=TODAY)
    assert faults_of_animals([old, AnimalFacts("Molly", "mule")], today=TODAY) == {}


@pytest.mark.parametrize(
    ("animal", "field"),
    [
        (AnimalFacts(" "), "name"),
        (AnimalFacts("N" * 81), "name"),
        (AnimalFacts("Dolly", "unicorn"), "kind"),
        (AnimalFacts("Dolly", description="d" * 121), "description"),
        (AnimalFacts("Dolly", eia_tested_on=TODAY + timedelta(days=1)), EIA),
        (AnimalFacts("Dolly", certificate_on=TODAY + timedelta(days=1)), CERTIFICATE),
    ],
)
def test_what_cannot_be_kept_stands_at_its_line(animal: AnimalFacts, field: str) -> None:
    assert list(faults_of_animals([AnimalFacts("Molly"), animal], today=TODAY)) == [(1, field)]


def test_a_name_stands_once_and_a_list_ends_somewhere() -> None:
    twice = faults_of_animals([AnimalFacts("Dolly"), AnimalFacts(" dolly ")], today=TODAY)
    assert list(twice) == [(1, "name")]
    many = [AnimalFacts(f"A{n}") for n in range(ANIMALS_MAX + 1)]
    assert faults_of_animals(many[:-1], today=TODAY) == {}
    assert list(faults_of_animals(many, today=TODAY)) == [(ANIMALS_MAX, "name")]
