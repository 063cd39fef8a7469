"""What office and judge read to each other to prove that every touch arrived."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from showrun.language import gettext as _


class Gap(NamedTuple):
    """Numbers of a phone's count that did not arrive, from the first to the last of them."""

    first: int
    last: int

    @property
    def size(self) -> int:
        """How many numbers it is."""
        return self.last - self.first + 1

    def __str__(self) -> str:
        return (
            str(self.first)
            if self.first == self.last
            else _("{first} to {last}").format(first=self.first, last=self.last)
        )


def gaps(received: Iterable[int], *, counts_on: bool = False) -> tuple[Gap, ...]:
    """Return the numbers missing below the highest that was received.

    Parameters
    ----------
    received
        The numbers that arrived, in any order and any number of times; a phone counts its
        touches 1, 2, 3 and so on. What is below 1 is no number of a phone.
    counts_on
        The phone was paired before and counts on from there, so that what is below the lowest
        number is not missing.

    Returns
    -------
    tuple of Gap
        From the lowest to the highest; none when nothing is missing.

    Notes
    -----
    A touch missing here is still on the phone, or lost with it. Touches above the highest
    number leave no gap; of them only the phone can tell.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> [str(gap) for gap in gaps([1, 2, 5, 9, 5])]
    ['3 to 4', '6 to 8']
    >>> gaps([3, 4]), gaps([3, 4], counts_on=True), gaps([])
    ((Gap(first=1, last=2),), (), ())
    """
    found = []
    numbers = sorted({number for number in received if number >= 1})
    expected = numbers[0] if counts_on and numbers else 1
    for number in numbers:
        if number > expected:
            found.append(Gap(expected, number - 1))
        expected = number + 1
    return tuple(found)


def short_hash(card_hash: str) -> str:
    """Return the eight digits of a card's fingerprint that people read to each other.

    Source
    ------
    Our own rule. Eight hexadecimal digits tell two cards apart but once in 16^8, about four
    thousand million, times.

    Examples
    --------
    >>> short_hash("3fa291bc77e0")
    '3fa2 91bc'
    """
    return f"{card_hash[:4]} {card_hash[4:8]}"
