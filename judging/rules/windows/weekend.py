"""Whether the classes fit into the days of a show, judged one after another by daylight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from showrun.language import gettext as _
from showrun.language import listed, ngettext

__all__ = ["ClassNeed", "DayRoom", "Weekend", "weekend"]


@dataclass(frozen=True)
class ClassNeed:
    """What one class takes by itself.

    Parameters
    ----------
    name
        For the show office.
    minutes
        From the first walk to the last visit's end [min].
    """

    name: str
    minutes: int


@dataclass(frozen=True)
class DayRoom:
    """A day's light.

    Parameters
    ----------
    name
        Such as "Saturday".
    first, last
        Sunrise and sunset, on the show's clock.
    """

    name: str
    first: datetime
    last: datetime


@dataclass(frozen=True)
class ClassPlace:
    """Where a class finds room.

    Parameters
    ----------
    need
        The class.
    day
        Index of the day it is judged on; None when no day has room left.
    starts_at, ends_at
        When, one class after the other.
    latest
        For each day, the latest start that still ends by the margin before sunset; None where the
        class is longer than that day.
    """

    need: ClassNeed
    day: int | None
    starts_at: datetime | None
    ends_at: datetime | None
    latest: tuple[datetime | None, ...]


@dataclass(frozen=True)
class Weekend:
    """The classes over the days.

    Parameters
    ----------
    places
        By class, in the order given.
    room_minutes
        Light of each day, less the margins [min].
    left_minutes
        What is left of it [min].
    needed_minutes
        Sum over the classes [min].
    sentences
        The answer in words.
    """

    places: tuple[ClassPlace, ...]
    room_minutes: tuple[int, ...]
    left_minutes: tuple[int, ...]
    needed_minutes: int
    sentences: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether every class found a day."""
        return all(place.day is not None for place in self.places)


def weekend(
    needs: Sequence[ClassNeed], days: Sequence[DayRoom], *, margin_minutes: int = 30
) -> Weekend:
    """Lay the classes over the days, in the order given, each on the first day with room for it.

    Parameters
    ----------
    needs
        Shape ``(n_classes,)``.
    days
        Shape ``(n_days,)``, by date.
    margin_minutes
        Kept free after sunrise and before sunset [min].

    Returns
    -------
    Weekend
        Where each class goes and what is left of each day.

    Raises
    ------
    ValueError
        For a negative margin, a class of no time, or a day that ends before it begins.

    Notes
    -----
    A class is not split over two days, and two classes are not judged at the same time: the same
    judges look at both. The order given is kept within a day; a later, shorter class may fill an
    earlier day.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> from datetime import UTC
    >>> sat, sun = (DayRoom(name, datetime(2027, 5, d, 6, tzinfo=UTC),
    ...             datetime(2027, 5, d, 16, tzinfo=UTC)) for name, d in (("Sat", 15), ("Sun", 16)))
    >>> plan = weekend([ClassNeed("Trail", 400), ClassNeed("Harness", 200)], [sat, sun])
    >>> for line in plan.sentences:
    ...     print(line)
    The classes need 10 h in all; the 2 days have 18 h of daylight less 30 minutes at each end.
    Sat has room for Trail; 140 minutes are left, too few for Harness.
    Sun has room for Harness; 340 minutes are left.
    """
    if margin_minutes < 0:
        raise ValueError("a margin is not below zero")
    if any(need.minutes < 1 for need in needs):
        raise ValueError("a class takes at least a minute")
    if any(day.last <= day.first for day in days):
        raise ValueError("a day ends after it begins")
    margin = timedelta(minutes=margin_minutes)
    opens = [_up(day.first.astimezone(UTC) + margin) for day in days]
    closes = [day.last.astimezone(UTC) - margin for day in days]
    room = [_whole(close - start) for start, close in zip(opens, closes, strict=True)]
    left = list(room)
    free = list(opens)
    places = []
    for need in needs:
        at = next((d for d, minutes in enumerate(left) if minutes >= need.minutes), None)
        starts = ends = None
        if at is not None:
            starts = free[at]
            ends = free[at] = starts + timedelta(minutes=need.minutes)
            left[at] -= need.minutes
        latest = tuple(
            _latest(close, need.minutes, start) for start, close in zip(opens, closes, strict=True)
        )
        places.append(ClassPlace(need, at, starts, ends, latest))
    total = sum(need.minutes for need in needs)
    lines = _sentences(places, days, room, left, total, margin_minutes)
    return Weekend(tuple(places), tuple(room), tuple(left), total, lines)


def _latest(close: datetime, minutes: int, opens: datetime) -> datetime | None:
    latest = (close - timedelta(minutes=minutes)).replace(second=0, microsecond=0)
    return latest if latest >= opens else None


def _sentences(
    places: Sequence[ClassPlace],
    days: Sequence[DayRoom],
    room: Sequence[int],
    left: Sequence[int],
    total: int,
    margin: int,
) -> tuple[str, ...]:
    if not places or not days:
        return (_("There is nothing to lay over the days yet."),)
    lines = [
        ngettext(
            "The classes need {needed} in all; the day has {room} of daylight less {margin} "
            "minutes at each end.",
            "The classes need {needed} in all; the {n} days have {room} of daylight less "
            "{margin} minutes at each end.",
            len(days),
        ).format(needed=_hours(total), n=len(days), room=_hours(sum(room)), margin=margin)
    ]
    for d, day in enumerate(days):
        here = [place.need.name for place in places if place.day == d]
        later = [p.need.name for p in places if p.day is None or p.day > d]
        if not here:
            said = _("{day} is free; {minutes} minutes are left.")
        elif later:
            said = _(
                "{day} has room for {classes}; {minutes} minutes are left, too few for {later}."
            )
        else:
            said = _("{day} has room for {classes}; {minutes} minutes are left.")
        lines.append(
            said.format(day=day.name, classes=listed(here), minutes=left[d], later=listed(later))
        )
    out = [place.need for place in places if place.day is None]
    if out:
        lines.append(
            _("No day has room for {classes}: {span} too much.").format(
                classes=listed([need.name for need in out]),
                span=_hours(sum(need.minutes for need in out)),
            )
        )
    return tuple(lines)


def _hours(minutes: int) -> str:
    hours, rest = divmod(minutes, 60)
    words = [_("{hours} h").format(hours=hours)] if hours else []
    if rest or not hours:
        words.append(_("{minutes} min").format(minutes=rest))
    return " ".join(words)


def _whole(span: timedelta) -> int:
    return max(0, int(span.total_seconds() // 60))


def _up(at: datetime) -> datetime:
    """The next whole minute."""
    whole = at.replace(second=0, microsecond=0)
    return whole if whole == at else whole + timedelta(minutes=1)
