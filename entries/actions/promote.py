"""Offer free places down the wait list; take an offer up, decline it, let it lapse."""

from __future__ import annotations

from datetime import datetime, time

from django.db import transaction
from django.db.models import QuerySet

from entries.actions.charge_entry import charge_entry
from entries.actions.move_entry import lock_entry, move_entry
from entries.models import Entry
from entries.queries.terms import terms_of
from entries.rules import offers
from entries.rules.places import Status
from showrun.errors import Gone, NotYet
from showrun.language import gettext as _
from showrun.language import in_english
from showrun.shows.models import Person, Show

DECLINED = "The exhibitor declined the offered place."


@transaction.atomic
def promote(
    *, show: Show, at: datetime, by: Person | None = None, passing: Entry | None = None
) -> list[Entry]:
    """Offer what is free to the first in line, if the show lets places be offered by themselves.

    `passing` is an entry whose place the office has just taken back: the place it lost goes to
    the next one, and it keeps its turn for the one after.
    """
    show = Show.objects.select_for_update().get(pk=show.pk)
    hours = terms_of(show).promotion_hours
    if hours is None:
        return []
    line = [entry for entry in _line(show) if passing is None or entry.pk != passing.pk]
    free = _free(show, len(line))
    deadline = _deadline(show, hours, at)
    if deadline is None:
        return []
    return [_offer(entry, deadline, by=by, at=at) for entry in line[:free]]


@transaction.atomic
def offer_next(*, show: Show, by: Person, at: datetime) -> Entry:
    """Offer one free place to the first in line by hand, whatever the show's terms say of hours."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    first = _line(show).first()
    if first is None:
        raise NotYet(_("Nobody waits."))
    if not _free(show, 1):
        raise NotYet(
            _("All {cap} places are taken; scratch an entry or raise the cap first.").format(
                cap=show.entry_cap
            )
        )
    hours = terms_of(show).promotion_hours or offers.BY_HAND_HOURS
    deadline = _deadline(show, hours, at)
    if deadline is None:
        raise NotYet(
            _("The show has begun; confirm the first in line instead of offering a place.")
        )
    return _offer(first, deadline, by=by, at=at)


@transaction.atomic
def take_up(*, entry: Entry, by: Person, at: datetime) -> Entry:
    """Take the offered place: the entry is in the show, and its fee is charged."""
    entry = lock_entry(entry)
    _demand_answerable(entry, at)
    entry = move_entry(entry, Status.ENTERED, by=by, at=at, reason="")
    charge_entry(entry=entry, by=by, at=at)
    return entry


@transaction.atomic
def decline(*, entry: Entry, by: Person, at: datetime) -> Entry:
    """Leave the offered place to the next in line; the entry leaves the list."""
    entry = lock_entry(entry)
    _demand_answerable(entry, at)
    entry = move_entry(entry, Status.SCRATCHED, by=by, at=at, reason=DECLINED)
    promote(show=entry.show, at=at)
    return entry


def lapse_due(*, at: datetime) -> list[Entry]:
    """Take back every offer nobody took up in time, and offer each place to the next in line."""
    offered = Entry.objects.filter(status=Status.OFFERED.value, take_up_by__lte=at - offers.GRACE)
    tried = [_lapse_one(entry, at) for entry in offered.order_by("take_up_by", "id")]
    return [entry for entry in tried if entry]


@transaction.atomic
def _lapse_one(entry: Entry, at: datetime) -> Entry | None:
    entry = lock_entry(entry)
    deadline = entry.take_up_by
    if entry.status != Status.OFFERED or deadline is None or not offers.lapses(deadline, at):
        return None  # somebody was quicker: taken up, declined, scratched
    with in_english():  # it is kept
        until = offers.deadline_words(deadline, entry.show.tz)
    reason = f"The offered place was not taken up by {until}."
    entry = move_entry(entry, Status.SCRATCHED, by=None, at=at, reason=reason)
    promote(show=entry.show, at=at)
    return entry


def _line(show: Show) -> QuerySet[Entry]:
    return Entry.objects.filter(show=show).waiting().select_related("show")


def _free(show: Show, waiting: int) -> int:
    held = Entry.objects.filter(show=show).holding_a_place().count()
    return offers.places_to_offer(cap=show.entry_cap, held=held, waiting=waiting)


def _deadline(show: Show, hours: int, at: datetime) -> datetime | None:
    starts_at = datetime.combine(show.starts_on, time(), tzinfo=show.tz)
    closes_at = terms_of(show).closes_at
    return offers.take_up_by(now=at, hours=hours, closes_at=closes_at, starts_at=starts_at)


def _offer(entry: Entry, deadline: datetime, *, by: Person | None, at: datetime) -> Entry:
    return move_entry(entry, Status.OFFERED, by=by, at=at, reason="", take_up_by=deadline)


def _demand_answerable(entry: Entry, at: datetime) -> None:
    against = offers.reason_against_answering(
        status=Status(entry.status), deadline=entry.take_up_by, now=at
    )
    if against is None:
        return
    if entry.status in (Status.OFFERED, Status.SCRATCHED):
        raise Gone(against, code="offer-gone")
    raise NotYet(against)
