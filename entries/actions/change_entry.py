"""Change what an entry says beside its rig and crew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from entries.actions.agree_to_waiver import agree_to_waiver, agreement_fault
from entries.actions.keep_animals import animal_faults, set_animals
from entries.actions.keep_outfit import keep_outfit
from entries.actions.put_photo import put_photo, small_photo, take_photo_away
from entries.models import Entry
from entries.queries.entries import own_wagons
from entries.queries.terms import terms_of
from entries.rules.animal_papers import AnimalFacts
from entries.rules.eligibility import fault_of_twin, faults_of_wagon
from entries.rules.particulars import faults_of_particulars, reason_against_changing
from entries.rules.places import Status
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

OF_THE_WAGON = ("wagon_name", "outfit", "history")
AGREED = ("waiver_version", "waiver_agreed_at", "waiver_agreed_by")
PARTICULARS = (
    *("frontage_ft", "depth_ft", "dietary_notes"),
    *("emergency_name", "emergency_phone"),
)
CHANGED_HERE = (*OF_THE_WAGON, *PARTICULARS)
# Of these the record says that they changed, and not from what to what.
UNTOLD = frozenset({"dietary_notes", "emergency_name", "emergency_phone"})


def change_entry(
    *,
    entry: Entry,
    by: Person,
    at: datetime,
    changes: Mapping[str, Any] | None = None,
    waiver_version: int | None = None,
    waiver_agreed_by: str = "",
    photo: bytes | None = None,
    remove_photo: bool = False,
    animals: Sequence[AnimalFacts] | None = None,
) -> Entry:
    """Change what is given and leave the rest, or refuse all of it with one message per field.

    `changes` names fields of `CHANGED_HERE`; `waiver_version` is the version that stood above the
    name; `animals` is the whole list.
    """
    small, of_photo = _painted(photo)
    with transaction.atomic():
        show = Show.objects.select_for_update().get(pk=entry.show_id)
        entry = Entry.objects.select_related("show", "exhibitor", "spot").get(pk=entry.pk)
        _demand_open(entry, show, at)
        terms = terms_of(show)
        wanted = _asked_for(changes or {}, emergency=terms.emergency_asked)
        faults = _faults_of_wagon(entry, wanted, by) | faults_of_particulars(
            **{name: wanted.get(name, getattr(entry, name)) for name in PARTICULARS}
        )
        faults |= agreement_fault(
            terms, waiver_version=waiver_version, waiver_agreed_by=waiver_agreed_by
        )
        faults |= of_photo
        if animals is not None:
            faults |= animal_faults(animals, today_at=at, show=show)
        if faults:
            raise InvalidInput(_("Nothing was changed yet: see the marked fields."), fields=faults)
        before = {name: getattr(entry, name) for name in wanted}
        for name, value in wanted.items():
            setattr(entry, name, value)
        facts: dict[str, Any] = _told(before, wanted)
        if agree_to_waiver(entry, terms, agreed_by=waiver_agreed_by, at=at):
            facts["waiver"] = f"version {entry.waiver_version}, as {entry.waiver_agreed_by}"
        # Only what is changed here: a rig adopted meanwhile stays.
        entry.save(update_fields=[*wanted, *AGREED])
        facts |= _photo(entry, small, remove=remove_photo)
        if facts:
            _record(entry, by, at, facts, before)
        if animals is not None:
            set_animals(entry=entry, animals=animals, by=by, at=at)
        if entry.kept_outfit_id is not None:
            keep_outfit(entry=entry, at=at)
    return entry


def _faults_of_wagon(entry: Entry, wanted: Mapping[str, Any], by: Person) -> dict[str, str]:
    said = {name: wanted.get(name, getattr(entry, name)) for name in OF_THE_WAGON}
    found = faults_of_wagon(**said)
    if "wagon_name" not in wanted:
        return found
    others = [one for one in own_wagons(entry.exhibitor, entry.show) if one.pk != entry.pk]
    own = by.pk == entry.exhibitor_id
    return found | fault_of_twin(said["wagon_name"], [one.wagon_name for one in others], own=own)


def _painted(photo: bytes | None) -> tuple[bytes, dict[str, str]]:
    """Paint the photo before anything is locked; its fault is told with the others."""
    try:
        return small_photo(photo), {}
    except InvalidInput as fault:
        return b"", dict(fault.fields)


def _demand_open(entry: Entry, show: Show, at: datetime) -> None:
    against = reason_against_changing(
        status=Status(entry.status), ends_on=show.ends_on, today=at.astimezone(show.tz).date()
    )
    if against:
        raise NotYet(against, code="entry-closed")


def _asked_for(changes: Mapping[str, Any], *, emergency: bool) -> dict[str, Any]:
    """Take the fields this verb changes; whom to call only where the show asks for it."""
    left_out = frozenset() if emergency else frozenset({"emergency_name", "emergency_phone"})
    return {
        name: value.strip() if isinstance(value, str) else value
        for name, value in changes.items()
        if name in CHANGED_HERE and name not in left_out
    }


def _told(before: Mapping[str, Any], wanted: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: "changed" if name in UNTOLD else value
        for name, value in wanted.items()
        if before[name] != value
    }


def _photo(entry: Entry, jpeg: bytes, *, remove: bool) -> dict[str, str]:
    if jpeg:
        put_photo(entry, jpeg)
        return {"photo": "a new one"}
    if not remove or not entry.photo:
        return {}
    take_photo_away(entry)
    if entry.kept_outfit is not None:
        take_photo_away(entry.kept_outfit)
    return {"photo": "removed"}


def _record(
    entry: Entry, by: Person, at: datetime, facts: dict[str, Any], before: Mapping[str, Any]
) -> None:
    record_change(
        show=entry.show,
        actor=by,
        at=at,
        verb="changed the details of",
        subject=f"entry {entry.wagon_name}",
        before={k: v for k, v in before.items() if k in facts and k not in UNTOLD} or None,
        after=facts,
    )
