"""Take an entry: a place while there is one, else the end of the wait list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from entries.actions.agree_to_waiver import agree_to_waiver, agreement_fault
from entries.actions.charge_entry import charge_entry
from entries.actions.keep_outfit import keep_outfit
from entries.actions.put_photo import photo_bytes, put_photo, small_photo
from entries.actions.save_draft import discard_draft
from entries.models import CrewMember, Entry, EntryClass
from entries.queries.entering import closed_for, outfit_named
from entries.queries.entries import own_wagons
from entries.queries.terms import terms_of
from entries.rules.eligibility import faults_of_entry
from entries.rules.particulars import faults_of_particulars
from entries.rules.places import Status, status_on_entering
from entries.rules.rig import Rig, faults_of_rig
from showrun.errors import Gone, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.plan_show import give_role
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role


def demand_open(show: Show, at: datetime) -> None:
    """Refuse whoever comes before entries open or after they closed."""
    closed = closed_for(show, at)
    if closed is None:
        return
    opens_at = terms_of(show).opens_at
    if opens_at is not None and at < opens_at:
        raise NotYet(closed, code="entries-not-open")
    raise Gone(closed, code="entries-closed")


def enter(
    *,
    show: Show,
    exhibitor: Person,
    wagon_name: str,
    rig: Mapping[str, str],
    classes: Sequence[str],
    crew: Sequence[Mapping[str, Any]],
    outfit: str = "",
    history: str = "",
    frontage_ft: int | None = None,
    depth_ft: int | None = None,
    dietary_notes: str = "",
    emergency_name: str = "",
    emergency_phone: str = "",
    waiver_version: int | None = None,
    waiver_agreed_by: str = "",
    photo: bytes | None = None,
    at: datetime,
) -> Entry:
    """Take the entry, or refuse it with one message per field.

    The wagon is kept with its exhibitor for the next show, the draft of this one is gone, and an
    entry with a place is charged. Whom to call is kept only where the show asks for it;
    `waiver_version` is the version that stood above the name.
    """
    small = small_photo(photo)
    with transaction.atomic():
        # The lock on the show makes entries queue up here: no two can take the last place.
        show = Show.objects.select_for_update().get(pk=show.pk)
        demand_open(show, at)
        terms = terms_of(show)
        if not terms.emergency_asked:
            emergency_name = emergency_phone = ""
        said: dict[str, Any] = {
            "frontage_ft": frontage_ft,
            "depth_ft": depth_ft,
            "dietary_notes": dietary_notes.strip(),
            "emergency_name": emergency_name.strip(),
            "emergency_phone": emergency_phone.strip(),
        }
        offered = {c.code: c for c in show.classes.all()}
        faults = faults_of_entry(
            wagon_name=wagon_name,
            outfit=outfit,
            history=history,
            classes=classes,
            known_classes=list(offered),
            crew=crew,
            wagons_entered=[entry.wagon_name for entry in own_wagons(exhibitor, show)],
        )
        faults |= faults_of_particulars(**said)
        faults |= agreement_fault(
            terms, waiver_version=waiver_version, waiver_agreed_by=waiver_agreed_by
        )
        if of_rig := faults_of_rig(rig):
            faults["rig"] = " ".join(of_rig.values())
        if faults:
            raise InvalidInput(
                _("The entry was not taken yet: see the marked fields."), fields=faults
            )
        entry = Entry(
            show=show,
            exhibitor=exhibitor,
            wagon_name=wagon_name.strip(),
            outfit=outfit.strip(),
            history=history.strip(),
            status=_standing(show).value,
            entered_at=at,
            **said,
            **Rig.read(rig).facts(),
        )
        agree_to_waiver(entry, terms, agreed_by=waiver_agreed_by, at=at)
        entry.save()
        _fill(entry, [offered[code] for code in dict.fromkeys(classes)], crew)
        give_role(show=show, person=exhibitor, role=Role.EXHIBITOR)
        _record(entry, at)
        _keep(entry, small, at)
        charge_entry(entry=entry, by=exhibitor, at=at)
    return entry


def _standing(show: Show) -> Status:
    there = Entry.objects.filter(show=show)
    return status_on_entering(
        places_taken=there.holding_a_place().count(),
        waiting=there.waiting().count(),
        cap=show.entry_cap,
    )


def _fill(entry: Entry, classes: Sequence[Any], crew: Sequence[Mapping[str, Any]]) -> None:
    EntryClass.objects.bulk_create(
        EntryClass(entry=entry, show_class=show_class) for show_class in classes
    )
    CrewMember.objects.bulk_create(
        CrewMember(
            entry=entry,
            name=member["name"].strip(),
            role=member["role"],
            under_age=bool(member.get("under_age")),
        )
        for member in crew
        if member.get("name", "").strip()
    )


def _keep(entry: Entry, jpeg: bytes, at: datetime) -> None:
    """Keep the wagon and its photo; one brought before has its photo already."""
    if not jpeg and (before := outfit_named(entry.exhibitor, entry.wagon_name)):
        jpeg = photo_bytes(before)
    if jpeg:
        put_photo(entry, jpeg)
    keep_outfit(entry=entry, at=at)
    discard_draft(show=entry.show, exhibitor=entry.exhibitor)


def _record(entry: Entry, at: datetime) -> None:
    after: dict[str, Any] = {"status": entry.status, "rig": entry.rig.facts()}
    if entry.waiver_version:
        after["waiver"] = f"version {entry.waiver_version}, as {entry.waiver_agreed_by}"
    record_change(
        show=entry.show,
        actor=entry.exhibitor,
        at=at,
        verb="entered",
        subject=f"entry {entry.wagon_name}",
        after=after,
    )
