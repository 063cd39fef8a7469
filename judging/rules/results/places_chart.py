"""Places with how far each is sure, as a chart: a wagon a row. A template draws it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from judging.rules.windows.chart_text import fitted, text_width
from showrun.language import gettext as _
from showrun.language import ngettext

WIDTH = 380
TEXT = 14
ROW = 26
NUMBER_X = 30  # wagons' numbers end here
NAME_X = 36
LEFT = 160  # the scale begins here
RIGHT = 364
TOP = 24  # room for the scale above the rows
AIR = 4.0
_STEPS = (1, 2, 5, 10, 20, 50, 100)


@dataclass(frozen=True)
class PlaceLine:
    """One wagon in the order of the result.

    Attributes
    ----------
    number : int
    name : str
    place : int
    ranks : (int, int) or None
        Best and worst place the marks allow; None where it cannot be told.
    reach : (int, int) or None
        Best and worst place the missing cards allow; None when none is missing.
    """

    number: int
    name: str
    place: int
    ranks: tuple[int, int] | None = None
    reach: tuple[int, int] | None = None


@dataclass(frozen=True)
class PlaceRow:
    """One wagon's row, in units of the drawing; `ranks_x` and `reach_x` as the places are."""

    y: int
    text_y: int
    number: str
    name: str
    title: str
    place_x: float
    ranks_x: tuple[float, float] | None
    reach_x: tuple[float, float] | None


@dataclass(frozen=True)
class PlacesChart:
    """Everything the template draws."""

    width: int
    height: int
    top: int
    foot_y: int
    text_size: int
    number_x: int
    name_x: int
    scale_y: int
    ticks: tuple[tuple[float, str], ...]
    rows: tuple[PlaceRow, ...]
    title: str
    description: str


def places_chart(lines: Sequence[PlaceLine]) -> PlacesChart:
    """Lay places and their intervals out, the first place at the left.

    Parameters
    ----------
    lines : sequence of PlaceLine
        In the order of their places, one at least.

    Returns
    -------
    PlacesChart

    Raises
    ------
    ValueError
        Without a line.

    Notes
    -----
    The place given is a square, what the marks allow a thick line, what missing cards allow a
    broken one under it: form tells them apart, no colour.

    Source
    ------
    Ranks with intervals: Goldstein, H. & Spiegelhalter, D. J., League tables and their
    limitations, Journal of the Royal Statistical Society A 159, 1996 (from memory).

    Example
    -------
    >>> drawn = places_chart([PlaceLine(4, "Quiet Anvil", 1, (1, 2)), PlaceLine(7, "Tin", 2),
    ...                       PlaceLine(9, "Copper Moth", 3, (2, 3))])
    >>> [(row.y, row.place_x, row.ranks_x) for row in drawn.rows]
    [(37, 160.0, (160.0, 262.0)), (63, 262.0, None), (89, 364.0, (262.0, 364.0))]
    >>> drawn.rows[0].title
    '4 Quiet Anvil: place 1, by these marks 1 to 2'
    """
    if not lines:
        raise ValueError("there is no place to draw")
    last = max(
        place for line in lines for place in (line.place, *(line.ranks or ()), *(line.reach or ()))
    )

    def x(place: int) -> float:
        share = (place - 1) / (last - 1) if last > 1 else 0.5
        return round(LEFT + share * (RIGHT - LEFT), 1)

    def ends(span: tuple[int, int] | None) -> tuple[float, float] | None:
        return (x(span[0]), x(span[1])) if span else None

    rows = tuple(
        PlaceRow(
            y=TOP + ROW * n + ROW // 2,
            text_y=TOP + ROW * n + ROW // 2 + TEXT // 3,
            number=str(line.number),
            name=name_fitted(line.name),
            title=_said(line),
            place_x=x(line.place),
            ranks_x=ends(line.ranks),
            reach_x=ends(line.reach),
        )
        for n, line in enumerate(lines)
    )
    foot = TOP + ROW * len(lines)
    n = len(lines)
    return PlacesChart(
        width=WIDTH,
        height=foot + int(AIR),
        top=TOP,
        foot_y=foot,
        text_size=TEXT,
        number_x=NUMBER_X,
        name_x=NAME_X,
        scale_y=TOP - 8,
        ticks=tuple((x(place), str(place)) for place in _ticks(last)),
        rows=rows,
        title=ngettext(
            "Places of {n} wagon, and how far each is sure",
            "Places of {n} wagons, and how far each is sure",
            n,
        ).format(n=n),
        description=_key(lines),
    )


def name_fitted(name: str) -> str:
    """Cut a wagon's name to its room beside the scale.

    Example
    -------
    >>> name_fitted("Lantern Draw Cattle Outfit")
    'Lantern Dra…'
    """
    return fitted(name, TEXT, LEFT - NAME_X - 2 * AIR)


def _ticks(last: int) -> list[int]:
    """Places on the scale: the first, and as many more as leave their labels apart."""
    room = text_width(str(last), TEXT) + AIR
    a_place = (RIGHT - LEFT) / max(last - 1, 1)
    step = next((step for step in _STEPS if step * a_place >= room), last)
    if step == 1:
        return list(range(1, last + 1))
    # The first stands for itself; a label right beside it would run into it.
    return [1] + [p for p in range(step, last + 1, step) if (p - 1) * a_place >= room]


def _said(line: PlaceLine) -> str:
    words = _("{number} {wagon}: place {place}").format(
        number=line.number, wagon=line.name, place=line.place
    )
    if line.ranks:
        words += ", " + _("by these marks {places}").format(places=span_said(line.ranks))
    if line.reach:
        words += ", " + _("with the missing cards {places}").format(places=span_said(line.reach))
    return words


def span_said(span: tuple[int, int]) -> str:
    """Say from which to which place.

    Example
    -------
    >>> span_said((2, 5)), span_said((3, 3))
    ('2 to 5', '3')
    """
    low, high = span
    return str(low) if low == high else _("{low} to {high}").format(low=low, high=high)


def _key(lines: Sequence[PlaceLine]) -> str:
    parts = [_("A row for each wagon, the first place at the left. The square is the place given.")]
    if any(line.ranks for line in lines):
        parts.append(_("The thick line spans the places these marks allow."))
    if any(line.reach for line in lines):
        parts.append(_("The broken line spans what the missing cards allow."))
    return " ".join(parts)
