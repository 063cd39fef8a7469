"""When the sun is up on the ground, and what that means for a window."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from astral import Observer, sun

from showrun.language import gettext as _
from showrun.language import ngettext

Kind = Literal["usual", "polar day", "polar night"]


@dataclass(frozen=True)
class Daylight:
    """The sun on one day at one place, on the show's clock.

    Parameters
    ----------
    kind
        Whether the sun rises and sets, stays up, or stays down.
    dawn, dusk
        Civil: the sun is 6 degrees below the horizon; None where it never is.
    sunrise, sunset
        None where the sun does neither.
    sentence
        The same in words.
    """

    kind: Kind
    dawn: datetime | None
    sunrise: datetime | None
    sunset: datetime | None
    dusk: datetime | None
    sentence: str


def daylight(latitude: float, longitude: float, day: date, zone: ZoneInfo) -> Daylight:
    """Say when the sun is up.

    Parameters
    ----------
    latitude, longitude : float [degrees]
        North and east are above zero.
    day
        Date on the show's clock.
    zone
        The show's zone.

    Returns
    -------
    Daylight
        Times to the minute; hills and weather are not known.

    Raises
    ------
    ValueError
        For a place that is not on the globe.

    Notes
    -----
    Sunrise and sunset: the sun's upper edge on a level horizon, refraction included.

    Source
    ------
    The equations of Meeus, Astronomical Algorithms, as the library astral has them.

    Example
    -------
    >>> daylight(51.48, 0.0, date(2024, 6, 21), ZoneInfo("Europe/London")).sentence
    'Sunrise 04:43, sunset 21:21; light enough to work by from 03:55 to 22:09.'
    >>> daylight(69.65, 18.96, date(2027, 12, 21), ZoneInfo("Europe/Oslo")).kind
    'polar night'
    """
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise ValueError("latitude is between -90 and 90 degrees, longitude between -180 and 180")
    there = Observer(latitude, longitude)
    dawn, rise, set_, dusk = (
        _when(event, there, day, zone) for event in (sun.dawn, sun.sunrise, sun.sunset, sun.dusk)
    )
    if rise is None or set_ is None:
        noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC) - timedelta(
            hours=longitude / 15
        )
        up = sun.elevation(there, noon) > 0
        words = _("The sun does not set on this day.") if up else _night(dawn, dusk)
        return Daylight("polar day" if up else "polar night", dawn, rise, set_, dusk, words)
    if dawn and dusk:
        words = _(
            "Sunrise {rise:%H:%M}, sunset {set:%H:%M}; light enough to work by from {dawn:%H:%M} "
            "to {dusk:%H:%M}."
        ).format(rise=rise, set=set_, dawn=dawn, dusk=dusk)
    else:
        words = _(
            "Sunrise {rise:%H:%M}, sunset {set:%H:%M}; the night between does not get dark."
        ).format(rise=rise, set=set_)
    return Daylight("usual", dawn, rise, set_, dusk, words)


def _when(
    event: Callable[..., datetime], there: Observer, day: date, zone: ZoneInfo
) -> datetime | None:
    try:
        at = event(there, date=day, tzinfo=zone).astimezone(UTC) + timedelta(seconds=30)
    except ValueError:
        return None
    return at.replace(second=0, microsecond=0).astimezone(zone)


def _night(dawn: datetime | None, dusk: datetime | None) -> str:
    if dawn and dusk:
        return _(
            "The sun does not rise on this day; there is twilight from {dawn:%H:%M} to "
            "{dusk:%H:%M}."
        ).format(dawn=dawn, dusk=dusk)
    return _("The sun does not rise on this day, and there is no twilight to work by.")


def advice(
    light: Daylight, opens_at: datetime, needed_minutes: int, zone: ZoneInfo
) -> tuple[str, ...]:
    """Say whether the judging lies in daylight, and when it has to begin.

    Parameters
    ----------
    light
        The sun on the day the window opens.
    opens_at
        Opening of the window, with a zone.
    needed_minutes
        How long the judging takes [min].
    zone
        The show's zone.

    Returns
    -------
    tuple of str
        Sentences; the first says whether it lies in daylight.

    Raises
    ------
    ValueError
        For less than no time.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> london = ZoneInfo("Europe/London")
    >>> light = daylight(51.48, 0.0, date(2024, 12, 21), london)
    >>> for line in advice(light, datetime(2024, 12, 21, 13, tzinfo=london), 200, london):
    ...     print(line)
    The judging ends at 16:20, 27 minutes after sunset.
    To end by sunset it starts at 12:33 at the latest.
    """
    if needed_minutes < 0:
        raise ValueError("judging does not take less than no time")
    if light.kind == "polar day":
        return (_("The judging lies in daylight, whenever it starts."),)
    if light.sunrise is None or light.sunset is None:
        return (_("There is no daylight to judge by; light the camps."),)
    opens = opens_at.astimezone(UTC)
    ends = opens + timedelta(minutes=needed_minutes)
    rise, set_ = light.sunrise.astimezone(UTC), light.sunset.astimezone(UTC)
    lines = []
    if opens < rise:
        early = _minutes(rise - opens)
        dark = _("The window opens {minutes} before sunrise, in the dark or in twilight.")
        lines.append(dark.format(minutes=early))
    if ends > set_:
        late, at = _minutes(ends - set_), _said(ends, opens, zone)
        dusk = _("The judging ends at {time}, {minutes} after sunset.")
        lines.append(dusk.format(time=at, minutes=late))
    if not lines:
        lines.append(_("The judging lies in daylight."))
    latest = set_ - timedelta(minutes=needed_minutes)
    if latest < rise:
        lines.append(_("It does not fit between sunrise and sunset of one day."))
    else:
        floor = latest.replace(second=0, microsecond=0)
        start = _("To end by sunset it starts at {time} at the latest.")
        lines.append(start.format(time=_said(floor, opens, zone)))
    return tuple(lines)


def _minutes(span: timedelta) -> str:
    minutes = -(-int(span.total_seconds()) // 60)
    return ngettext("{n} minute", "{n} minutes", minutes).format(n=minutes)


def _said(at: datetime, opens: datetime, zone: ZoneInfo) -> str:
    there = at.astimezone(zone)
    if there.date() == opens.astimezone(zone).date():
        return f"{there:%H:%M}"
    return f"{there:%H:%M} on {there:%a} {there.day} {there:%b}"
