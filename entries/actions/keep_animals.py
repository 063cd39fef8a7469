"""Keep an entry's list of animals with the dates on their papers."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from entries.models import Animal, Entry
from entries.queries.lacking import animal_facts
from entries.rules.animal_papers import CERTIFICATE, EIA, AnimalFacts, faults_of_animals
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

FIELD_IDS = {EIA: "eia", CERTIFICATE: "certificate"}


@transaction.atomic
def set_animals(
    *, entry: Entry, animals: Sequence[AnimalFacts], by: Person, at: datetime
) -> list[Animal]:
    """Make this the entry's list; an animal keeps its row by the row's number, or by its name.

    Whoever saw an animal's papers saw those: when their dates, or whose they are, change, they are
    to be seen again.
    """
    show = Show.objects.select_for_update().get(pk=entry.show_id)
    demand_animals(animals, today_at=at, show=show)
    there = {animal.pk: animal for animal in Animal.objects.filter(entry=entry)}
    before = [_said(animal_facts(animal)) for animal in there.values()]
    kept = [_keep(entry, facts, there) for facts in animals]
    Animal.objects.filter(entry=entry).exclude(pk__in=[animal.pk for animal in kept]).delete()
    after = [_said(facts) for facts in animals]
    if before != after:
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="listed the animals of",
            subject=f"entry {entry.wagon_name}",
            before={"animals": before},
            after={"animals": after},
        )
    # Whatever was fetched with the entry is the list before.
    getattr(entry, "_prefetched_objects_cache", {}).pop("animals", None)
    return kept


def demand_animals(animals: Sequence[AnimalFacts], *, today_at: datetime, show: Show) -> None:
    """Refuse a list that cannot be kept, one message per field."""
    if faults := animal_faults(animals, today_at=today_at, show=show):
        raise InvalidInput(_("The animals were not kept: see the marked fields."), fields=faults)


def animal_faults(
    animals: Sequence[AnimalFacts], *, today_at: datetime, show: Show
) -> dict[str, str]:
    """Return what is wrong with the list, by the id of the field on the page of details."""
    found = faults_of_animals(animals, today=today_at.astimezone(show.tz).date())
    return {
        f"animal_{FIELD_IDS.get(field, field)}_{place + 1}": sentence
        for (place, field), sentence in found.items()
    }


def _keep(entry: Entry, facts: AnimalFacts, there: dict[int, Animal]) -> Animal:
    """Change the animal's row, or make one; a row of another entry is none of this."""
    animal = there.pop(facts.row, None) if facts.row is not None else None
    if animal is None:
        same = (pk for pk, one in there.items() if one.name == facts.name.strip())
        animal = there.pop(next(same, 0), None)
    if animal is None:
        animal = Animal(entry=entry)
    shown = (animal.name, animal.kind, animal.eia_tested_on, animal.certificate_on)
    animal.name, animal.kind = facts.name.strip(), facts.kind
    animal.description = facts.description.strip()
    animal.eia_tested_on, animal.certificate_on = facts.eia_tested_on, facts.certificate_on
    if shown != (animal.name, animal.kind, animal.eia_tested_on, animal.certificate_on):
        animal.papers_seen_at, animal.papers_seen_by = None, None
    animal.save()
    return animal


def _said(facts: AnimalFacts) -> dict[str, Any]:
    return {
        "name": facts.name.strip(),
        "kind": facts.kind,
        "eia_tested_on": facts.eia_tested_on and facts.eia_tested_on.isoformat(),
        "certificate_on": facts.certificate_on and facts.certificate_on.isoformat(),
    }
