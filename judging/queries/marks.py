"""Marks as the rules know them: from rows to values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import cache
from typing import NamedTuple

from entries.models import Entry
from entries.rules.rig import FACTS
from judging.models import Card, CardMark
from judging.models.card import EMPTY
from judging.queries.panel import seats_of
from judging.rules.cards import scorecard as values
from judging.rules.cards.score import SectionScore, score_section
from showrun.shows.models import Show

Marks = Mapping[str, values.Mark]
NO_MARKS: Marks = {}


class JudgedSection(NamedTuple):
    """One seat with what its judge gave; it is scored only when its points are asked for."""

    entry: Entry
    judge_code: str
    section: values.Section
    facts: Mapping[str, str]
    rows: tuple[values.Criterion, ...]
    marks: Marks
    handed_in: bool

    @property
    def lacking(self) -> int:
        """How many rows of the rig have no mark."""
        return sum(row.code not in self.marks for row in self.rows)

    def score(self, policy: values.NotInspected) -> SectionScore:
        """Turn the marks into points."""
        return score_section(self.section, self.facts, self.marks, policy)

    def comes_to_points(self, policy: values.NotInspected) -> bool:
        """Say whether it has points: every row has a mark, and something could be judged."""
        if self.lacking:
            return False
        # A number on a row that weighs settles it; only without any are the points asked for.
        if any(
            row.weight > 0 and self.marks[row.code].state is values.MarkState.MARKED
            for row in self.rows
        ):
            return True
        return self.score(policy).points is not None

    def in_lines(self) -> str:
        """Return the marks its points follow from, a row a line."""
        given = ((row.code, self.marks.get(row.code)) for row in self.rows)
        return "\n".join(f"{code}={mark.state}:{mark.value}" for code, mark in given if mark)


def marks_by_card(
    cards: Iterable[Card], sections: Iterable[str] | None = None
) -> dict[tuple[int, int], dict[str, values.Mark]]:
    """Return marks by criterion code, of some sections only if named, by (judge id, entry id)."""
    found: dict[tuple[int, int], dict[str, values.Mark]] = defaultdict(dict)
    by_card = {card.pk: found[card.judge_id, card.entry_id] for card in cards}
    marks = CardMark.objects.filter(card__in=by_card).exclude(state=EMPTY)
    if sections is not None:
        marks = marks.filter(criterion__section__code__in=list(sections))

    # Thousands of rows hold a few dozen different marks.
    @cache
    def mark(state: str, value: Decimal | None) -> values.Mark:
        return values.Mark(values.MarkState(state), value)

    rows = marks.order_by().values_list("card_id", "criterion__code", "state", "value")
    for card_id, code, state, value in rows:
        by_card[card_id][code] = mark(state, value)
    return found


def judged_sections(
    show: Show, entries: Mapping[int, Entry], sections: Mapping[str, values.Section]
) -> list[JudgedSection]:
    """Return every seat at these sections of these entries with its marks, in panel order."""
    cards = list(Card.objects.filter(entry__in=entries).only("judge_id", "entry_id", "handed_in_at"))
    handed_in = {(card.judge_id, card.entry_id) for card in cards if card.handed_in_at}
    marks = marks_by_card(cards, sections)
    facts = {pk: entry.rig.facts() for pk, entry in entries.items()}

    # Many wagons share a rig; which rows are for it is asked once a section.
    @cache
    def rows_for(code: str, rig: tuple[str, ...]) -> tuple[values.Criterion, ...]:
        return sections[code].rows_for(dict(zip(FACTS, rig, strict=True)))

    # Bare columns: a seat's row would repeat judge and section.
    seats = seats_of(show).values_list("entry_id", "judge_id", "judge__code", "section__code")
    return [
        JudgedSection(
            entry=entries[entry_id],
            judge_code=judge_code,
            section=sections[code],
            facts=facts[entry_id],
            rows=rows_for(code, tuple(facts[entry_id].values())),
            marks=marks.get((judge_id, entry_id), NO_MARKS),
            handed_in=(judge_id, entry_id) in handed_in,
        )
        for entry_id, judge_id, judge_code, code in seats
        if entry_id in entries and code in sections
    ]
