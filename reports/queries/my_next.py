"""What comes next for an entry, read from all storeys."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from entries.models import Entry
from entries.queries.entries import place_in_line
from entries.queries.lacking import lacking_of
from entries.queries.ledger import balance_of
from entries.rules.offers import deadline_words, ran_out
from entries.rules.places import Status
from entries.rules.terms_words import said_at
from judging.models import Placing
from judging.queries.results import released_placings
from reports.queries.my_visits import VisitLine, visit_lines
from reports.rules.award import place_words
from reports.rules.next_step import Stand, Step, next_steps
from showrun.language import clock
from showrun.language import gettext as _


def steps_of(
    entry: Entry,
    at: datetime,
    *,
    visits: Sequence[VisitLine],
    places: Sequence[str],
    unreleased: int,
) -> tuple[Step, ...]:
    """Return what its exhibitor does next, the most pressing first."""
    status, here = Status(entry.status), at.astimezone(entry.show.tz)
    coming = next((visit for visit in visits if visit.ends_at > at), None)
    until = entry.take_up_by
    today = coming is not None and _day(coming, entry) == here.date()
    return next_steps(
        Stand(
            status=status,
            in_line=place_in_line(entry),
            offered_until=deadline_words(until, entry.show.tz)
            if until and not ran_out(until, at)
            else "",
            lacks=tuple((lack.what, lack.where) for lack in lacking_of(entry)),
            owed=balance_of(entry),
            visit=_visit_said(coming, entry, today=today) if coming else "",
            visit_today=today,
            judged=coming is None and (bool(visits) or entry.show.ends_on < here.date()),
            places=tuple(places),
            unreleased=unreleased,
        )
    )


def first_step_of(entry: Entry, at: datetime) -> Step:
    """Return the first of these steps, for a list of several entries."""
    placings = released_placings(entry)
    placings.sort(key=lambda one: (one.result.show_class.position, one.result.show_class.code))
    there = Placing.objects.filter(result__in=[placing.result_id for placing in placings])
    pairs = list(there.values_list("result", "place"))
    places = [
        in_words(placing, pairs.count((placing.result_id, placing.place))) for placing in placings
    ]
    visits = visit_lines(entry)[0] if entry.status == Status.CONFIRMED else []
    unreleased = entry.classes.count() - len(placings)
    return steps_of(entry, at, visits=visits, places=places, unreleased=unreleased)[0]


def in_words(placing: Placing, sharing: int) -> str:
    """Say what came of a class."""
    return _("{place} in {show_class}").format(
        place=place_words(placing.place, sharing), show_class=placing.result.show_class.name
    )


def _day(visit: VisitLine, entry: Entry) -> object:
    return visit.starts_at.astimezone(entry.show.tz).date()


def _visit_said(visit: VisitLine, entry: Entry, *, today: bool) -> str:
    here = visit.starts_at.astimezone(entry.show.tz)
    if today:
        when = _("today at {time}").format(time=clock(here))
    else:
        when = _("on {moment}").format(moment=said_at(here))
    if not visit.sections:
        return when
    return _("{when} to look at {sections}").format(when=when, sections=visit.sections)
