"""What is worth saying about a card and its classes before judges mark on it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache

from django.db.models import Count

from entries.models import Entry, EntryClass
from entries.rules.places import Status
from judging.models import ClassCard, Scorecard
from judging.queries.cards import card_data, read_data
from judging.rules.cards.card_file import CardFaults, CardFile, as_data
from judging.rules.cards.check_card import ClassUse, Finding, Level, findings
from judging.rules.cards.difference import CardDifference, difference
from showrun.shows.models import Show, ShowClass

Facts = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class CardFindings:
    """Faults of the card by place, and findings about it and the classes that count it."""

    faults: dict[str, str]
    found: tuple[Finding, ...] = ()

    @property
    def stops(self) -> list[Finding]:
        """What keeps the card from being used, beside its faults."""
        return [finding for finding in self.found if finding.level is Level.STOPS]

    @property
    def warns(self) -> list[Finding]:
        """What is worth a look."""
        return [finding for finding in self.found if finding.level is Level.WARNS]


def findings_of(card: Scorecard) -> CardFindings:
    """Look at a card as it is, with the classes and wagons of its show.

    A class is taken with those of its sections that the card has.
    """
    try:
        file = read_data(card_data(card))
    except CardFaults as faults:
        return CardFindings(dict(faults.faults))
    codes = {section.code for section in file.sections}
    return CardFindings({}, _findings(_Keyed(file), _uses(card.show, codes), _rigs(card.show)))


def class_findings(card: Scorecard, show_class: ShowClass) -> list[Finding]:
    """Return what is said of one class and the card it counts."""
    uses = _uses(card.show, {section.code for section in card.sections.all()})
    names = [use.name for use in uses]
    if show_class.name not in names:
        return []
    place = f"classes.{names.index(show_class.name)}"
    return [f for f in findings_of(card).found if f.where.split(".tie_ladder")[0] == place]


def _uses(show: Show, codes: set[str]) -> tuple[ClassUse, ...]:
    """Return how the declared classes would use a card with these sections.

    A class that has none of them left would not be declared any more.
    """
    cards = ClassCard.objects.filter(show_class__show=show).select_related("show_class")
    pairs = EntryClass.objects.filter(
        entry__show=show, entry__status=Status.CONFIRMED.value
    ).order_by()
    counts = dict(
        pairs.values("show_class").annotate(n=Count("pk")).values_list("show_class_id", "n")
    )
    uses = (
        ClassUse(
            name=card.show_class.name,
            sections=tuple(
                section.code
                for section in sorted(card.sections.all(), key=lambda s: s.position)
                if section.code in codes
            ),
            tie_ladder=tuple(code for code in card.tie_ladder if code in codes),
            judges=card.judges_per_section,
            possible_points=card.announced_points and card.announced_points.normalize(),
            entries=counts.get(card.show_class_id, 0),
        )
        for card in cards.prefetch_related("sections").order_by("show_class__position")
    )
    return tuple(use for use in uses if use.sections)


def _rigs(show: Show) -> tuple[Facts, ...]:
    """Return the rigs of the wagons confirmed."""
    entries = Entry.objects.confirmed().filter(show=show)
    return tuple(tuple(entry.rig.facts().items()) for entry in entries)


class _Keyed:
    """A card that is looked at once: forecasting ties takes longer than the rest of a page."""

    def __init__(self, card: CardFile) -> None:
        self.card = card
        self.key = json.dumps(as_data(card))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Keyed) and other.key == self.key

    def __hash__(self) -> int:
        return hash(self.key)


@lru_cache(maxsize=32)
def _findings(
    keyed: _Keyed, uses: tuple[ClassUse, ...], rigs: tuple[Facts, ...]
) -> tuple[Finding, ...]:
    return findings(keyed.card, classes=uses, rigs=[dict(rig) for rig in rigs])


def difference_of(old: Scorecard | None, new: Scorecard) -> CardDifference | None:
    """Return what differs between two versions; None where one of them cannot be read."""
    if old is None:
        return None
    try:
        return difference(read_data(card_data(old)), read_data(card_data(new)))
    except CardFaults:
        return None
