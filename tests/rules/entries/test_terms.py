"""Which terms a show may set, and when a waiver has another version."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from entries.rules.refunds import Step
from entries.rules.terms import Terms, faults_of_terms, next_waiver_version

START, OVER = datetime(2127, 5, 14, 6, tzinfo=UTC), datetime(2127, 5, 17, 6, tzinfo=UTC)
WHOLE = Terms(
    entry_cap=12,
    opens_at=START - timedelta(days=90),
    closes_at=START,
    promotion_hours=48,
    deposit_cents=10_000,
    refund_steps=(Step(date(2127, 4, 14), 100), Step(date(2127, 4, 30), 50)),
    waiver_text="I come at my own risk.\nSo does my crew.",
    animals_asked=True,
    eia_max_age_days=365,
    certificate_max_age_days=30,
    crew_frozen_at=OVER - timedelta(days=1),
)


def faults(*, taken: int = 12, cap_now: int = 12, **other: Any) -> dict[str, str]:
    return faults_of_terms(
        replace(WHOLE, **other),
        starts_at=START,
        over_at=OVER,
        ends_on=date(2127, 5, 16),
        taken=taken,
        cap_now=cap_now,
    )


def test_whole_terms_and_none_at_all_are_taken() -> None:
    assert faults() == {}
    nothing = faults_of_terms(
        Terms(entry_cap=1), starts_at=START, over_at=OVER, ends_on=date(2127, 5, 16), taken=0,
        cap_now=1,
    )  # fmt: skip
    assert nothing == {}


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"entry_cap": 0}, "entry_cap", "From 1"),
        ({"entry_cap": 501}, "entry_cap", "From 1"),
        ({"entry_cap": 11}, "entry_cap", "12 places are taken"),
        ({"closes_at": START + timedelta(minutes=1)}, "closes_at", "before the show begins"),
        ({"opens_at": START - timedelta(0), "closes_at": None}, "opens_at", "before the show"),
        ({"closes_at": WHOLE.opens_at}, "closes_at", "after they open"),
        ({"crew_frozen_at": OVER}, "crew_frozen_at", "before the show is over"),
        ({"promotion_hours": 0}, "promotion_hours", "From 1 to 720 hours"),
        ({"promotion_hours": 721}, "promotion_hours", "From 1 to 720 hours"),
        ({"eia_max_age_days": 0}, "eia_max_age_days", "days"),
        ({"certificate_max_age_days": 1096}, "certificate_max_age_days", "days"),
        ({"animals_asked": False}, "animals_asked", "tick that animals are named"),
        ({"waiver_text": "x" * 20_001}, "waiver_text", "longer"),
        ({"animal_note": "a\0b"}, "animal_note", "printed"),
        ({"refund_terms": "x" * 2001}, "refund_terms", "longer"),
        ({"refund_steps": (Step(date(2127, 5, 17), 10),)}, "refund_steps", "ends with the show"),
        (
            {"refund_steps": (Step(date(2127, 4, 14), 50), Step(date(2127, 4, 14), 20))},
            "refund_steps",
            "later day",
        ),
        (
            {"refund_steps": (Step(date(2127, 4, 14), 50), Step(date(2127, 4, 15), 60))},
            "refund_steps",
            "does not rise",
        ),
        (
            {"refund_steps": tuple(Step(date(2127, 4, n), 50) for n in range(1, 8))},
            "refund_steps",
            "At most 6",
        ),
    ],
)
def test_each_fault_names_its_field(wrong: dict[str, Any], field: str, words: str) -> None:
    found = faults(**wrong)
    assert list(found) == [field]
    assert words in found[field]


def test_a_show_that_is_over_its_cap_already_may_keep_or_raise_it() -> None:
    """Entries brought in by the office may stand beyond the cap; that is no fault of today."""
    assert faults(taken=14, cap_now=12) == {}
    assert faults(taken=14, cap_now=12, entry_cap=13) == {}
    assert list(faults(taken=14, cap_now=12, entry_cap=11)) == ["entry_cap"]


@pytest.mark.parametrize(
    ("before", "after", "version", "then"),
    [
        ("", "Own risk.", 0, 1),
        ("Own risk.", "Own risk of all.", 1, 2),
        ("Own\r\nrisk.", "Own\nrisk. ", 2, 2),
        ("Own risk.", "", 2, 2),
        ("", "Own risk.", 2, 3),  # asked again after it was not: nobody has agreed to this
        ("", "", 0, 0),
    ],
)
def test_another_text_is_another_version(before: str, after: str, version: int, then: int) -> None:
    assert next_waiver_version(before=before, after=after, version=version) == then
