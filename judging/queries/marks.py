"""Marks as the rules know them: from rows to values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from entries.models import Entry
from entries.queries import entries_in_class
from judging.models import Card, CardMark, ClassCard, Seat
from judging.models.card import EMPTY
from judging.rules.cards import scorecard as values
from judging.rules.cards.score import SectionScore, score_section

Marks = Mapping[str, values.Mark]


@dataclass(frozen=True)
class JudgedSection:
    """One seat with what its judge gave."""

    entry: Entry
    judge_code: str
    section: str
    marks: Marks
    score: SectionScore
    handed_in: bool


def marks_by_card(
    cards: Iterable[Card], sections: Iterable[str] | None = None
) -> dict[tuple[int, int], dict[str, values.Mark]]:
    """Return marks by criterion code, of some sections only if named, by (judge id, entry id)."""
    found: dict[tuple[int, int], dict[str, values.Mark]] = defaultdict(dict)
    marks = CardMark.objects.filter(card__in=list(cards)).exclude(state=EMPTY)
    if sections is not None:
        marks = marks.filter(criterion__section__code__in=list(sections))
    rows = marks.order_by().values_list(
        "card__judge_id", "card__entry_id", "criterion__code", "state", "value"
    )
    for judge_id, entry_id, code, state, value in rows:
        found[judge_id, entry_id][code] = values.Mark(values.MarkState(state), value)
    return found


def judged_sections(
    class_card: ClassCard, sections: Mapping[str, values.Section]
) -> list[JudgedSection]:
    """Return every seat that counts for a class, with its marks and points."""
    entries = {entry.pk: entry for entry in entries_in_class(class_card.show_class)}
    counted = [section.code for section in class_card.sections.all()]
    # In the order of the panel, as bare columns: a seat's row would repeat judge and section.
    seats = Seat.objects.filter(entry__in=entries, section__code__in=counted).values_list(
        "entry_id", "judge_id", "judge__code", "section__code"
    )
    cards = list(Card.objects.filter(entry__in=entries))
    handed_in = {(c.judge_id, c.entry_id) for c in cards if c.handed_in_at}
    marks = marks_by_card(cards, counted)
    policy = values.NotInspected(class_card.not_inspected)
    facts = {pk: entry.rig.facts() for pk, entry in entries.items()}
    return [
        JudgedSection(
            entry=entries[entry_id],
            judge_code=judge_code,
            section=section,
            marks=marks[judge_id, entry_id],
            score=score_section(
                sections[section], facts[entry_id], marks[judge_id, entry_id], policy
            ),
            handed_in=(judge_id, entry_id) in handed_in,
        )
        for entry_id, judge_id, judge_code, section in seats
    ]
