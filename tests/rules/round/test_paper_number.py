"""A slip in the number of a paper card is noticed."""

from __future__ import annotations

import pytest

from judging.rules.round.paper_number import NumberRefused, card_number, read_card_number


def test_every_single_slip_and_swap_in_a_number_is_noticed() -> None:
    for pk in (1, 9, 97, 217, 5038, 99_999):
        number = card_number(pk)
        assert read_card_number(f" {number[:2]}-{number[2:]} ") == pk
        for at, digit in enumerate(number):
            for other in set("0123456789") - {digit}:
                with pytest.raises(NumberRefused):
                    read_card_number(number[:at] + other + number[at + 1 :])
        for at in range(len(number) - 1):
            swapped = number[:at] + number[at + 1] + number[at] + number[at + 2 :]
            if swapped != number:
                with pytest.raises(NumberRefused):
                    read_card_number(swapped)
    assert len({card_number(pk) for pk in range(1, 3000)}) == 2999


@pytest.mark.parametrize("typed", ["", "abc", "12", "-", "1" * 40, "٢١٧٢٩", "0021729"])
def test_what_is_no_number_of_a_card_is_refused(typed: str) -> None:
    with pytest.raises(NumberRefused):
        read_card_number(typed)
