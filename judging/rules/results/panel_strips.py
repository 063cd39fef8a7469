"""Where judges' marks and habits stand on drawings of a panel; the templates draw them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

WIDTH = 320
LABEL_WIDTH = 56
RIGHT = 14
LANE = 22
FOOT = 20  # under the lanes: room for the scale
MOST = 10  # the common scale ends here
SMALLEST, LARGEST = 2.0, 7.0  # radius of a dot
LETTERS = 6  # of a label that fit before the lane
HALF = 0.5


@dataclass(frozen=True)
class Dot:
    """Rows with one and the same mark; more of them make a larger dot."""

    x: float
    radius: float


@dataclass(frozen=True)
class Lane:
    """One judge's line.

    Attributes
    ----------
    y : int
    label : str
        The judge's short name, cut where it would run into the drawing.
    dots : tuple of Dot
    middle_x : float or None
        Where the mean, or the size of a habit, stands; None where it is untold.
    low_x, high_x : float
        The ends of the bar: the range of the marks, or an interval.
    """

    y: int
    label: str
    dots: tuple[Dot, ...]
    middle_x: float | None
    low_x: float
    high_x: float


@dataclass(frozen=True)
class Drawing:
    """Lanes over one scale, in units of the drawing.

    Attributes
    ----------
    width, height, foot_y : int
    ticks : tuple of (float, str)
    zero_x : float or None
        Where a judge like the others stands; None on a scale of marks.
    lanes : tuple of Lane
    """

    width: int
    height: int
    foot_y: int
    ticks: tuple[tuple[float, str], ...]
    zero_x: float | None
    lanes: tuple[Lane, ...]


def wagon_strip(cards: Sequence[tuple[str, Sequence[float]]]) -> Drawing:
    """Place the marks of a wagon, a lane for each judge.

    Parameters
    ----------
    cards : sequence of (str, sequence of float)
        Each judge's short name and marks on the common scale of 0 to 10, one at least.

    Returns
    -------
    Drawing

    Notes
    -----
    The area of a dot goes with the number of rows that have the mark; the bar reaches from the
    lowest to the highest mark. It is read by place and size alone and needs no colour.

    Source
    ------
    Place and length are read best: Cleveland, W. S. & McGill, R., Journal of the American
    Statistical Association 79, 531-554, 1984 (from memory).

    Examples
    --------
    >>> drawn = wagon_strip([("J1", [0.0, 10.0]), ("J2", [5.0])])
    >>> [(lane.label, lane.middle_x, lane.low_x, lane.high_x) for lane in drawn.lanes]
    [('J1', 181.0, 56.0, 306.0), ('J2', 181.0, 181.0, 181.0)]
    """
    most = max(max(Counter(marks).values()) for _, marks in cards)
    lanes = []
    for n, (label, marks) in enumerate(cards):
        times = Counter(marks)
        dots = tuple(
            Dot(_x(mark, 0.0, MOST), _radius(count, most)) for mark, count in sorted(times.items())
        )
        mean = math.fsum(marks) / len(marks)
        ends = _x(min(marks), 0.0, MOST), _x(max(marks), 0.0, MOST)
        lanes.append(Lane(_y(n), label[:LETTERS], dots, _x(mean, 0.0, MOST), *ends))
    ticks = tuple((_x(mark, 0.0, MOST), str(mark)) for mark in (0, 5, 10))
    return _drawing(lanes, ticks, None)


def interval_strip(
    judges: Sequence[tuple[str, float, float, float]], zero: float = 0.0
) -> Drawing | None:
    """Place a habit of each judge with its interval about what is like the others.

    Parameters
    ----------
    judges : sequence of (str, float, float, float)
        Short name, size, and the ends of the interval; nan where the panel cannot tell.
    zero : float
        The size of a judge who is like the others.

    Returns
    -------
    Drawing or None
        None where nothing can be told of anybody.

    Notes
    -----
    The scale is alike on both sides of the zero and ends at the next half beyond what is drawn.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> drawn = interval_strip([("J1", 0.5, 0.2, 0.8), ("J2", -0.5, -0.8, -0.2)])
    >>> [text for _, text in drawn.ticks], drawn.zero_x
    (['-1', '0', '+1'], 181.0)
    >>> interval_strip([("J1", math.nan, math.nan, math.nan)]) is None
    True
    """
    told = [abs(v - zero) for _, *values in judges for v in values if math.isfinite(v)]
    if not told:
        return None
    reach = max(math.ceil(max(told) / HALF) * HALF, HALF)
    lowest, highest = zero - reach, zero + reach
    lanes = []
    for n, (label, size, low, high) in enumerate(judges):
        middle = _x(size, lowest, highest) if math.isfinite(size) else None
        ends = (low, high) if math.isfinite(low) and math.isfinite(high) else (size, size)
        if middle is None:
            ends = (zero, zero)
        low_x, high_x = (_x(end, lowest, highest) for end in ends)
        lanes.append(Lane(_y(n), label[:LETTERS], (), middle, low_x, high_x))
    zero_x = _x(zero, lowest, highest)
    signed = "+g" if zero == 0.0 else "g"
    ticks = (
        (_x(lowest, lowest, highest), f"{lowest:g}"),
        (zero_x, f"{zero:g}"),
        (_x(highest, lowest, highest), f"{highest:{signed}}"),
    )
    return _drawing(lanes, ticks, zero_x)


def _drawing(
    lanes: Sequence[Lane], ticks: tuple[tuple[float, str], ...], zero_x: float | None
) -> Drawing:
    foot_y = LANE * len(lanes)
    return Drawing(WIDTH, foot_y + FOOT, foot_y, ticks, zero_x, tuple(lanes))


def _x(value: float, lowest: float, highest: float) -> float:
    share = (value - lowest) / (highest - lowest)
    return round(LABEL_WIDTH + share * (WIDTH - LABEL_WIDTH - RIGHT), 1)


def _y(lane: int) -> int:
    return LANE * lane + LANE // 2


def _radius(count: int, most: int) -> float:
    return round(max(LARGEST * math.sqrt(count / most), SMALLEST), 1)
