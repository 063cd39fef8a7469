"""The number on a paper card, with check digits for whoever types it."""

from __future__ import annotations

# A card's number, and the two check digits that follow it.
_CHECKED_BY = 97
LONGEST_NUMBER = 12
_DASHES = str.maketrans("\u2013\u2014\u2212", "---")


class NumberRefused(ValueError):
    """What was typed is no number of a card; the sentence says why."""


def card_number(row_id: int) -> str:
    """Write the number that stands on a paper card: two check digits follow the card's own.

    Parameters
    ----------
    row_id : int
        Of the paper card, from 1.

    Returns
    -------
    str
        Digits only, so that a numeric keypad will do.

    Source
    ------
    ISO/IEC 7064, MOD 97-10 (from memory): any one wrong digit and any two digits exchanged
    are noticed.

    Examples
    --------
    >>> card_number(217), card_number(1)
    ('21729', '195')
    """
    check = (_CHECKED_BY + 1) - row_id * 100 % _CHECKED_BY
    return f"{row_id}{check:02d}"


def read_card_number(typed: str) -> int:
    """Read a card's number as typed, blanks and dashes in it or not.

    Parameters
    ----------
    typed : str

    Returns
    -------
    int
        The paper card's own number, as `card_number` took it.

    Raises
    ------
    NumberRefused
        With a sentence for the person who typed it.

    Source
    ------
    As `card_number`.

    Examples
    --------
    >>> read_card_number("217-29")
    217
    >>> read_card_number("271 29")
    Traceback (most recent call last):
    ...
    judging.rules.round.paper_number.NumberRefused: One of the digits is not as printed;
    please compare them again.
    """
    digits = "".join(typed.translate(_DASHES).replace("-", "").split())
    if not (digits.isascii() and digits.isdecimal() and 3 <= len(digits) <= LONGEST_NUMBER):
        raise NumberRefused("The number of a card is made of digits; it stands beside its square.")
    if int(digits) % _CHECKED_BY != 1 or card_number(int(digits[:-2])) != digits:
        raise NumberRefused("One of the digits is not as printed; please compare them again.")
    return int(digits[:-2])
