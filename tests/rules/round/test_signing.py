"""A card is handed in whole, and as its judge signed it."""

from __future__ import annotations

import pytest

from judging.rules.round.events import EventRefused
from judging.rules.round.signing import WAITS, demand_card_signed


@pytest.mark.parametrize(
    ("n_lacking", "signed", "code"),
    [
        (0, "aa", ""),
        (0, None, ""),
        (0, "bb", "card-differs"),
        (1, "aa", "rows-missing"),
        (1, "bb", "rows-missing"),
        (1, None, "rows-missing"),
    ],
)
def test_a_card_waits_until_it_is_whole_and_the_same(n_lacking: int, signed: str | None, code: str):
    found = ""
    try:
        demand_card_signed(n_lacking=n_lacking, signed=signed, here="aa")
    except EventRefused as refused:
        found = refused.code
        assert found in WAITS
    assert found == code
