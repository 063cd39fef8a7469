"""Figures of the Food Code, what a reading calls for, and that nothing is certified."""

from __future__ import annotations

from decimal import Decimal

import pytest

from judging.rules.food.temperatures import (
    EDITION,
    FIGURES,
    LOCAL_FIRST,
    Kind,
    both,
    celsius,
    fahrenheit,
    figures_of,
    judge_reading,
)


@pytest.mark.parametrize(
    ("code", "kind", "limit_f", "place"),
    [
        # S.C. Code Regs. 61-25 and Georgia 290-5-14, which adopt the Food Code.
        ("hot_holding", Kind.AT_LEAST, 135, "3-501.16"),
        ("cold_holding", Kind.AT_MOST, 41, "3-501.16"),
        ("whole_meat", Kind.AT_LEAST, 145, "3-401.11(A)(1)"),
        ("ground_meat", Kind.AT_LEAST, 155, "3-401.11(A)(2)"),
        ("poultry", Kind.AT_LEAST, 165, "3-401.11(A)(3)"),
        ("vegetables", Kind.AT_LEAST, 135, "3-401.13"),
        ("cooling_first", Kind.AT_MOST, 70, "3-501.14"),
        ("cooling_whole", Kind.AT_MOST, 41, "3-501.14"),
        ("reheating", Kind.AT_LEAST, 165, "3-403.11"),
    ],
)
def test_the_defaults_are_the_codes(code, kind, limit_f, place):
    figure = FIGURES[code]
    assert (figure.kind, figure.limit_f, figure.place) == (kind, limit_f, place)
    assert str(limit_f) in figure.sentence
    assert "°C" in figure.sentence


@pytest.mark.parametrize("code", FIGURES)
def test_the_limit_itself_is_as_wanted_and_a_tenth_beyond_is_not(code):
    figure = FIGURES[code]
    beyond = Decimal("-0.1") if figure.kind is Kind.AT_LEAST else Decimal("0.1")
    assert not judge_reading(figure, figure.limit_f).act_now
    said = judge_reading(figure, figure.limit_f + beyond)
    assert said.act_now
    assert said.sentence.startswith("Act now: ")
    assert f"0.1 °F {'under' if beyond < 0 else 'over'} {both(figure.limit_f)}. " in said.sentence
    assert not judge_reading(figure, figure.limit_f - beyond).act_now


@pytest.mark.parametrize("code", FIGURES)
def test_no_reading_ever_says_that_food_is_safe(code):
    for degrees in (32, 41, 70, 135, 165, 212):
        words = judge_reading(FIGURES[code], Decimal(degrees)).sentence.lower()
        assert not {"safe", "passed", "certified", "approved"} & set(words.split())


@pytest.mark.parametrize("degrees", ["-41", "751", "NaN", "Infinity"])
def test_what_nobody_measures_is_refused(degrees):
    with pytest.raises(ValueError, match="outside"):
        judge_reading(FIGURES["hot_holding"], Decimal(degrees))
    with pytest.raises(ValueError, match="outside"):
        figures_of({"hot_holding": degrees})


def test_a_show_may_have_other_figures_and_the_defaults_stay():
    figures = figures_of({"hot_holding": "140"})
    assert judge_reading(figures["hot_holding"], Decimal(138)).act_now
    assert not judge_reading(FIGURES["hot_holding"], Decimal(138)).act_now
    assert figures["cold_holding"] is FIGURES["cold_holding"]
    assert list(figures) == list(FIGURES)
    with pytest.raises(ValueError, match="no figure called luke"):
        figures_of({"luke": 100})


@pytest.mark.parametrize(
    ("f", "c"), [("32", "0.0"), ("212", "100.0"), ("-40", "-40.0"), ("135", "57.2"), ("41", "5.0")]
)
def test_both_scales(f, c):
    assert celsius(Decimal(f)) == Decimal(c)
    assert abs(fahrenheit(Decimal(c)) - Decimal(f)) <= Decimal("0.1")
    assert both(Decimal(f)) == f"{f} °F ({c} °C)"


def test_edition_and_local_rules_are_named():
    assert "2022" in EDITION
    assert "come first" in LOCAL_FIRST
