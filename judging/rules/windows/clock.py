"""Minutes of a window and the show's own clock: midnight and clock changes included."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from math import ceil, floor
from zoneinfo import ZoneInfo

__all__ = ["break_span", "minutes_away", "said_at"]


def minutes_away(
    opens_at: datetime, starts_at: datetime, ends_at: datetime
) -> tuple[int, int] | None:
    """Give a pause as whole minutes from the opening of the window.

    Parameters
    ----------
    opens_at, starts_at, ends_at
        Instants with a zone.

    Returns
    -------
    tuple of int or None
        First minute and the minute after the last [min], outward to whole minutes and cut off at
        the opening; None when all of it lies before.

    Notes
    -----
    Real minutes: a window over a clock change has as many as have passed, whatever the wall says.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> from datetime import UTC
    >>> eight = datetime(2027, 5, 15, 8, tzinfo=UTC)
    >>> minutes_away(eight, eight - timedelta(minutes=10), eight + timedelta(seconds=610))
    (0, 11)
    """
    first = floor((starts_at - opens_at).total_seconds() / 60)
    end = ceil((ends_at - opens_at).total_seconds() / 60)
    return (max(0, first), end) if end > 0 else None


def break_span(
    opens_at: datetime,
    available_minutes: int,
    begins: time | None,
    ends: time | None,
    zone: ZoneInfo,
) -> tuple[int, int] | None:
    """Place the hours in which judges rest into the window.

    Parameters
    ----------
    opens_at
        Opening of the window, with a zone.
    available_minutes
        Length of the window [min].
    begins, ends
        Between which times on the show's clock; None for the opening and the close.
    zone
        The show's zone.

    Returns
    -------
    tuple of int or None
        First minute and the minute after the last [min from the opening], cut off at the opening;
        None when the hours lie wholly outside the window.

    Notes
    -----
    The hours are those of the opening's day, or of the next one when the window crosses midnight
    and the hours come after it.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> denver = ZoneInfo("America/Denver")
    >>> opens = datetime(2027, 5, 15, 22, tzinfo=denver)
    >>> break_span(opens, 300, time(0, 30), time(1, 30), denver)
    (150, 210)
    """
    opens = opens_at.astimezone(zone)
    for days in (0, 1):
        day = opens.date() + timedelta(days=days)
        first = datetime.combine(day, begins, tzinfo=zone) if begins else opens
        last = opens_at + timedelta(minutes=available_minutes)
        if ends:
            last = datetime.combine(day, ends, tzinfo=zone)
            if begins and ends <= begins:
                last = datetime.combine(day + timedelta(days=1), ends, tzinfo=zone)
            elif not begins and last.astimezone(UTC) <= opens_at.astimezone(UTC):
                continue
        elif begins and days == 0 and _is_inside(first + timedelta(days=1), opens_at, last):
            continue  # the window reaches that hour of the next day
        span = minutes_away(opens_at.astimezone(UTC), first.astimezone(UTC), last.astimezone(UTC))
        if span and span[0] < min(span[1], available_minutes):
            return span
    return None


def _is_inside(at: datetime, opens_at: datetime, closes_at: datetime) -> bool:
    return opens_at.astimezone(UTC) < at.astimezone(UTC) < closes_at.astimezone(UTC)


def said_at(opens_at: datetime, minute: int, zone: ZoneInfo) -> str:
    """Say a minute of the window as the time on the wall.

    Parameters
    ----------
    opens_at
        Opening of the window, with a zone.
    minute
        [min] from the opening; below zero before it.
    zone
        The show's zone.

    Returns
    -------
    str
        Hours and minutes, and the day where it is not the opening's.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> denver = ZoneInfo("America/Denver")
    >>> opens = datetime(2027, 3, 14, 1, 30, tzinfo=denver)
    >>> said_at(opens, 60, denver), said_at(opens, -120, denver)
    ('03:30', '23:30 on Sat 13 Mar')
    """
    at = (opens_at.astimezone(UTC) + timedelta(minutes=minute)).astimezone(zone)
    if at.date() == opens_at.astimezone(zone).date():
        return f"{at:%H:%M}"
    return f"{at:%H:%M} on {at:%a} {at.day} {at:%b}"
