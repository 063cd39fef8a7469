"""How money is written and read."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from entries.rules.money_words import (
    LARGEST_CENTS,
    balance_words,
    dollars,
    plain_amount,
    read_dollars,
)


@pytest.mark.parametrize(
    ("cents", "written"),
    [(0, "$0.00"), (5, "$0.05"), (123_450, "$1,234.50"), (-150_000_000, "−$1,500,000.00")],
)
def test_an_amount_always_has_its_cents(cents: int, written: str):
    assert dollars(cents) == written


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(1, LARGEST_CENTS))
def test_what_is_written_is_read_as_the_same(cents: int):
    assert read_dollars(dollars(cents)) == cents
    assert read_dollars(f" {cents // 100}.{cents % 100:02} ") == cents
    assert read_dollars(plain_amount(cents)) == cents


@pytest.mark.parametrize(
    "typed",
    [
        "", " ", "$", ".", "0", "0.00", "-5", "−5", "1.5", "1.234", "12,5", "1,23", "1,2345",
        "1.2.3", "five", "1e3", "NaN", "٣", "100000.01", "9999999999", "=1+1",
    ],
)  # fmt: skip
def test_what_is_no_amount_or_could_be_two_is_refused(typed: str):
    with pytest.raises(ValueError, match="please"):
        read_dollars(typed)


def test_a_balance_is_said_from_both_sides():
    assert balance_words(100) == "$1.00 to pay"
    assert balance_words(0) == "settled"
    assert balance_words(-100) == "$1.00 in the exhibitor's favor"
    # One cent is owed as any other amount is.
    assert balance_words(1) == "$0.01 to pay"
    assert balance_words(-1) == "$0.01 in the exhibitor's favor"


def test_an_amount_may_lack_its_dollars_and_may_be_as_large_as_is_said():
    assert read_dollars(".50") == 50
    assert read_dollars(plain_amount(LARGEST_CENTS)) == LARGEST_CENTS


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("five", "An amount in dollars, please, such as 150 or 150.50."),
        ("0.00", "More than nothing, please."),
        (plain_amount(LARGEST_CENTS + 1), f"At most {dollars(LARGEST_CENTS)} at once, please."),
    ],
)
def test_a_refused_amount_is_told_what_would_do(typed: str, told: str):
    with pytest.raises(ValueError, match=f"^{re.escape(told)}$"):
        read_dollars(typed)
