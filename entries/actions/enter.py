"""Take an entry: a place while there is one, else the end of the wait list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from entries.models import CrewMember, Entry, EntryClass
from entries.rules.eligibility import faults_of_entry
from entries.rules.places import status_on_entering
from entries.rules.rig import Rig
from showrun.errors import InvalidInput
from showrun.shows.actions.plan_show import give_role
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role


def _read_rig(rig: Mapping[str, str], faults: dict[str, str]) -> Rig | None:
    try:
        return Rig.read(rig)
    except ValueError as fault:
        faults["rig"] = str(fault)
        return None


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
    offered = {c.code: c for c in show.classes.all()}
    faults = faults_of_entry(
        wagon_name=wagon_name, classes=classes, known_classes=list(offered), crew=crew
    )
    read = _read_rig(rig, faults)
    if faults or read is None:
        raise InvalidInput("The entry was not taken yet: see the marked fields.", fields=faults)
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
        **read.facts(),
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
        after={"status": status.value, "rig": read.facts()},
    )
    return entry
