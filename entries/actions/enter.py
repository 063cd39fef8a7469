"""Take an entry: a place while there is one, else the end of the wait list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from entries.models import CrewMember, Entry, EntryClass
from entries.queries import own_wagons
from entries.rules.eligibility import faults_of_entry, reason_against_entering
from entries.rules.places import status_on_entering
from entries.rules.rig import Rig, faults_of_rig
from showrun.errors import Gone, InvalidInput
from showrun.shows.actions.plan_show import give_role
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role


def _demand_open(show: Show, at: datetime) -> None:
    today = at.astimezone(show.tz).date()
    closed = reason_against_entering(starts_on=show.starts_on, ends_on=show.ends_on, today=today)
    if closed:
        raise Gone(closed, code="entries-closed")


@transaction.atomic
def enter(
    *,
    show: Show,
    exhibitor: Person,
    wagon_name: str,
    rig: Mapping[str, str],
    classes: Sequence[str],
    crew: Sequence[Mapping[str, str]],
    outfit: str = "",
    history: str = "",
    at: datetime,
) -> Entry:
    """Take the entry, or refuse it with a sentence a field."""
    # The lock on the show makes entries queue up here: no two can take the last place.
    show = Show.objects.select_for_update().get(pk=show.pk)
    _demand_open(show, at)
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
    if of_rig := faults_of_rig(rig):
        faults["rig"] = " ".join(of_rig.values())
    if faults:
        raise InvalidInput("The entry was not taken yet: see the marked fields.", fields=faults)
    facts = Rig.read(rig).facts()
    there = Entry.objects.filter(show=show)
    status = status_on_entering(
        places_taken=there.holding_a_place().count(),
        waiting=there.waiting().count(),
        cap=show.entry_cap,
    )
    entry = Entry.objects.create(
        show=show,
        exhibitor=exhibitor,
        wagon_name=wagon_name.strip(),
        outfit=outfit.strip(),
        history=history.strip(),
        status=status.value,
        entered_at=at,
        **facts,
    )
    EntryClass.objects.bulk_create(
        EntryClass(entry=entry, show_class=offered[code]) for code in dict.fromkeys(classes)
    )
    CrewMember.objects.bulk_create(
        CrewMember(entry=entry, name=member["name"].strip(), role=member["role"])
        for member in crew
        if member.get("name", "").strip()
    )
    give_role(show=show, person=exhibitor, role=Role.EXHIBITOR)
    record_change(
        show=show,
        actor=exhibitor,
        at=at,
        verb="entered",
        subject=f"entry {entry.wagon_name}",
        after={"status": status.value, "rig": facts},
    )
    return entry
