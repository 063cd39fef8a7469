"""What an entry still lacks, read from its rows."""

from __future__ import annotations

from entries.models import Animal, Entry, EntryTerms
from entries.queries.terms import terms_of
from entries.rules.animal_papers import AnimalFacts
from entries.rules.lacking import Demands, Given, Lack, lacking
from showrun.shows.models import Show

__all__ = ["Lack", "animal_facts", "demands_of", "lacking_of", "waiver_of"]


def lacking_of(entry: Entry, terms: EntryTerms | None = None) -> list[Lack]:
    """Return what the entry lacks of what its show asks, in the order of its details page.

    A list of many entries passes the show's `terms` and prefetches `animals`, and asks nothing
    more then.
    """
    given = Given(
        waiver_version=entry.waiver_version,
        emergency=bool(entry.emergency_name and entry.emergency_phone),
        frontage=entry.frontage_ft is not None,
        depth=entry.depth_ft is not None,
        animals=[animal_facts(animal) for animal in entry.animals.all()],
    )
    return lacking(demands_of(entry.show, terms or terms_of(entry.show)), given)


def demands_of(show: Show, terms: EntryTerms) -> Demands:
    """Return what the show asks, as the rules know it."""
    return Demands(
        first_day=show.starts_on,
        waiver_version=waiver_of(terms),
        emergency=terms.emergency_asked,
        camp=terms.camp_asked,
        animals=terms.animals_asked,
        eia_max_age_days=terms.eia_max_age_days,
        certificate_max_age_days=terms.certificate_max_age_days,
    )


def waiver_of(terms: EntryTerms) -> int:
    """Return the version of the waiver in force, 0 where the show has none."""
    return terms.waiver_version if terms.waiver_text.strip() else 0


def animal_facts(animal: Animal) -> AnimalFacts:
    """Return an animal as the rules know it."""
    return AnimalFacts(
        name=animal.name,
        kind=animal.kind,
        description=animal.description,
        eia_tested_on=animal.eia_tested_on,
        certificate_on=animal.certificate_on,
        row=animal.pk,
    )
