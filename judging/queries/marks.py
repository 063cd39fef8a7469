"""Marks as the rules know them: from rows to values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cache, cached_property
from typing import NamedTuple

from django.db.models import Count

from entries.models import Entry
from entries.rules.rig import FACTS
from judging.models import Card, CardMark
from judging.models.card import EMPTY
from judging.queries.panel import seats_of
from judging.queries.rigs import facts_of
from judging.rules.cards import scorecard as values
from judging.rules.cards.score import SectionScore, score_section
from showrun.shows.models import Show

Marks = Mapping[str, values.Mark]
# A card by its judge and its entry.
CardKey = tuple[int, int]


@dataclass(frozen=True)
class GivenMarks:
    """The marks of some cards that count; they are read when they are asked for."""

    keys: Mapping[int, CardKey]

    @cached_property
    def by_card(self) -> dict[CardKey, dict[str, values.Mark]]:
        """The marks by criterion code, of each card."""
        found: dict[CardKey, dict[str, values.Mark]] = defaultdict(dict)
        by_id = {card_id: found[key] for card_id, key in self.keys.items()}

        # Thousands of rows hold a few dozen different marks.
        @cache
        def mark(state: str, value: Decimal | None) -> values.Mark:
            return values.Mark(values.MarkState(state), value)

        kept = CardMark.objects.filter(card__in=list(self.keys), aside=False)
        marks = kept.exclude(state=EMPTY).order_by()
        rows = marks.values_list("card_id", "criterion__code", "state", "value")
        for card_id, code, state, value in rows:
            by_id[card_id][code] = mark(state, value)
        return found


class JudgedSection(NamedTuple):
    """One seat with what its judge gave; it is scored when its points are asked for."""

    entry: Entry
    judge_code: str
    section: values.Section
    # The rig as it stands on this judge's card, and the rows it has here.
    facts: Mapping[str, str]
    rows: tuple[values.Criterion, ...]
    # Rows of the rig without a mark, and whether one that weighs has a number.
    lacking: int
    numbered: bool
    handed_in: bool
    card: CardKey
    given: GivenMarks

    @property
    def marks(self) -> Marks:
        """All marks of the card it is on."""
        return self.given.by_card.get(self.card, {})

    @property
    def place(self) -> Decimal | None:
        """The place given, in a section judged by places only."""
        mark = self.marks.get(self.rows[0].code) if self.rows else None
        return mark.value if mark else None

    def score(
        self, policy: values.NotInspected, places: Sequence[Decimal] | None = None
    ) -> SectionScore:
        """Turn the marks into points; `places` are those this judge gave in the class."""
        return score_section(self.section, self.facts, self.marks, policy, places)

    def has_points(self, policy: values.NotInspected) -> bool:
        """Say whether every row has a mark and something of it could be judged."""
        if self.lacking:
            return False
        if self.section.form is values.Form.PLACINGS:
            return self.place is not None
        return self.numbered or self.score(policy).points is not None

    def in_lines(self) -> str:
        """Return the rows of the rig with the marks that the points follow from, a row a line."""
        given = ((row.code, self.marks.get(row.code)) for row in self.rows)
        return "\n".join(
            f"{code}={mark.state}:{mark.value}" if mark else f"{code}=" for code, mark in given
        )


def marks_by_card(cards: Iterable[Card]) -> dict[CardKey, dict[str, values.Mark]]:
    """Return marks by criterion code, by (judge id, entry id)."""
    return GivenMarks({card.pk: (card.judge_id, card.entry_id) for card in cards}).by_card


def judged_sections(
    show: Show, entries: Mapping[int, Entry], sections: Mapping[str, values.Section]
) -> list[JudgedSection]:
    """Return every seat at these sections of these entries, in the order of the panel."""
    cards = _cards_at(entries)
    given = GivenMarks({begun.card_id: key for key, begun in cards.items()})
    counts = _counts(show)
    entered = {pk: entry.rig.facts() for pk, entry in entries.items()}
    idle = {code: sum(row.weight <= 0 for row in sections[code].criteria) for code in sections}

    # Many cards share a rig.
    @cache
    def on_rig(rig: tuple[str, ...]) -> dict[str, tuple[values.Criterion, ...]]:
        facts = dict(zip(FACTS, rig, strict=True))
        return {code: section.rows_for(facts) for code, section in sections.items()}

    def seat(
        entry_id: int, judge_id: int, section_id: int, judge_code: str, code: str
    ) -> JudgedSection:
        begun = cards.get((judge_id, entry_id))
        facts = facts_of(begun.rig) if begun and begun.rig else entered[entry_id]
        rows = on_rig(tuple(facts.values()))[code]
        n_marks, n_numbers = counts.get((judge_id, entry_id, section_id), (0, 0))
        return JudgedSection(
            entry=entries[entry_id],
            judge_code=judge_code,
            section=sections[code],
            facts=facts,
            rows=rows,
            lacking=len(rows) - n_marks,
            numbered=n_numbers > idle[code],
            handed_in=begun is not None and begun.handed_in_at is not None,
            card=(judge_id, entry_id),
            given=given,
        )

    # Bare columns: a seat's row would repeat judge and section.
    seats = seats_of(show).values_list(
        "entry_id", "judge_id", "section_id", "judge__code", "section__code"
    )
    return [seat(*row) for row in seats if row[0] in entries and row[4] in sections]


class _Begun(NamedTuple):
    """A card that was begun: when it was handed in, and the rig if its judge found another."""

    card_id: int
    handed_in_at: datetime | None
    rig: dict[str, str] | None


def _cards_at(entries: Iterable[int]) -> dict[CardKey, _Begun]:
    """Return every card begun at these entries."""
    cards = Card.objects.filter(entry__in=list(entries))
    rows = cards.values_list("judge_id", "entry_id", "pk", "handed_in_at", "rig")
    return {(judge_id, entry_id): _Begun(*begun) for judge_id, entry_id, *begun in rows}


def _counts(show: Show) -> dict[tuple[int, int, int], tuple[int, int]]:
    """Count the marks that count, and the numbers among them, by judge, entry and section id.

    A mark on a row that is not on the card's rig is held at every door or kept aside, so a
    count tells what is lacking.
    """
    kept = CardMark.objects.filter(card__judge__show=show, aside=False)
    marks = kept.exclude(state=EMPTY).order_by()
    rows = marks.values_list("card__judge_id", "card__entry_id", "criterion__section_id")
    counted = rows.annotate(n_marks=Count("*"), n_numbers=Count("value"))
    return {(judge, entry, section): (n, m) for judge, entry, section, n, m in counted}
