"""Season standings: points by place over several shows, of which the best count."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Generic, TypeVar

from showrun.language import gettext as _

E = TypeVar("E", bound=Hashable)

MOST_PLACES = 100  # in a table of points
MOST_POINTS = 10_000  # for a place
# After the last place: who has one more of any place is ahead of who has none.
_BEYOND = (2**31, 0)


@dataclass(frozen=True)
class ShowPoints:
    """What one exhibitor has of one show.

    Attributes
    ----------
    show : str
        Its key.
    places : tuple of int
        The place in each class of the season there, best first.
    points : Fraction [points]
        Over these classes, exact.
    counts : bool
        Whether it is among the best shows that count.
    """

    show: str
    places: tuple[int, ...]
    points: Fraction
    counts: bool


@dataclass(frozen=True)
class Standing(Generic[E]):
    """An exhibitor's line in the standings."""

    exhibitor: E
    place: int
    total: Fraction
    shows: tuple[ShowPoints, ...]


@dataclass(frozen=True)
class CountedClass(Generic[E]):
    """A class that counts in the season: its show, and the places of all entries by exhibitor.

    An exhibitor with several wagons has several places; the best of them counts.
    """

    show: str
    places: tuple[tuple[E, int], ...]


def read_table(texts: Sequence[str]) -> tuple[Decimal, ...]:
    """Read a table of points: of the first place, the second, and so on.

    Parameters
    ----------
    texts : sequence of str [points]

    Returns
    -------
    tuple of Decimal [points]

    Raises
    ------
    ValueError
        With a sentence, when it is empty or too long, or the points are not numbers from 0 with
        two decimals at most, or a later place has more than one before it.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> read_table(["10", "7.5", "5"])
    (Decimal('10'), Decimal('7.5'), Decimal('5'))
    """
    if not 0 < len(texts) <= MOST_PLACES:
        raise ValueError(_("Points for 1 to {most} places, please.").format(most=MOST_PLACES))
    table: list[Decimal] = []
    for text in texts:
        try:
            points = Decimal(text.strip())
        except InvalidOperation as fault:
            raise ValueError(
                _("“{text}” is no number of points.").format(text=text.strip()[:20])
            ) from fault
        if not points.is_finite() or not 0 <= points <= MOST_POINTS:
            raise ValueError(_("Points are from 0 to {most}.").format(most=MOST_POINTS))
        if points != round(points, 2):
            raise ValueError(_("Points have two decimals at most."))
        if table and points > table[-1]:
            raise ValueError(_("A place cannot be worth more than the one before it."))
        table.append(points)
    return tuple(table)


def points_of_place(table: Sequence[Decimal], place: int, sharing: int = 1) -> Fraction:
    """Return the points of a place; those who share it have the average of the places they fill.

    Parameters
    ----------
    table : sequence of Decimal [points]
        Of the first place, the second, and so on; further places have none.
    place : int
        1 for the first.
    sharing : int
        How many entries stand at this place.

    Returns
    -------
    Fraction [points]

    Raises
    ------
    ValueError
        When there is no such place.

    Source
    ------
    Common practice, no source: pooled as a purse is, so that a class hands out the same points
    with and without ties.

    Example
    -------
    >>> points_of_place([Decimal(10), Decimal(7), Decimal(5)], 2, sharing=2)
    Fraction(6, 1)
    """
    if place < 1 or sharing < 1:
        raise ValueError(f"There is no place {place} shared by {sharing}.")
    filled = table[place - 1 : place - 1 + sharing]
    return sum((Fraction(points) for points in filled), Fraction(0)) / sharing


def standings(
    classes: Iterable[CountedClass[E]], table: Sequence[Decimal], best_of: int | None = None
) -> list[Standing[E]]:
    """Return the standings of a season.

    Parameters
    ----------
    classes : iterable of CountedClass
        Every class with a released result; a show may have several, whose points add up.
    table : sequence of Decimal [points]
    best_of : int or None
        So many shows of each exhibitor count, those with the most points; None: all.

    Returns
    -------
    list of Standing
        By place; those who share one in no particular order.

    Raises
    ------
    ValueError
        When no show is to count, or there is no such place.

    Notes
    -----
    Of shows with equal points the one with the better places counts. Equal totals are parted by
    the number of firsts in the shows that count, then of seconds, and so on; still equal, they
    share the place and the next one is left out. A shared first is a first. Of an exhibitor's own
    wagons in a class the best placed counts; where two of them share a place, one share counts.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> table = [Decimal(10), Decimal(7), Decimal(5)]
    >>> spring = CountedClass("spring", (("Ana", 1), ("Ben", 2), ("Cal", 3)))
    >>> fall = CountedClass("fall", (("Ben", 1), ("Ana", 2)))
    >>> late = CountedClass("late", (("Ana", 3), ("Ben", 3)))
    >>> [(line.exhibitor, line.place, str(line.total))
    ...  for line in standings([spring, fall, late], table, best_of=2)]
    [('Ana', 1, '17'), ('Ben', 1, '17'), ('Cal', 3, '5')]
    """
    if best_of is not None and best_of < 1:
        raise ValueError("At least one show counts.")
    earned: dict[E, dict[str, list[tuple[int, Fraction]]]] = defaultdict(lambda: defaultdict(list))
    for one in classes:
        sharing = Counter(place for _, place in one.places)
        best: dict[E, int] = {}
        for exhibitor, place in one.places:
            best[exhibitor] = min(place, best.get(exhibitor, place))
        for exhibitor, place in best.items():
            points = points_of_place(table, place, sharing[place])
            earned[exhibitor][one.show].append((place, points))
    lines = [_line(exhibitor, shows, best_of) for exhibitor, shows in earned.items()]
    keys = {line.exhibitor: _key(line) for line in lines}
    lines.sort(key=lambda line: keys[line.exhibitor])
    ranked: list[Standing[E]] = []
    for index, line in enumerate(lines):
        ahead = ranked[-1] if ranked else None
        shares = ahead is not None and keys[ahead.exhibitor] == keys[line.exhibitor]
        place = ahead.place if ahead and shares else index + 1
        ranked.append(Standing(line.exhibitor, place, line.total, line.shows))
    return ranked


def _line(
    exhibitor: E, shows: Mapping[str, list[tuple[int, Fraction]]], best_of: int | None
) -> Standing[E]:
    """Take the best shows of one exhibitor; the place is given later."""
    each = [
        (show, tuple(sorted(place for place, _ in got)), sum((p for _, p in got), Fraction(0)))
        for show, got in shows.items()
    ]
    each.sort(key=lambda one: (-one[2], _fewest(one[1]), one[0]))
    counted = len(each) if best_of is None else best_of
    lines = tuple(
        ShowPoints(show, places, points, index < counted)
        for index, (show, places, points) in enumerate(each)
    )
    total = sum((line.points for line in lines if line.counts), Fraction(0))
    return Standing(exhibitor, 0, total, lines)


def _fewest(places: Iterable[int]) -> tuple[tuple[int, int], ...]:
    """Order by more firsts, then more seconds, and so on."""
    counts = sorted((place, -n) for place, n in Counter(places).items())
    return (*counts, _BEYOND)


def _key(line: Standing[E]) -> tuple[Fraction, tuple[tuple[int, int], ...]]:
    counted = (place for show in line.shows if show.counts for place in show.places)
    return (-line.total, _fewest(counted))
