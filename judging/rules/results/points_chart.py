"""Every judge's points of a section, wagon by wagon, as a chart. A template draws it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from judging.rules.results.places_chart import (
    AIR,
    LEFT,
    NAME_X,
    NUMBER_X,
    RIGHT,
    ROW,
    TEXT,
    TOP,
    WIDTH,
    name_fitted,
)
from judging.rules.windows.chart_text import fitted, text_width
from showrun.language import gettext as _
from showrun.language import ngettext

RADIUS = 4.5
LANE = 12.0  # between dots of a row that would lie on each other
APART = 2 * RADIUS + 1.5  # between dots side by side
MOST_TICKS = 4  # steps of the scale
_STEPS = (1, 2, 5, 10, 20, 25, 50, 100, 200, 500, 1000)
_LABEL_ROOM = 90.0

# Form and filling of each judge's dots, told apart without colour.
LOOKS = (
    ("circle", False), ("square", True), ("triangle", False), ("diamond", True), ("plus", False),
    ("circle", True), ("square", False), ("triangle", True), ("diamond", False), ("cross", False),
    ("wedge", True), ("wedge", False),
)  # fmt: skip


@dataclass(frozen=True)
class WagonPoints:
    """One wagon: number, name, and each judge's points by the judge's short name."""

    number: int
    name: str
    points: Mapping[str, Decimal]


@dataclass(frozen=True)
class Dot:
    """One judge's points of one wagon: its middle, and its outline as an SVG path."""

    x: float
    y: float
    path: str
    filled: bool
    title: str


@dataclass(frozen=True)
class PointsRow:
    """One wagon's row."""

    y: float
    height: float
    text_y: float
    number: str
    name: str
    title: str
    dots: tuple[Dot, ...]


@dataclass(frozen=True)
class KeyItem:
    """What one judge's dots look like."""

    dot: Dot
    text_x: float
    text_y: float
    label: str


@dataclass(frozen=True)
class PointsChart:
    """Everything the template draws."""

    width: int
    height: float
    top: int
    foot_y: float
    text_size: int
    number_x: int
    name_x: int
    scale_y: int
    ticks: tuple[tuple[float, str], ...]
    rows: tuple[PointsRow, ...]
    key: tuple[KeyItem, ...]
    title: str
    description: str


def points_chart(
    section: str, wagons: Sequence[WagonPoints], judges: Mapping[str, str], possible: Decimal
) -> PointsChart | None:
    """Lay the judges' points of one section out, a dot for each judge.

    Parameters
    ----------
    section : str
        Its name.
    wagons : sequence of WagonPoints
        In the order they are shown.
    judges : mapping of str to str
        Short name to name, of every judge who gave points, in the order of the key.
    possible : Decimal [points]
        What one judge's card of the section can give.

    Returns
    -------
    PointsChart or None
        None without a dot, or with more judges than there are looks.

    Notes
    -----
    Dots of a wagon that would lie on each other stand one under the other, and its row grows.
    The scale begins near the fewest points given; a dot is read by its place, not by a length.

    Source
    ------
    Dot charts: Cleveland, W. S., Journal of the American Statistical Association 79, 1984, and
    place as what is read best (from memory).

    Example
    -------
    >>> seen = [WagonPoints(4, "Quiet Anvil", {"J1": Decimal(30), "J2": Decimal(30)}),
    ...         WagonPoints(7, "Tin", {"J1": Decimal(38), "J2": Decimal("32.5")})]
    >>> drawn = points_chart("Harness", seen, {"J1": "Ada", "J2": "Bo"}, Decimal(40))
    >>> [text for _, text in drawn.ticks]
    ['30', '32', '34', '36', '38']
    >>> [[(dot.x, dot.y) for dot in row.dots] for row in drawn.rows]
    [[(166.0, 37.0), (166.0, 49.0)], [(226.0, 75.0), (358.0, 75.0)]]
    """
    given = [float(points) for wagon in wagons for points in wagon.points.values()]
    if not given or len(judges) > len(LOOKS):
        return None
    low, high, step = _scale(min(given), max(given))
    inner = LEFT + 6, RIGHT - 6

    def x(points: float) -> float:
        return round(inner[0] + (points - low) / (high - low) * (inner[1] - inner[0]), 1)

    worn = dict(zip(judges, LOOKS, strict=False))
    rows, y = [], float(TOP)
    for wagon in wagons:
        row = _row(wagon, y, [(x(float(wagon.points[j])), j) for j in judges if j in wagon.points],
                   worn, judges)  # fmt: skip
        rows.append(row)
        y = round(y + row.height, 1)
    key, height = _key(judges, worn, y)
    marks = range(round((high - low) / step) + 1)
    return PointsChart(
        width=WIDTH,
        height=height,
        top=TOP,
        foot_y=y,
        text_size=TEXT,
        number_x=NUMBER_X,
        name_x=NAME_X,
        scale_y=TOP - 8,
        ticks=tuple((x(low + n * step), f"{low + n * step:g}") for n in marks),
        rows=tuple(rows),
        key=key,
        title=ngettext(
            "{section}: each judge's points of {n} wagon",
            "{section}: each judge's points of {n} wagons",
            len(wagons),
        ).format(section=section, n=len(wagons)),
        description=_(
            "A row for each wagon, a dot for each judge; {possible:f} points are possible. "
            "The scale runs from {low:g} to {high:g}."
        ).format(possible=possible.normalize(), low=low, high=high),
    )


