"""A show's terms of entering in plain words, for whoever thinks of coming."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from entries.rules.eligibility import CREW_MAX, CREW_MIN
from entries.rules.refunds import Step
from showrun.language import clock, month, ngettext, weekday
from showrun.language import gettext as _


@dataclass(frozen=True)
class Asked:
    """What a show asks of those who enter; days are None where it asks for no such paper.

    Attributes
    ----------
    waiver, animals, emergency, camp : bool
    eia_max_age, certificate_max_age : int or None [days]
    animal_note : str
        In the show's own words.
    crew_frozen : str
        When the crew's list closes, as it is said.
    """

    waiver: bool = False
    animals: bool = False
    emergency: bool = False
    camp: bool = False
    eia_max_age: int | None = None
    certificate_max_age: int | None = None
    animal_note: str = ""
    crew_frozen: str = ""


def said_on(day: date) -> str:
    """Write a day as it is read out.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> said_on(date(2027, 5, 14))
    'Friday, May 14, 2027'
    """
    return _("{weekday}, {month} {day}, {year}").format(
        weekday=weekday(day), month=month(day), day=day.day, year=day.year
    )


def said_at(at: datetime) -> str:
    """Write an hour of a day; `at` is by the clock it shall be read on.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> said_at(datetime(2027, 5, 14, 17, 5))
    'Friday, May 14, 2027, 5:05 PM'
    """
    return _("{day}, {time}").format(day=said_on(at.date()), time=clock(at))


def entering_words(
    opens_at: datetime | None, closes_at: datetime | None, *, starts_on: date, zone: ZoneInfo
) -> str:
    """Say from when to when a show takes entries.

    Parameters
    ----------
    opens_at, closes_at : datetime or None
        None where the show has set none.
    starts_on : date
        The show's first day, on which it takes no more entries whatever was set.
    zone : ZoneInfo
        The show's own clock.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> from datetime import UTC
    >>> denver, first_day = ZoneInfo("America/Denver"), date(2027, 5, 14)
    >>> entering_words(None, None, starts_on=first_day, zone=denver)
    'Until the show begins on Friday, May 14, 2027.'
    >>> entering_words(datetime(2027, 1, 4, 16, tzinfo=UTC), None, starts_on=first_day, zone=denver)
    'From Monday, January 4, 2027, 9:00 AM until the show begins on Friday, May 14, 2027.'
    """
    opens = said_at(opens_at.astimezone(zone)) if opens_at else ""
    if closes_at is None:
        begins = said_on(starts_on)
        if opens:
            words = _("From {opens} until the show begins on {begins}.")
            return words.format(opens=opens, begins=begins)
        return _("Until the show begins on {begins}.").format(begins=begins)
    closes = said_at(closes_at.astimezone(zone))
    if opens:
        return _("From {opens} until {closes}.").format(opens=opens, closes=closes)
    return _("Until {closes}.").format(closes=closes)


def refund_words(steps: Sequence[Step]) -> tuple[str, ...]:
    """Say how much of the fee comes back, by the day of withdrawing.

    Parameters
    ----------
    steps : sequence of Step
        In the order of their dates.

    Returns
    -------
    tuple of str
        Nothing where the show has set no steps.

    Source
    ------
    Common practice, no source: stated before anybody enters, less the later it is.

    Examples
    --------
    >>> for line in refund_words([Step(date(2027, 4, 14), 100), Step(date(2027, 4, 30), 50)]):
    ...     print(line)
    Withdrawn up to Wednesday, April 14, 2027: the whole fee comes back.
    Withdrawn up to Friday, April 30, 2027: 50 percent of the fee comes back.
    Withdrawn later: none of the fee comes back.
    """
    if not steps:
        return ()
    lines = [
        _returned(step.share_percent).format(day=said_on(step.until), percent=step.share_percent)
        for step in steps
    ]
    return (*lines, _("Withdrawn later: none of the fee comes back."))


def _returned(percent: int) -> str:
    if percent == 100:
        return _("Withdrawn up to {day}: the whole fee comes back.")
    if percent:
        return _("Withdrawn up to {day}: {percent} percent of the fee comes back.")
    return _("Withdrawn up to {day}: none of the fee comes back.")


def places_words(*, cap: int, left: int, waiting: int) -> str:
    """Say how many wagons may still come at once, and how many wait.

    Parameters
    ----------
    cap, left, waiting : int
        Places there are, those nobody has or waits for, entries on the wait list.

    Source
    ------
    Common practice, no source: ordered wait list.

    Examples
    --------
    >>> places_words(cap=15, left=4, waiting=0)
    '4 of 15 left.'
    >>> places_words(cap=15, left=0, waiting=2)
    'All 15 taken; new entries go to the wait list, in order. 2 wagons wait.'
    """
    if left:
        return _("{left} of {cap} left.").format(left=left, cap=cap)
    said = _("All {cap} taken; new entries go to the wait list, in order.").format(cap=cap)
    if not waiting:
        return said + " " + _("Nobody waits yet.")
    wait = ngettext("{n} wagon waits.", "{n} wagons wait.", waiting).format(n=waiting)
    return f"{said} {wait}"


def asked_words(asked: Asked) -> tuple[str, ...]:
    """Say what an exhibitor must bring or say, one plain sentence a matter.

    Notes
    -----
    The dates on papers are what the show asks to see; they say nothing of an animal's health.

    Source
    ------
    That shows ask for an EIA test and a certificate, each of a greatest age: 4 Texas Admin.
    Code 51.13; Maryland fair and show requirements (club copy), 2025. The rest: common practice,
    no source.

    Examples
    --------
    >>> for line in asked_words(Asked(animals=True, eia_max_age=365, emergency=True)):
    ...     print(line)
    A crew of 2 to 6 people, each by name, with one head cook.
    Each animal by name.
    For each horse or mule the date of its EIA test, at most 365 days before the show's first day.
    Somebody to call in an emergency, with a telephone number.
    """
    crew = _("A crew of {fewest} to {most} people, each by name, with one head cook.").format(
        fewest=CREW_MIN, most=CREW_MAX
    )
    if asked.crew_frozen:
        crew += " " + _("The list closes on {when}.").format(when=asked.crew_frozen)
    lines = [crew]
    if asked.animals:
        lines.append(_("Each animal by name."))
    if asked.eia_max_age is not None:
        eia = ngettext(
            "For each horse or mule the date of its EIA test, at most {n} day before the show's "
            "first day.",
            "For each horse or mule the date of its EIA test, at most {n} days before the show's "
            "first day.",
            asked.eia_max_age,
        )
        lines.append(eia.format(n=asked.eia_max_age))
    if asked.certificate_max_age is not None:
        certificate = ngettext(
            "For each animal the date of its certificate of veterinary inspection, at most {n} "
            "day before the show's first day.",
            "For each animal the date of its certificate of veterinary inspection, at most {n} "
            "days before the show's first day.",
            asked.certificate_max_age,
        )
        lines.append(certificate.format(n=asked.certificate_max_age))
    if note := " ".join(asked.animal_note.split()):
        lines.append(note)
    if asked.camp:
        lines.append(_("The frontage and depth your camp needs, in feet."))
    if asked.emergency:
        lines.append(_("Somebody to call in an emergency, with a telephone number."))
    if asked.waiver:
        lines.append(_("Your agreement to the show's waiver, which stands below."))
    return tuple(lines)
