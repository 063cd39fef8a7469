"""Where the judges' marks stand on the strip of one row; the template draws it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from judging.rules.cards.norming import RowSpread, graded

WIDTH = 280
MARGIN = 22
LETTER_WIDTH = 8  # of the widest letter at the size the labels have
LABEL_HEIGHT = 13
DOT = 4
FOOT = 18  # under the line: room for the ends of the scale
MOST_TICKS = 20


@dataclass(frozen=True)
class Label:
    """A judge's short name above their mark."""

    x: float
    y: float
    text: str


@dataclass(frozen=True)
class Strip:
    """One row's marks on a line, in units of the drawing.

    Attributes
    ----------
    width, height, line_y : int
    ends : tuple of (float, str)
        The two ends of the scale, with what stands under them.
    ticks, dots : tuple of float
        The row's steps (none when they are too many to tell apart); where marks were given.
    lowest_x, highest_x, middle_x : float
    labels : tuple of Label
    """

    width: int
    height: int
    line_y: int
    ends: tuple[tuple[float, str], tuple[float, str]]
    ticks: tuple[float, ...]
    dots: tuple[float, ...]
    lowest_x: float
    highest_x: float
    middle_x: float
    labels: tuple[Label, ...]


def strip(spread: RowSpread) -> Strip | None:
    """Place a row's marks on a line from 0 to its maximum.

    Parameters
    ----------
    spread : RowSpread

    Returns
    -------
    Strip or None
        None when nobody gave a number.

    Notes
    -----
    Equal marks share a dot and their labels are stacked; a label that would run into its
    neighbour goes one line up. It is read by place and shape alone and needs no colour.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> from judging.rules.cards.scorecard import Criterion
    >>> hub = Criterion("hub", "Hubs", Decimal(10), Decimal(1))
    >>> drawn = strip(RowSpread(hub, (("J1", Decimal(0)), ("J2", Decimal(10)))))
    >>> drawn.dots, drawn.middle_x, [label.text for label in drawn.labels]
    ((22.0, 258.0), 140.0, ['J1', 'J2'])
    """
    row = spread.row
    if spread.middle is None:
        return None
    places = [(_x(mark, row.max_mark), judge) for judge, mark in spread.given]
    levels = _levels(places)
    line_y = LABEL_HEIGHT * (max(levels) + 1) + DOT + 2
    n_steps = int(row.max_mark / row.step)
    many = n_steps > MOST_TICKS
    return Strip(
        width=WIDTH,
        height=line_y + FOOT,
        line_y=line_y,
        ends=(
            (_x(Decimal(0), row.max_mark), "0" if graded(row) else "fail"),
            (_x(row.max_mark, row.max_mark), _plain(row.max_mark) if graded(row) else "pass"),
        ),
        ticks=() if many else tuple(_x(row.step * n, row.max_mark) for n in range(n_steps + 1)),
        dots=tuple(dict.fromkeys(x for x, _ in places)),
        lowest_x=places[0][0],
        highest_x=places[-1][0],
        middle_x=_x(spread.middle, row.max_mark),
        labels=tuple(
            Label(_inside(x, judge), line_y - DOT - 3 - LABEL_HEIGHT * level, judge)
            for (x, judge), level in zip(places, levels, strict=True)
        ),
    )


def _levels(places: Sequence[tuple[float, str]]) -> list[int]:
    """Give each label the lowest line on which it does not touch the one before it."""
    ends: list[float] = []  # of the last label on each line
    levels = []
    for x, text in places:
        half = len(text) * LETTER_WIDTH / 2
        centre = _inside(x, text)
        level = next((n for n, end in enumerate(ends) if end <= centre - half), len(ends))
        if level == len(ends):
            ends.append(0.0)
        ends[level] = centre + half
        levels.append(level)
    return levels


def _inside(x: float, text: str) -> float:
    """Keep a label within the drawing."""
    half = len(text) * LETTER_WIDTH / 2
    return min(max(x, half), WIDTH - half)


def _x(mark: Decimal, most: Decimal) -> float:
    return round(MARGIN + float(mark / most) * (WIDTH - 2 * MARGIN), 1)


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
