"""Give wagons their camp spots: one, many at once, or two that change places."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from entries.models import CampSpot, Entry
from entries.queries.entries import free_spots
from entries.rules.places import Status
from showrun.errors import Conflict, NotFound, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def assign_spots(
    *, show: Show, wanted: Mapping[int, int | None], by: Person, at: datetime
) -> list[Entry]:
    """Give each wagon (by its entry's id) the spot with this number, or none.

    All of it happens or none: wagons may change places with each other in one step. A spot that
    a wagon not named here has is not free. Returns the entries whose spot is another now.
    """
    Show.objects.select_for_update().get(pk=show.pk)
    here = Entry.objects.filter(show=show, pk__in=wanted).select_related("spot", "show")
    entries = {entry.pk: entry for entry in here}
    if entries.keys() != wanted.keys():
        raise NotFound(_("One of these wagons is not in this show."))
    spots = {spot.number: spot for spot in CampSpot.objects.filter(show=show)}
    moving = {pk: entry for pk, entry in entries.items() if _number(entry) != wanted[pk]}
    for entry in moving.values():
        if entry.status != Status.CONFIRMED:
            raise NotYet(
                _("{entry} is {status}; camp spots are for confirmed wagons.").format(
                    entry=entry.called, status=entry.status
                )
            )
    taken = {
        entry.spot_id: entry
        for entry in Entry.objects.filter(show=show, spot__isnull=False).exclude(pk__in=moving)
    }
    for pk, entry in moving.items():
        number = wanted[pk]
        if number is None:
            continue
        if number not in spots:
            raise Conflict(
                _("There is no camp spot {number}.").format(number=number),
                fields={"spot": _("Choose another.")},
            )
        spot = spots[number]
        if spot.pk in taken:
            raise Conflict(
                _("Camp spot {number} is not free: {taken} has it.").format(
                    number=number, taken=taken[spot.pk]
                ),
                fields={"spot": _("Choose a free spot, or swap the two.")},
            )
        taken[spot.pk] = entry
    before = {pk: _number(entry) for pk, entry in moving.items()}
    # Each spot is one wagon's: all are given up before any is taken.
    Entry.objects.filter(pk__in=moving).update(spot=None)
    for pk, entry in moving.items():
        number = wanted[pk]
        entry.spot = None if number is None else spots[number]
        entry.save(update_fields=["spot"])
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="camped",
            subject=f"entry {entry.wagon_name}",
            before={"spot": before[pk]},
            after={"spot": number},
        )
    return list(moving.values())


@transaction.atomic
def fill_spots(*, show: Show, by: Person, at: datetime) -> list[Entry]:
    """Give confirmed wagons without a spot the free ones, both in the order of their numbers."""
    Show.objects.select_for_update().get(pk=show.pk)
    homeless = Entry.objects.confirmed().filter(show=show, spot=None).order_by("number")
    free = free_spots(show).order_by("number").values_list("number", flat=True)
    wanted = dict(zip(homeless.values_list("pk", flat=True), free, strict=False))
    return assign_spots(show=show, wanted=wanted, by=by, at=at)


def swap_spots(*, entry: Entry, other: Entry, by: Person, at: datetime) -> list[Entry]:
    """Let two wagons change places; one of them may have no spot yet."""
    with transaction.atomic():
        Show.objects.select_for_update().get(pk=entry.show_id)
        pair = Entry.objects.filter(pk__in=[entry.pk, other.pk], show=entry.show_id)
        numbers = {one.pk: _number(one) for one in pair.select_related("spot")}
        if len(numbers) != 2:
            raise NotYet(_("Choose two different wagons of this show."))
        wanted = {entry.pk: numbers[other.pk], other.pk: numbers[entry.pk]}
        return assign_spots(show=entry.show, wanted=wanted, by=by, at=at)


def _number(entry: Entry) -> int | None:
    return entry.spot.number if entry.spot else None
