"""When a judge was at which wagon, from the touches on the phone; nobody taps start or stop."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

Entry = TypeVar("Entry", bound=Hashable)


@dataclass(frozen=True)
class Touches:
    """What one judge's phones told of one wagon.

    Parameters
    ----------
    opened
        When the card was opened, any number of times and in any order.
    first, last
        The first and the last touch on the card: a mark, a remark, a concern, another rig.
    handed_in
        When the card was handed in.
    """

    opened: tuple[datetime, ...] = ()
    first: datetime | None = None
    last: datetime | None = None
    handed_in: datetime | None = None


@dataclass(frozen=True)
class Stay:
    """When a judge came to a wagon and went; None: is there still."""

    began_at: datetime
    ended_at: datetime | None


def stays(touches: Mapping[Entry, Touches], *, opens_at: datetime) -> dict[Entry, Stay]:
    """Say when one judge came to each wagon and when the judge went.

    Parameters
    ----------
    touches
        What the judge's phones told, by wagon.
    opens_at
        Opening of the window: nobody is at a wagon before it.

    Returns
    -------
    dict
        By wagon, those the judge came to; at most one of them is not ended.

    Notes
    -----
    A visit begins when the card was opened for the last time before its first touch; without
    that, at the first touch. A card that was opened and left without a touch for another one
    was only looked at. A visit ends when the card is handed in. A judge who hands in later is
    gone from a wagon when the next one begins, or at the last touch where that was earlier.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> def at(minute):
    ...     return datetime(2027, 5, 15, 8, minute)
    >>> found = stays(
    ...     {
    ...         "looked at": Touches(opened=(at(1),)),
    ...         "first": Touches(opened=(at(2),), first=at(3), last=at(8), handed_in=at(9)),
    ...         "second": Touches(opened=(at(11),)),
    ...     },
    ...     opens_at=at(0),
    ... )
    >>> {wagon: (s.began_at.minute, s.ended_at and s.ended_at.minute) for wagon, s in found.items()}
    {'first': (2, 9), 'second': (11, None)}
    """
    latest = max((moment for told in touches.values() for moment in _all(told)), default=opens_at)
    began: dict[Entry, datetime] = {}
    for entry, told in touches.items():
        moment = _begin(told, latest)
        if moment is not None and (told.first or told.handed_in or moment >= opens_at):
            began[entry] = max(moment, opens_at)
    order = sorted(began, key=lambda entry: began[entry])
    found = {}
    for place, entry in enumerate(order):
        told = touches[entry]
        after = began[order[place + 1]] if place + 1 < len(order) else None
        found[entry] = Stay(began[entry], _end(told, began[entry], after))
    return found


def _all(told: Touches) -> Iterable[datetime]:
    yield from told.opened
    yield from (moment for moment in (told.first, told.last, told.handed_in) if moment)


def _begin(told: Touches, latest: datetime) -> datetime | None:
    """The last opening before the first touch; a card only opened counts if nothing came after."""
    touched = told.first or told.handed_in
    before = [moment for moment in told.opened if touched is None or moment <= touched]
    if touched is None:
        return max(before) if before and max(before) == latest else None
    return max(before, default=touched)


def _end(told: Touches, began: datetime, after: datetime | None) -> datetime | None:
    gone = told.handed_in
    if after is not None and (gone is None or gone > after):
        gone = min(told.last or after, after)
    return max(gone, began) if gone is not None else None
