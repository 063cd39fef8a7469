"""Where the marks of a section's bar stand; the template draws them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from reports.rules.sheet import Axis, SectionLine

WIDTH = 180
MARGIN = 10


@dataclass(frozen=True)
class Bar:
    """One section's bar, in units of the drawing, from the left edge.

    Attributes
    ----------
    lowest_x, highest_x, middle_x, own_x : float
    """

    lowest_x: float
    highest_x: float
    middle_x: float
    own_x: float

    @property
    def width(self) -> float:
        """Length of the class's range; never so short that it cannot be seen."""
        return max(self.highest_x - self.lowest_x, 1.0)


@dataclass(frozen=True)
class Scale:
    """The labelled positions of the common scale."""

    width: int
    left_x: float
    right_x: float
    ticks: tuple[tuple[float, int], ...]


def bar(line: SectionLine, axis: Axis) -> Bar:
    """Place a section's range, middle and own points on the common scale.

    Parameters
    ----------
    line : SectionLine
    axis : Axis

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> line = SectionLine("s", "S", Decimal(60), Decimal(75), Decimal(60), Decimal(45),
    ...                    Decimal(75), 3)
    >>> bar(line, Axis(60, 100))
    Bar(lowest_x=10.0, highest_x=170.0, middle_x=90.0, own_x=90.0)
    """

    def x(points: Decimal) -> float:
        return _x(line.share(points) * 100, axis)

    return Bar(x(line.lowest), x(line.highest), x(line.middle), x(line.own))


def scale(axis: Axis) -> Scale:
    """Place the labels of the common scale.

    Examples
    --------
    >>> scale(Axis(60, 100)).ticks
    ((10.0, 60), (50.0, 70), (90.0, 80), (130.0, 90), (170.0, 100))
    """
    ticks = tuple((_x(Fraction(percent), axis), percent) for percent in axis.ticks)
    return Scale(WIDTH, _x(Fraction(axis.low), axis), _x(Fraction(axis.high), axis), ticks)


def _x(percent: Fraction, axis: Axis) -> float:
    return round(MARGIN + axis.position(percent) * (WIDTH - 2 * MARGIN), 1)
