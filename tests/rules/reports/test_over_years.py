"""Points of different cards as shares."""

from __future__ import annotations

from decimal import Decimal

import pytest

from reports.rules.over_years import beside, percent


@pytest.mark.parametrize(
    ("points", "possible", "share"),
    [("61.5", "75", 82), ("0", "75", 0), ("1", "200", 1), ("0.99", "200", 0), ("76", "75", 101)],
)
def test_a_share_is_whole_percent_and_half_goes_up(points: str, possible: str, share: int) -> None:
    assert percent(Decimal(points), Decimal(possible)) == share


def test_nothing_to_earn_has_no_share() -> None:
    assert percent(Decimal(0), Decimal(0)) is None


def test_a_share_stands_beside_the_middle() -> None:
    assert beside(82, 75) == "7 above the middle"
    assert beside(74, 75) == "1 below the middle"
    assert beside(75, 75) == "level with the middle"