def outline(form: str, x: float, y: float, size: float = RADIUS) -> str:
    """Return the outline of a dot as an SVG path.

    Parameters
    ----------
    form : str
        Of `LOOKS`.
    x, y : float
        Its middle.
    size : float
        Half its breadth; no form reaches further.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> outline("diamond", 10, 20, 4)
    'M10 16L14 20L10 24L6 20Z'
    """
    s = size
    if form == "circle":
        return f"M{x - s:g} {y:g}a{s:g} {s:g} 0 1 0 {2 * s:g} 0a{s:g} {s:g} 0 1 0 {-2 * s:g} 0Z"
    q = round(0.85 * s, 2)
    corners = {
        "square": [(-q, -q), (q, -q), (q, q), (-q, q)],
        "triangle": [(0, -s), (s, q), (-s, q)],
        "wedge": [(0, s), (s, -q), (-s, -q)],
        "diamond": [(0, -s), (s, 0), (0, s), (-s, 0)],
    }
    if form in corners:
        return "M" + "L".join(f"{x + dx:g} {y + dy:g}" for dx, dy in corners[form]) + "Z"
    arms = [(-s, 0, s, 0), (0, -s, 0, s)] if form == "plus" else [(-q, -q, q, q), (-q, q, q, -q)]
    return "".join(f"M{x + a:g} {y + b:g}L{x + c:g} {y + d:g}" for a, b, c, d in arms)


def _scale(lowest: float, highest: float) -> tuple[float, float, int]:
    """Return ends and step of a scale of whole numbers around what was given."""
    step = next((s for s in _STEPS if (highest - lowest) / s <= MOST_TICKS), _STEPS[-1])
    low, high = math.floor(lowest / step) * step, math.ceil(highest / step) * step
    if low == high:
        low, high = max(low - step, 0), high + step
    return float(low), float(high), step


def _row(
    wagon: WagonPoints,
    y: float,
    placed: Sequence[tuple[float, str]],
    worn: Mapping[str, tuple[str, bool]],
    names: Mapping[str, str],
) -> PointsRow:
    """Give each dot the first lane in which it touches no other."""
    lanes: list[float] = []  # where the last dot of each lane stands
    where = []
    for x, judge in sorted(placed, key=lambda dot: dot[0]):
        lane = next((n for n, at in enumerate(lanes) if x - at >= APART), len(lanes))
        lanes[lane : lane + 1] = [x]
        where.append((x, lane, judge))
    height = max(float(ROW), LANE * len(lanes) + ROW - LANE)
    first = y + (height - LANE * (len(lanes) - 1)) / 2
    dots = tuple(
        _dot(x, round(first + LANE * lane, 1), worn[judge],
             f"{wagon.number} {wagon.name}, {judge} {names[judge]}: {wagon.points[judge]}")
        for x, lane, judge in where
    )  # fmt: skip
    return PointsRow(
        y=y,
        height=height,
        text_y=round(y + height / 2 + TEXT // 3, 1),
        number=str(wagon.number),
        name=name_fitted(wagon.name),
        title=f"{wagon.number} {wagon.name}",
        dots=dots,
    )


def _dot(x: float, y: float, look: tuple[str, bool], title: str) -> Dot:
    form, filled = look
    return Dot(x, y, outline(form, x, y), filled, title)


def _key(
    judges: Mapping[str, str], worn: Mapping[str, tuple[str, bool]], foot: float
) -> tuple[tuple[KeyItem, ...], float]:
    """Set the judges' looks under the chart, as many in a line as fit."""
    items: list[KeyItem] = []
    x, y = NUMBER_X / 2, foot + ROW / 2 + AIR
    for judge, name in judges.items():
        label = fitted(judge, TEXT, _LABEL_ROOM)
        width = 2 * RADIUS + AIR + text_width(label, TEXT) + 4 * AIR
        if items and x + width > WIDTH:
            x, y = NUMBER_X / 2, y + ROW - AIR
        dot = _dot(round(x, 1), round(y, 1), worn[judge], f"{judge} {name}")
        text_x = round(x + RADIUS + AIR, 1)
        items.append(KeyItem(dot, text_x, round(y + TEXT // 3, 1), label))
        x += width
    return tuple(items), round(y + ROW / 2, 1)
