"""The words a chart of the rotation is told in, and the shapes it is drawn of."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class Who:
    """A wagon or a judge: how the visits refer to it, its short label and its name."""

    key: Hashable
    label: str
    name: str


@dataclass(frozen=True)
class ChartVisit:
    """A judge at a wagon, from one instant to another."""

    wagon: Hashable
    judge: Hashable
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class Busy:
    """A time in which a crew takes no visit; without a wagon, nobody's crew does."""

    wagon: Hashable | None
    starts_at: datetime
    ends_at: datetime
    why: str


@dataclass(frozen=True)
class Frame:
    """The measures of the drawing, in its own units."""

    width: float = 1000
    row_height: float = 28
    name_width: float = 190
    text_size: float = 13


@dataclass(frozen=True)
class Look:
    """What a judge's bars look like, and what is written on them."""

    label: str
    name: str
    fill: int
    dash: str


@dataclass(frozen=True)
class Bar:
    """One visit; `label` is empty where it does not fit, inside or beside."""

    x: float
    y: float
    width: float
    height: float
    look: Look
    label: str
    label_x: float
    label_y: float
    foot_y: float
    title: str

    @property
    def right(self) -> float:
        """Where the bar ends."""
        return round(self.x + self.width, 2)


@dataclass(frozen=True)
class Hatched:
    """A time without visits, with the strokes that fill it as an SVG path."""

    x: float
    y: float
    width: float
    height: float
    strokes: str
    title: str


@dataclass(frozen=True)
class Row:
    """One wagon's line; `name` is cut to its room, `title` is whole."""

    y: float
    height: float
    text_y: float
    label: str
    name: str
    title: str
    bars: tuple[Bar, ...]
    busy: tuple[Hatched, ...]


@dataclass(frozen=True)
class Tick:
    """A time on the scale; `label` is empty at the steps between."""

    x: float
    label: str


@dataclass(frozen=True)
class Chart:
    """Everything the template draws."""

    width: float
    height: float
    left: float
    right: float
    top: float
    text_size: float
    foot_width: float
    number_x: float
    name_x: float
    scale_y: float
    rows: tuple[Row, ...]
    pauses: tuple[Hatched, ...]
    ticks: tuple[Tick, ...]
    now_x: float | None
    judges: tuple[Look, ...]
    title: str
    description: str
