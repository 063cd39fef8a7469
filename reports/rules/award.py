"""Which placings get an award sheet, and how a place is called."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

E = TypeVar("E", bound=Hashable)

_ORDINALS = (
    N_("first"), N_("second"), N_("third"), N_("fourth"), N_("fifth"), N_("sixth"),
    N_("seventh"), N_("eighth"), N_("ninth"), N_("tenth"), N_("eleventh"), N_("twelfth"),
)  # fmt: skip
# By the last figure; other languages may write them all alike.
_ENDINGS = {1: N_("{place}st"), 2: N_("{place}nd"), 3: N_("{place}rd")}
_NUMBERS = (
    N_("one"), N_("two"), N_("three"), N_("four"), N_("five"), N_("six"),
    N_("seven"), N_("eight"), N_("nine"), N_("ten"), N_("eleven"), N_("twelve"),
)  # fmt: skip


@dataclass(frozen=True)
class Award(Generic[E]):
    """An award sheet to be drawn.

    Attributes
    ----------
    entry : hashable
    place : int
    sharing : int
        How many entries stand at this place, this one included.
    """

    entry: E
    place: int
    sharing: int

    @property
    def words(self) -> str:
        """The place as the sheet says it."""
        return place_words(self.place, self.sharing)


def awards(places: Mapping[E, int], places_awarded: int) -> tuple[Award[E], ...]:
    """List the award sheets of a class: every entry placed at or above the last awarded place.

    Parameters
    ----------
    places : mapping of entry to int
        Places as released; equal entries share one and the next places are skipped.
    places_awarded : int
        How many places the class awards, as announced.

    Returns
    -------
    tuple of Award
        By place; entries sharing a place in the order of `places`.

    Raises
    ------
    ValueError
        When the number of awarded places is below zero.

    Notes
    -----
    A place, not a number of sheets, is awarded: two thirds both get a sheet, and after two
    firsts there is no second.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> [(award.entry, award.words) for award in awards({"Ace": 1, "Bell": 2, "Cook": 2}, 2)]
    [('Ace', 'First place'), ('Bell', 'Second place, shared'), ('Cook', 'Second place, shared')]
    """
    if places_awarded < 0:
        raise ValueError("A class cannot award fewer than no places.")
    standing = Counter(places.values())
    sheets = [
        Award(entry, place, standing[place])
        for entry, place in places.items()
        if place <= places_awarded
    ]
    return tuple(sorted(sheets, key=lambda award: award.place))


def place_words(place: int, sharing: int = 1) -> str:
    """Call a place by its word, and say when it is shared.

    Examples
    --------
    >>> place_words(1), place_words(2, 2), place_words(21)
    ('First place', 'Second place, shared', '21st place')
    """
    words = _("{ordinal} place").format(ordinal=ordinal(place))
    words = words[0].upper() + words[1:]
    return _("{place}, shared").format(place=words) if sharing > 1 else words


def ordinal(place: int) -> str:
    """Write a place as an ordinal: in letters up to twelfth, in figures after.

    Raises
    ------
    ValueError
        Below 1; there is no such place.

    Examples
    --------
    >>> ordinal(3), ordinal(12), ordinal(13), ordinal(22), ordinal(111)
    ('third', 'twelfth', '13th', '22nd', '111th')
    """
    if place < 1:
        raise ValueError(f"There is no place {place}.")
    if place <= len(_ORDINALS):
        return _(_ORDINALS[place - 1])
    other = N_("{place}th")
    ending = other if place % 100 in (11, 12, 13) else _ENDINGS.get(place % 10, other)
    return _(ending).format(place=place)


def number(count: int) -> str:
    """Write a count in letters up to twelve, in figures after.

    Examples
    --------
    >>> number(3), number(15)
    ('three', '15')
    """
    return _(_NUMBERS[count - 1]) if 1 <= count <= len(_NUMBERS) else str(count)
