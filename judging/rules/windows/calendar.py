"""Announced visits as an iCalendar feed that calendar programs subscribe to."""

from __future__ import annotations

import hashlib
import hmac
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

from icalendar import Calendar, Event, Timezone, TimezoneStandard
from icalendar.prop import vDuration, vText

PRODUCT = "-//showrun//timetable//EN"
READ_AGAIN = timedelta(minutes=15)
# RFC 5545, 3.3.11: a TEXT value holds no control characters but the tab (and the line break,
# which the library writes as \n). They come in by copying and would spoil the whole feed, as
# would the breaks beyond ASCII at which some programs part lines.
_NOT_TEXT = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


@dataclass(frozen=True)
class FeedVisit:
    """One announced visit, or one called off.

    Parameters
    ----------
    uid
        Stable for ever, see `visit_uid`.
    starts_at, ends_at, changed_at
        Instants that know their zone.
    sequence
        How often the announced times of this visit were changed.
    summary, place, description
        What the calendar shows; free text.
    called_off
        Whether it will not take place.
    """

    uid: str
    starts_at: datetime
    ends_at: datetime
    changed_at: datetime
    sequence: int
    summary: str
    place: str = ""
    description: str = ""
    called_off: bool = False


def visit_uid(key: bytes, show: str, judge: str, entry: str) -> str:
    """Name a visit so that every later feed names it the same, and no name tells the judge.

    Parameters
    ----------
    key : bytes
        A secret of the service. Without it the name would give the judge away to whoever
        tries the few codes a show has.
    show, judge, entry : str
        The show's short name, the judge's code and the entry's number: they never change.

    Returns
    -------
    str
        A UUID of version 8.

    Notes
    -----
    HMAC with SHA-256 over the three names, cut to 128 bits.

    Source
    ------
    RFC 5545, 3.8.4.7 (persistent, globally unique); RFC 7986, 5.3 (a UUID, no identifying
    data); RFC 9562, 5.8 (all from memory); the key is our own.

    Examples
    --------
    >>> visit_uid(b"k", "trail-days", "J1", "7")
    '841498e3-4b00-80a5-b973-01812eec3fe6'
    """
    # A length before each name: no two triples run together to the same text.
    text = "".join(f"{len(part)}:{part}" for part in (show, judge, entry))
    drawn = bytearray(hmac.digest(key, text.encode(), hashlib.sha256)[:16])
    drawn[6] = drawn[6] & 0x0F | 0x80
    drawn[8] = drawn[8] & 0x3F | 0x80
    return str(UUID(bytes=bytes(drawn)))


def feed(name: str, visits: Iterable[FeedVisit]) -> bytes:
    """Write visits as one iCalendar stream.

    Parameters
    ----------
    name : str
        What the calendar is called in the program.
    visits : iterable of FeedVisit
        In any order.

    Returns
    -------
    bytes
        UTF-8, lines ended by CR LF and folded at 75 octets. The same visits give the same bytes.

    Raises
    ------
    ValueError
        When a time knows no zone or a visit takes no time.

    Notes
    -----
    Times are written in UTC, so that no program has to know the show's zone. DTSTAMP is the
    time of the last change, as it is without METHOD. A stream must hold one component at
    least; without a visit that is the definition of UTC, which shows nothing.

    Source
    ------
    RFC 5545, 3.1, 3.4, 3.6.1, 3.8.1.11, 3.8.7.2 to 3.8.7.4; RFC 7986, 5.1 and 5.7 (sections
    from memory).

    Examples
    --------
    >>> at = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)
    >>> told = FeedVisit("u1", at, at + timedelta(minutes=12), at, 0, "Judge visit")
    >>> b"DTSTART:20270515T140000Z" in feed("Wagon 7", [told])
    True
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", _text(name))
    calendar.add("x-wr-calname", _text(name))
    calendar.add("refresh-interval", vDuration(READ_AGAIN), parameters={"VALUE": "DURATION"})
    calendar.add("x-published-ttl", vDuration(READ_AGAIN))
    for visit in sorted(visits, key=lambda one: (one.starts_at, one.uid)):
        calendar.add_component(_event(visit))
    if not calendar.subcomponents:
        calendar.add_component(_utc())
    return bytes(calendar.to_ical())


def _event(visit: FeedVisit) -> Event:
    times = (visit.starts_at, visit.ends_at, visit.changed_at)
    if any(time.utcoffset() is None for time in times):
        raise ValueError("an announced time has no zone")
    if visit.ends_at <= visit.starts_at:
        raise ValueError("a visit takes no time")
    event = Event()
    event.add("uid", visit.uid)
    event.add("dtstamp", visit.changed_at.astimezone(UTC))
    event.add("last-modified", visit.changed_at.astimezone(UTC))
    event.add("dtstart", visit.starts_at.astimezone(UTC))
    event.add("dtend", visit.ends_at.astimezone(UTC))
    event.add("sequence", visit.sequence)
    event.add("status", "CANCELLED" if visit.called_off else "CONFIRMED")
    event.add("summary", _text(visit.summary))
    if visit.place:
        event.add("location", _text(visit.place))
    if visit.description:
        event.add("description", _text(visit.description))
    return event


def _utc() -> Timezone:
    zone, standard = Timezone(), TimezoneStandard()
    zone.add("tzid", "Etc/UTC")
    standard.add("dtstart", datetime(1970, 1, 1))  # local by RFC 5545, 3.6.5
    standard.add("tzoffsetfrom", timedelta(0))
    standard.add("tzoffsetto", timedelta(0))
    zone.add_component(standard)
    return zone


def _text(words: str) -> vText:
    """Take what cannot stand in a line out; the library escapes and folds the rest."""
    return vText(_NOT_TEXT.sub(" ", words.replace("\r\n", "\n").replace("\r", "\n")))
