"""Hours as people type them: those the clock on the wall never shows."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from showrun.language import gettext as _


def is_skipped(local: datetime, zone: ZoneInfo) -> bool:
    """Say whether a time on the wall never comes, because the clocks jump over it.

    Parameters
    ----------
    local
        Date and time as they would stand on the wall, without a zone.
    zone
        The show's zone.

    Returns
    -------
    bool
        True for a time inside the hour that is left out in spring.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> denver = ZoneInfo("America/Denver")
    >>> is_skipped(datetime(2027, 3, 14, 2, 30), denver)
    True
    >>> is_skipped(datetime(2027, 3, 14, 3, 30), denver)
    False
    """
    there = local.replace(tzinfo=zone).astimezone(UTC)
    return there.astimezone(zone).replace(tzinfo=None) != local


def reason_against_hour(typed: datetime) -> str | None:
    """Say why an hour somebody typed never comes; None when it does.

    Parameters
    ----------
    typed
        Date and time in the show's zone; in a zone without clock changes every hour comes.

    Source
    ------
    As `is_skipped`.

    Example
    -------
    >>> reason_against_hour(datetime(2027, 3, 14, 2, 30, tzinfo=ZoneInfo("America/Denver")))
    'There is no 02:30 on that day: the clocks jump over it.'
    """
    wall = typed.replace(tzinfo=None)
    if isinstance(typed.tzinfo, ZoneInfo) and is_skipped(wall, typed.tzinfo):
        return _("There is no {time:%H:%M} on that day: the clocks jump over it.").format(time=wall)
    return None
