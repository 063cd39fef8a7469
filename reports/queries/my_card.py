"""What is looked at on an entry's rig, and what its classes declare before judging."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from entries.models import Entry
from judging.models import ClassCard, Criterion, Section
from judging.queries.cards import card_of
from judging.rules.cards.policies import policy_sentences
from showrun.language import listed, ngettext
from showrun.shows.models import ShowClass


@dataclass(frozen=True)
class SectionRows:
    """What is looked at in a section on this rig."""

    section: Section
    rows: list[Criterion]
    judges: int


@dataclass(frozen=True)
class Declared:
    """What some classes of the entry declare before judging."""

    heading: str
    sentences: tuple[str, ...]


def rows_for(entry: Entry, cards: Sequence[ClassCard]) -> list[SectionRows]:
    """Return the card's rows for this rig, of the sections its classes count."""
    judges: Counter[str] = Counter()
    for counted in cards:
        for section in counted.sections.all():
            judges[section.code] = max(judges[section.code], counted.judges_per_section)
    card = card_of(entry.show)
    if card is None:
        return []
    facts = entry.rig.facts()
    return [
        SectionRows(
            section=section,
            rows=[row for row in section.criteria.all() if row.as_value().is_for(facts)],
            judges=judges[section.code],
        )
        for section in card.sections.all()
        if section.code in judges
    ]


def declared_by(taken: Sequence[ShowClass], cards: Mapping[int, ClassCard]) -> list[Declared]:
    """Return what the entry's classes declare; classes that say the same are said once."""
    names: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for show_class in taken:
        if show_class.pk in cards:
            names[policy_sentences(cards[show_class.pk].policies)].append(show_class.name)
    return [
        Declared(
            ngettext("How {classes} is judged", "How {classes} are judged", len(classes)).format(
                classes=listed(classes)
            ),
            sentences,
        )
        for sentences, classes in names.items()
    ]
