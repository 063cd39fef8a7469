"""How many photos a card takes."""

from __future__ import annotations

from judging.rules.round.photo_limits import PER_CARD, reason_against_another


def test_a_card_takes_six_photos_and_says_who_can_make_room():
    taken = [kept for kept in range(10) if reason_against_another(kept) is None]
    assert taken == list(range(PER_CARD)) == [0, 1, 2, 3, 4, 5]
    assert "office" in (reason_against_another(PER_CARD) or "")
