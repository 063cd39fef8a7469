"""What the office decides about an entry: confirm, put on the wait list, scratch."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.models import CampSpot, Entry
from entries.queries import free_spots
from entries.rules.numbering import next_number
from entries.rules.places import Status, reason_against_confirming
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


def _locked(entry: Entry) -> Entry:
    Show.objects.select_for_update().get(pk=entry.show_id)
    found = Entry.objects.select_related("show").get(pk=entry.pk)
    if found.status == Status.PRACTICE:
        raise NotYet("The practice wagon takes no place; nothing is decided about it.")
    return found


def _move(entry: Entry, status: Status, *, by: Person, at: datetime, reason: str) -> Entry:
    before = {"status": entry.status, "number": entry.number}
    entry.status = status.value
    entry.status_reason = reason
    entry.save()
    record_change(
        show=entry.show,
        actor=by,
        at=at,
        verb=status.value,
        subject=f"entry {entry.wagon_name}",
        before=before,
        after={"status": entry.status, "number": entry.number},
        reason=reason,
    )
    return entry


def _free_spot(entry: Entry, number: int) -> CampSpot:
    spot = free_spots(entry.show).filter(number=number).first()
    if spot is None:
        raise Conflict(f"Camp spot {number} is not free.", fields={"spot": "Choose a free spot."})
    return spot


@transaction.atomic
def confirm_entry(
    *, entry: Entry, by: Person, at: datetime, spot_number: int | None = None
) -> Entry:
    """Give the entry its place, its number and a camp spot: the one asked for, or any free."""
    entry = _locked(entry)
    there = Entry.objects.filter(show=entry.show)
    against = reason_against_confirming(
        status=Status(entry.status),
        places_taken=there.holding_a_place().count(),
        cap=entry.show.entry_cap,
        ahead_in_line=there.waiting().filter(id__lt=entry.id).count(),
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
    return _move(entry, Status.CONFIRMED, by=by, at=at, reason="")


@transaction.atomic
def put_on_wait_list(*, entry: Entry, by: Person, at: datetime, reason: str = "") -> Entry:
    """Take the place back; the entry keeps its turn by the time it entered."""
    entry = _locked(entry)
    if entry.status not in (Status.ENTERED, Status.CONFIRMED):
        raise NotYet(f"This entry is {entry.status}; only one with a place can be moved.")
    entry.spot = None
    return _move(entry, Status.WAITING, by=by, at=at, reason=reason)


@transaction.atomic
def scratch_entry(*, entry: Entry, by: Person, at: datetime, reason: str) -> Entry:
    """Take the entry out of the show, with the reason; its number is not given again."""
    if not reason.strip():
        raise InvalidInput(
            "Say why the entry is scratched; the exhibitor will ask.",
            fields={"reason": "A reason, please."},
        )
    entry = _locked(entry)
    if entry.status == Status.SCRATCHED:
        raise NotYet("This entry is scratched already.")
    entry.spot = None
    return _move(entry, Status.SCRATCHED, by=by, at=at, reason=reason.strip())
