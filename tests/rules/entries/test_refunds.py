"""The date rule of refunds."""

from __future__ import annotations

import re
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from entries.rules.refunds import Step, read_steps, refund, share_on

MARCH, APRIL = date(2127, 3, 31), date(2127, 4, 30)
KEPT = [
    {"until": "2127-04-30", "share_percent": 50},
    {"until": "2127-03-31", "share_percent": 100},
]
RULE = (Step(MARCH, 100), Step(APRIL, 50))


def test_steps_are_read_in_the_order_of_their_dates():
    assert read_steps(KEPT) == RULE
    assert read_steps([]) == ()


@pytest.mark.parametrize(
    ("day", "share"),
    [
        (date(2126, 1, 1), 100),
        (MARCH, 100),
        (MARCH + timedelta(days=1), 50),
        (APRIL, 50),
        (APRIL + timedelta(days=1), 0),
        (date(2128, 1, 1), 0),
    ],
)
def test_the_share_holds_up_to_its_last_day_and_then_the_next_one_does(day: date, share: int):
    assert share_on(day, RULE) == share
    assert share_on(day, reversed(RULE)) == share


def test_without_steps_nothing_comes_back():
    assert share_on(date(2127, 1, 1), ()) == 0


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 10**9), st.integers(0, 100))
def test_a_refund_is_the_share_to_the_nearest_cent_and_never_more_than_the_fee(
    fee: int, share: int
):
    back = refund(fee, share)
    assert 0 <= back <= fee
    exact = Fraction(fee * share, 100)
    assert abs(back - exact) <= Fraction(1, 2)
    # Half a cent is the exhibitor's.
    assert back - exact != Fraction(-1, 2)
    assert refund(fee, 100) == fee
    assert refund(fee, 0) == 0


@pytest.mark.parametrize(
    ("fee", "share", "back"),
    # Arithmetic: 1.49, 1.50 and 1.51 cents, of which half a cent is the exhibitor's.
    [(149, 1, 1), (150, 1, 2), (151, 1, 2)],
)
def test_half_a_cent_is_the_exhibitors_and_less_is_not(fee: int, share: int, back: int):
    assert refund(fee, share) == back


@pytest.mark.parametrize(
    ("steps", "told"),
    [
        ([{"until": "tomorrow", "share_percent": 50}], "Invalid isoformat string: 'tomorrow'"),
        ([{"until": "2127-04-30", "share_percent": 101}], "A share of 101 percent is none."),
        ([{"until": "2127-04-30", "share_percent": -1}], "A share of -1 percent is none."),
        ([{"until": "2127-04-30", "share_percent": "half"}], "'half'"),
        (
            [{"until": "2127-04-30", "share_percent": share} for share in (50, 5)],
            "Two shares hold until the same day.",
        ),
    ],
)
def test_what_is_no_rule_is_refused_with_its_reason(steps: list[dict[str, object]], told: str):
    with pytest.raises(ValueError, match=f"{re.escape(told)}$"):
        read_steps(steps)


@pytest.mark.parametrize(("fee", "share"), [(-1, 50), (100, 101), (100, -1)])
def test_a_refund_of_nonsense_is_refused(fee: int, share: int):
    with pytest.raises(ValueError, match=f"^{share} percent of {fee} cents is no refund"):
        refund(fee, share)
