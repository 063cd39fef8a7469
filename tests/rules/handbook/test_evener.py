"""The evener against printed cases; those computed from a printed ratio are marked derived."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.handbook.evener import (
    CAUTIONS,
    Evener,
    arms_of_strengths,
    shares_of_arms,
    three_abreast,
)

REFERENCE = Path(__file__).resolve().parents[2] / "reference" / "evener.json"
PRINTED: dict[str, Any] = {
    line["id"]: line for line in json.loads(REFERENCE.read_text(encoding="utf-8"))
}
DERIVED = {"ev-arm-strong", "ev-arm-weak", "ev-balance", "ev42", "ev3-36"}


def value(name: str) -> Any:
    return PRINTED[name]["value"]


def test_what_is_derived_is_said_to_be():
    assert {name for name, line in PRINTED.items() if line["derived"]} == DERIVED
    assert all(line["source"] for line in PRINTED.values())


# --- Printed cases --------------------------------------------------------------------------


def test_1894_shares_of_three_and_five_eighths():
    found = shares_of_arms(Fraction(value("ev-arm-weak")), Fraction(value("ev-arm-strong")))
    assert [float(share) for share in found.shares] == value("ev-share")
    back = arms_of_strengths(Fraction(48), Fraction(5, 8), Fraction(3, 8))
    assert (back.arm_one, back.arm_two) == (value("ev-arm-strong"), value("ev-arm-weak"))


def test_1894_both_sides_turn_alike():
    found = arms_of_strengths(Fraction(48), Fraction(5), Fraction(3))
    strong, weak = (200 * share for share in found.shares)
    assert strong * found.arm_one == weak * found.arm_two == value("ev-balance")


def test_1854_strengths_of_four_to_three():
    found = arms_of_strengths(Fraction(42), Fraction(4), Fraction(3))
    assert Fraction(found.arm_one, found.arm_two) == Fraction(*value("ev-ratio"))
    assert [found.arm_one, found.arm_two] == value("ev42")


def test_1885_three_abreast():
    found = three_abreast(Fraction(36))
    assert [found.arm_one, found.arm_two] == value("ev3-36")
    parts = [float(arm / found.bar) for arm in (found.arm_one, found.arm_two)]
    assert parts == pytest.approx(value("ev3"), abs=5e-5)
    assert found.shares == (Fraction(2, 3), Fraction(1, 3))  # each of the three pulls alike


def test_the_caution_has_its_printed_figure():
    text = " ".join(CAUTIONS)
    assert f"nearly {value('ev-stagger')} pounds in a draft of 200" in text
    assert "1912" in text
    assert "holes are in one line" in text
    assert "checked by a harness maker or wheelwright" in text
    assert "not a safety inspection" in text


# --- Bored to the eighth --------------------------------------------------------------------

strengths = st.fractions(min_value=1, max_value=4, max_denominator=50)
bars = st.fractions(min_value=12, max_value=144, max_denominator=16)


@given(bars, strengths, strengths)
def test_a_bored_bar_is_in_eighths_and_close_to_the_exact_one(
    bar: Fraction, one: Fraction, two: Fraction
):
    exact = arms_of_strengths(bar, one, two)
    assert exact.bar == bar
    assert exact.shares == (one / (one + two), two / (one + two))
    bored = exact.bored()
    for arm, was in ((bored.arm_one, exact.arm_one), (bored.arm_two, exact.arm_two)):
        assert (arm * 8).denominator == 1
        assert abs(arm - was) <= Fraction(1, 8)
    assert abs(bored.bar - bar) <= Fraction(1, 16)


@given(bars, strengths, strengths)
def test_arms_and_shares_are_each_others_way_back(bar: Fraction, one: Fraction, two: Fraction):
    found = arms_of_strengths(bar, one, two)
    assert arms_of_strengths(bar, *found.shares) == found
    assert shares_of_arms(found.arm_one, found.arm_two) == found


def test_a_bar_keeps_its_length_when_both_arms_fall_on_sixteenths():
    assert Evener(Fraction(289, 16), Fraction(479, 16)).bored().bar == 48


# --- What makes no evener -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arms", "sentence"),
    [
        ((0, 24), "An arm is longer than zero."),
        ((24, -1), "An arm is longer than zero."),
        ((1, 3), "Holes nearer than 2 inches split the wood."),
        ((3, 4), "from 12 inches to 12 feet"),
        ((100, 100), "see whether the unit is right"),
        ((10, 41), "more than 4 times the other"),
    ],
)
def test_arms_nobody_has(arms: tuple[int, int], sentence: str):
    with pytest.raises(ValueError, match=sentence):
        shares_of_arms(Fraction(arms[0]), Fraction(arms[1]))


@pytest.mark.parametrize(
    ("bar", "one", "two", "sentence"),
    [
        (0, 1, 1, "A bar is longer than zero."),
        (-48, 1, 1, "A bar is longer than zero."),
        (11, 1, 1, "from 12 inches to 12 feet"),
        (145, 1, 1, "from 12 inches to 12 feet"),
        (48, 0, 1, "A strength is more than zero."),
        (48, 1, -3, "A strength is more than zero."),
        (48, 5, 1, "No evener makes a team of that"),
    ],
)
def test_bars_and_strengths_that_make_none(bar: int, one: int, two: int, sentence: str):
    with pytest.raises(ValueError, match=sentence):
        arms_of_strengths(Fraction(bar), Fraction(one), Fraction(two))


def test_three_abreast_on_a_bar_too_short():
    with pytest.raises(ValueError, match="from 12 inches"):
        three_abreast(Fraction(6))
