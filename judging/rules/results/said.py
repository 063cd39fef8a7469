"""How an announcer says numbers, places and money."""

from __future__ import annotations

_SMALL = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen",
)  # fmt: skip
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_GROUPS = ((10**12, "trillion"), (10**9, "billion"), (10**6, "million"), (1000, "thousand"))
_ORDINALS = {
    "one": "first", "two": "second", "three": "third", "five": "fifth", "eight": "eighth",
    "nine": "ninth", "twelve": "twelfth",
}  # fmt: skip


def number_said(number: int) -> str:
    """Say a whole number.

    Parameters
    ----------
    number : int
        0 or more, below a quadrillion.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        Outside that.

    Source
    ------
    Common practice, no source: American words, without "and".

    Example
    -------
    >>> number_said(7), number_said(42), number_said(115), number_said(12_300)
    ('seven', 'forty-two', 'one hundred fifteen', 'twelve thousand three hundred')
    """
    if not 0 <= number < 10**15:
        raise ValueError(f"{number} is not said in words.")
    if number < 20:
        return _SMALL[number]
    if number < 100:
        tens, ones = divmod(number, 10)
        return _TENS[tens] + (f"-{_SMALL[ones]}" if ones else "")
    for size, name in (*_GROUPS, (100, "hundred")):
        if number >= size:
            many, rest = divmod(number, size)
            return f"{number_said(many)} {name}" + (f" {number_said(rest)}" if rest else "")
    raise AssertionError(number)


def place_said(place: int, sharing: int = 1) -> str:
    """Say a place, and by how many it is shared.

    Parameters
    ----------
    place : int
        1 for the first.
    sharing : int
        How many entries stand there.

    Returns
    -------
    str

    Raises
    ------
    ValueError
        Below 1; there is no such place.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> place_said(3), place_said(2, sharing=2), place_said(20)
    ('Third place', 'Second place, shared by two', 'Twentieth place')
    """
    if place < 1 or sharing < 1:
        raise ValueError(f"There is no place {place} shared by {sharing}.")
    words = number_said(place)
    last = words.replace("-", " ").split()[-1]
    ending = _ORDINALS.get(last) or (f"{last[:-1]}ieth" if last.endswith("y") else f"{last}th")
    said = f"{words[: len(words) - len(last)]}{ending} place"
    shared = f", shared by {number_said(sharing)}" if sharing > 1 else ""
    return said[0].upper() + said[1:] + shared


def money_said(cents: int) -> str:
    """Say an amount of money.

    Parameters
    ----------
    cents : int [cents]
        0 or more.

    Returns
    -------
    str

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> money_said(125000), money_said(101)
    ('one thousand two hundred fifty dollars', 'one dollar and one cent')
    """
    whole, rest = divmod(cents, 100)
    parts = [
        f"{number_said(count)} {noun}{'' if count == 1 else 's'}"
        for count, noun in ((whole, "dollar"), (rest, "cent"))
        if count or (noun == "dollar" and not rest)
    ]
    return " and ".join(parts)
