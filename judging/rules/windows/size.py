"""How long a window must be, what holds it up, and which ways out were checked to work."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import time

from judging.rules.windows.bound import Bound, rotation_bound
from judging.rules.windows.cases import Hold, Length, RotatingCase, Solved, WalkingCase
from judging.rules.windows.problem import Entry, Names, Spots, VisitNeed
from judging.rules.windows.walk import Walk, WalkMinutes, shortest_walk
from judging.rules.windows.ways import (
    WayOut,
    cut_way,
    judges_way,
    panels_way,
    start_way,
    wagons_way,
)

__all__ = [
    "Bound",
    "Hold",
    "Length",
    "Solved",
    "VisitNeed",
    "Walk",
    "WayOut",
    "WindowSize",
    "rotating",
    "rotation_bound",
    "shortest_walk",
    "walking_panel",
]


@dataclass(frozen=True)
class WindowSize:
    """Whether a window holds its visits.

    Parameters
    ----------
    needed_minutes
        What the visits need [min].
    bound_minutes
        No plan needs less [min].
    available_minutes
        The window [min].
    certain
        True when a plan of ``needed_minutes`` is known; False when that figure is only the bound.
    bottleneck
        What sets the length, in words.
    ways_out
        Changes that were computed again and fit; empty when the window holds.
    order
        Wagons in walking order, for a panel that walks together.
    likely_minutes
        Nine days of ten end within this [min]; None when not known.
    hold
        Which of the two lengths the window is to hold.
    """

    needed_minutes: int
    bound_minutes: int
    available_minutes: int
    certain: bool
    bottleneck: str
    ways_out: tuple[WayOut, ...] = ()
    order: tuple[Entry, ...] = ()
    likely_minutes: int | None = None
    hold: Hold = "plan"

    @property
    def held_minutes(self) -> int:
        """What the window is to hold [min]."""
        return Length(self.needed_minutes, self.likely_minutes).held(self.hold)

    @property
    def fits(self) -> bool:
        """Whether the window is long enough for what it is to hold."""
        return self.held_minutes <= self.available_minutes

    @property
    def short_by(self) -> int:
        """Minutes missing [min], zero when the window holds."""
        return max(0, self.held_minutes - self.available_minutes)

    @property
    def sentence(self) -> str:
        """The answer in one line for the show office."""
        verdict = f"{self.short_by} short" if self.short_by else _spare(self)
        if self.short_by and self.needed_minutes <= self.available_minutes:
            verdict += " for that, though the shortest plan alone would fit"
        nine = ""
        if self.likely_minutes is not None:
            nine = f" Nine days of ten end within {self.likely_minutes} minutes."
        return f"{self.bottleneck}{nine} The window has {self.available_minutes}: {verdict}."


def walking_panel(
    *,
    visits: Sequence[VisitNeed],
    walk: WalkMinutes,
    available_minutes: int,
    spot: Spots | None = None,
    break_minutes: Sequence[int] = (),
    starts_at: time | None = None,
    names: Names | None = None,
    solved: Solved | None = None,
    hold: Hold = "plan",
    clock: Callable[[int], str | None] | None = None,
) -> WindowSize:
    """Size the window of one panel that walks from wagon to wagon together.

    Parameters
    ----------
    visits
        Shape ``(n_entries,)``, one for each entry, all by the same panel.
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min]; row 0 is the gate.
    available_minutes
        Length of the window [min].
    spot
        Row of ``walk`` for each entry; without it the i-th entry camps at row i.
    break_minutes
        Breaks of the panel inside the window [min each].
    starts_at
        Opening of the window, for the advice to start earlier.
    names
        Words for entries.
    solved
        Plans visits with pauses and breaks and knows the spread of the day; gets the visits and
        by how many minutes the window opens earlier [min]. Several judges are several panels at
        the same time. Without it the sum below counts.
    hold
        Whether the window is to hold the shortest plan or what nine days of ten need.
    clock
        Says when a window opened so many minutes earlier would open, None for a time that cannot
        be; better than ``starts_at`` over midnight and clock changes.

    Returns
    -------
    WindowSize
        With the walking order and every way out that was computed again and fits.

    Raises
    ------
    ValueError
        For no visit, two visits at one entry or by two panels, or a wrong walking table.

    Notes
    -----
    needed = sum of the visits + shortest walk found + breaks. "Fewer wagons" leaves out the end
    of the walking order.

    Source
    ------
    Arithmetic; common practice, no source.

    Example
    -------
    >>> row = tuple(tuple(0 if i == k else 2 * abs(i - k) + (0 in (i, k))
    ...             for k in range(16)) for i in range(16))
    >>> size = walking_panel(
    ...     visits=[VisitNeed(wagon, "panel", 8) for wagon in range(1, 16)],
    ...     walk=row, available_minutes=135, starts_at=time(8))
    >>> size.sentence
    '15 wagons x 8 + 31 walking = 151 minutes. The window has 135: 16 short.'
    >>> for way in size.ways_out:
    ...     print(way.sentence)
    Start at 07:44, 16 minutes earlier: 151 minutes, fits.
    Cut each visit to 6 minutes (6 min 56 s at most): 121 minutes, fits; 7 would be 1 short.
    2 panels at the same time (8 and 7 wagons): 87 minutes, fits; make their marks comparable.
    Keep 13 wagons and leave 14 and 15 to another window: 131 minutes, fits.
    """
    _check_panel(visits)
    case = WalkingCase(
        walk=walk,
        spot=_spots(visits, spot),
        available=available_minutes,
        starts_at=starts_at,
        names=names or {},
        certain=True,
        breaks=sum(break_minutes),
        solved=solved,
        hold=hold,
        clock=clock,
    )
    found = case.walk_of(visits)
    order = case.in_order(visits)
    length = case.length(visits)
    size = WindowSize(
        needed_minutes=length.plan,
        bound_minutes=case.needed(visits) - found.minutes + found.lower_bound,
        available_minutes=available_minutes,
        certain=True,
        bottleneck=case.sum_in_words(visits),
        order=tuple(need.entry for need in order),
        likely_minutes=length.likely,
        hold=hold,
    )
    if size.fits:
        return size
    ways = (
        start_way(case, visits, size.short_by),
        cut_way(case, visits),
        panels_way(case, order),
        wagons_way(case, visits, [need.entry for need in reversed(order)]),
    )
    return replace(size, ways_out=tuple(way for way in ways if way))


def rotating(
    *,
    visits: Sequence[VisitNeed],
    walk: WalkMinutes,
    available_minutes: int,
    spot: Spots | None = None,
    crew_reset_minutes: int = 0,
    starts_at: time | None = None,
    names: Names | None = None,
    planned: Callable[[Sequence[VisitNeed]], int] | None = None,
    solved: Solved | None = None,
    bounded: Callable[[Sequence[VisitNeed], int], Bound] | None = None,
    hold: Hold = "plan",
    clock: Callable[[int], str | None] | None = None,
) -> WindowSize:
    """Size the window of judges who rotate over the wagons, one judge at a wagon at a time.

    Parameters
    ----------
    visits
        Shape ``(n_visits,)``.
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min]; row 0 is the gate.
    available_minutes
        Length of the window [min].
    spot
        Row of ``walk`` for each entry; without it the i-th entry camps at row i.
    crew_reset_minutes
        The crew's time between two visits at its wagon [min].
    starts_at
        Opening of the window, for the advice to start earlier.
    names
        Words for judges and entries.
    planned
        Gives the length of a rotation of some visits [min], `rotation.planned_minutes` for one.
        Without it only bounds are compared, ``certain`` is False and the advice says "at least".
    solved, hold, clock
        As in `walking_panel`; ``solved`` takes the place of ``planned``.
    bounded
        Gives the bound of some visits with pauses and breaks; `rotation_bound` without them.

    Returns
    -------
    WindowSize
        Without ``order``: each judge has a round of their own.

    Raises
    ------
    ValueError
        For no visit or a wrong walking table.

    Notes
    -----
    The bound is `rotation_bound`. One more judge shares the round of whoever is the bottleneck.
    "Fewer wagons" leaves out the end of the walk, or the slowest wagons when a wagon is the limit.

    Source
    ------
    As `rotation_bound`.

    Example
    -------
    >>> size = rotating(
    ...     visits=[VisitNeed(w, j, m) for w in (1, 2, 3) for j, m in (("gear", 9), ("fire", 4))],
    ...     walk=((0, 1, 2, 3), (1, 0, 1, 2), (2, 1, 0, 1), (3, 2, 1, 0)),
    ...     available_minutes=25)
    >>> size.certain, size.needed_minutes, size.short_by
    (False, 30, 5)
    >>> size.bottleneck
    'gear: 3 visits x 9 + 3 walking = 30 minutes; none can be shorter.'
    >>> [way.sentence for way in size.ways_out if way.change == "judges"]
    ['1 more judge (1 beside gear): at least 20 minutes, fits by the bound; gear sets the pace.']
    """
    case = RotatingCase(
        walk=walk,
        spot=_spots(visits, spot),
        available=available_minutes,
        starts_at=starts_at,
        names=names or {},
        certain=planned is not None or solved is not None,
        solved=solved,
        hold=hold,
        clock=clock,
        reset=crew_reset_minutes,
        planned=planned,
        bounded=bounded,
    )
    bound = case.bound(visits)
    length = Length(planned(visits) if planned else bound.minutes)
    if solved is not None:
        length = solved(visits, 0)
    size = WindowSize(
        needed_minutes=length.plan,
        bound_minutes=bound.minutes,
        available_minutes=available_minutes,
        certain=case.certain,
        bottleneck=bound.sentence,
        likely_minutes=length.likely,
        hold=hold,
    )
    if size.fits:
        return size
    ways = (
        start_way(case, visits, size.short_by),
        cut_way(case, visits),
        judges_way(case, visits),
        wagons_way(case, visits, case.leave_out_first(visits, bound)),
    )
    return replace(size, ways_out=tuple(way for way in ways if way))


def _check_panel(visits: Sequence[VisitNeed]) -> None:
    if not visits:
        raise ValueError("there is no visit to plan")
    if len({need.entry for need in visits}) != len(visits):
        raise ValueError("a walking panel visits each entry once")
    if len({need.judge for need in visits}) != 1:
        raise ValueError("a walking panel is one party; use rotating for several")


def _spots(visits: Sequence[VisitNeed], spot: Spots | None) -> Spots:
    if spot is not None:
        return spot
    return {e: i for i, e in enumerate(dict.fromkeys(need.entry for need in visits), start=1)}


def _spare(size: WindowSize) -> str:
    spare = size.available_minutes - size.held_minutes
    if size.certain:
        return f"enough, {spare} to spare"
    return f"enough by the bound, {spare} to spare; only a drawn rotation is sure"
