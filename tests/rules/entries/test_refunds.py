"""The date rule of refunds."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from entries.rules.refunds import Step, read_steps, refund, share_on

MARCH, APRIL = date(2127, 3, 31), date(2127, 4, 30)
RULE = read_steps(
    [
        {"until": "2127-04-30", "share_percent": 50},
        {"until": "2127-03-31", "share_percent": 100},
    ]
)


def test_steps_are_read_in_the_order_of_their_dates():
    assert (Step(MARCH, 100), Step(APRIL, 50)) == RULE
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
    "steps",
    [
        [{"until": "tomorrow", "share_percent": 50}],
        [{"until": "2127-04-30", "share_percent": 101}],
        [{"until": "2127-04-30", "share_percent": -1}],
        [{"until": "2127-04-30", "share_percent": "half"}],
        [{"until": "2127-04-30", "share_percent": 50}, {"until": "2127-04-30", "share_percent": 5}],
    ],
)
def test_what_is_no_rule_is_refused(steps: list[dict[str, object]]):
    with pytest.raises(ValueError, match=r"."):
        read_steps(steps)


@pytest.mark.parametrize(("fee", "share"), [(-1, 50), (100, 101), (100, -1)])
def test_a_refund_of_nonsense_is_refused(fee: int, share: int):
    with pytest.raises(ValueError, match=r"."):
        refund(fee, share)
