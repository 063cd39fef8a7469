"""What the office decides about an entry: confirm, put on the wait list, scratch."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.actions.charge_entry import charge_entry
from entries.actions.move_entry import lock_entry, move_entry
from entries.actions.promote import promote
from entries.models import CampSpot, Entry
from entries.queries.entries import free_spots
from entries.rules.numbering import next_number
from entries.rules.offers import ran_out
from entries.rules.places import HOLDS_A_PLACE, Status, reason_against_confirming
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person, Show


def _free_spot(entry: Entry, number: int) -> CampSpot:
    spot = free_spots(entry.show).filter(number=number).first()
    if spot is None:
        raise Conflict(
            _("Camp spot {number} is not free.").format(number=number),
            fields={"spot": _("Choose a free spot.")},
        )
    return spot


@transaction.atomic
def confirm_entry(
    *, entry: Entry, by: Person, at: datetime, spot_number: int | None = None
) -> Entry:
    """Give the entry its place, its number and a camp spot: the one asked for, or any free."""
    entry = lock_entry(entry)
    there = Entry.objects.filter(show=entry.show)
    against = reason_against_confirming(
        status=Status(entry.status),
        places_taken=there.holding_a_place().count(),
        cap=entry.show.entry_cap,
        ahead_in_line=there.waiting().filter(id__lt=entry.id).count(),
        offer_ran_out=entry.take_up_by is not None and ran_out(entry.take_up_by, at),
    )
    if against:
        raise NotYet(against)
    if entry.number is None:
        given = there.exclude(number=None).values_list("number", flat=True)
        entry.number = next_number(n for n in given if n is not None)
    if spot_number is not None:
        entry.spot = _free_spot(entry, spot_number)
    elif entry.spot is None:
        entry.spot = free_spots(entry.show).first()
    placed_now = entry.status != Status.ENTERED
    entry = move_entry(entry, Status.CONFIRMED, by=by, at=at, reason="")
    if placed_now:
        charge_entry(entry=entry, by=by, at=at)
    return entry


@transaction.atomic
def confirm_entered(*, show: Show, by: Person, at: datetime) -> list[Entry]:
    """Confirm all who entered and wait for the office, in the order they entered."""
    entered = Entry.objects.filter(show=show, status=Status.ENTERED.value).order_by("pk")
    if not entered:
        raise NotYet(_("No entry waits to be confirmed."))
    return [confirm_entry(entry=entry, by=by, at=at) for entry in entered]


def _reason(given: str) -> str:
    """Return a reason as it is kept, or refuse one too long."""
    reason = given.strip()
    if len(reason) > Entry.REASON_MAX:
        raise InvalidInput(
            _("The reason is longer than {most} letters.").format(most=Entry.REASON_MAX),
            fields={"reason": _("Shorter, please.")},
        )
    return reason


@transaction.atomic
def put_on_wait_list(*, entry: Entry, by: Person, at: datetime, reason: str = "") -> Entry:
    """Take the place back; the entry keeps its turn by the time it entered.

    The place it lost goes to the next in line, the one after that is its own again.
    """
    entry = lock_entry(entry)
    if Status(entry.status) not in HOLDS_A_PLACE:
        raise NotYet(
            _("This entry is {status}; only one with a place can be moved.").format(
                status=entry.status
            )
        )
    entry.spot = None
    entry = move_entry(entry, Status.WAITING, by=by, at=at, reason=_reason(reason))
    promote(show=entry.show, at=at, passing=entry)
    return entry


@transaction.atomic
def scratch_entry(*, entry: Entry, by: Person, at: datetime, reason: str) -> Entry:
    """Take the entry out of the show, with the reason; its number is not given again."""
    reason = _reason(reason)
    if not reason:
        raise InvalidInput(
            _("Say why the entry is scratched; the exhibitor will ask."),
            fields={"reason": _("A reason, please.")},
        )
    entry = lock_entry(entry)
    if entry.status == Status.SCRATCHED:
        raise NotYet(_("This entry is scratched already."))
    entry.spot = None
    entry = move_entry(entry, Status.SCRATCHED, by=by, at=at, reason=reason)
    promote(show=entry.show, at=at)
    return entry
