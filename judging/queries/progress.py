"""How the judging stands, for the office."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache

from django.db.models import Count

from entries.models import Entry
from judging.models import Card, CardMark, Criterion, Judge, Question, RoundEvent, SafetyConcern
from judging.models.card import EMPTY
from judging.queries.panel import seats_of
from judging.rules.cards import scorecard as values
from showrun.shows.models import Show


@dataclass(frozen=True)
class CardProgress:
    """One card: rows marked of rows to mark, and when it was handed in."""

    judge_code: str
    judge_name: str
    entry_number: int | None
    wagon_name: str
    marked: int
    expected: int
    handed_in_at: datetime | None

    @property
    def done(self) -> bool:
        """Whether the judge has handed the card in."""
        return self.handed_in_at is not None


@dataclass(frozen=True)
class Progress:
    """The whole show's judging at a glance."""

    cards: list[CardProgress]
    held: list[RoundEvent]
    concerns: list[SafetyConcern]
    open_questions: int

    @property
    def cards_in(self) -> int:
        """Cards handed in."""
        return sum(card.done for card in self.cards)

    @property
    def cards_expected(self) -> int:
        """Cards there must be."""
        return len(self.cards)


def held_events(show: Show) -> list[RoundEvent]:
    """Return the events kept for the office that nobody has settled."""
    held = RoundEvent.objects.filter(show=show, applied=False, settled_at__isnull=True)
    return list(held.select_related("device__judge__person"))


def progress_of(show: Show) -> Progress:
    """Return how far every card is, and what waits for the office."""
    concerns = SafetyConcern.objects.filter(judge__show=show)
    return Progress(
        cards=_cards(show),
        held=held_events(show),
        concerns=list(concerns.select_related("judge__person", "entry", "criterion")),
        open_questions=Question.objects.filter(judge__show=show, state=Question.State.OPEN).count(),
    )


def _row_counts(show: Show) -> Callable[[int, Entry], int]:
    """Return how to count the rows of a section on an entry's rig; each rig is counted once."""
    rows: dict[int, list[values.Criterion]] = defaultdict(list)
    for criterion in Criterion.objects.filter(section__scorecard__show=show):
        rows[criterion.section_id].append(criterion.as_value())
    facts: dict[int, tuple[tuple[str, str], ...]] = {}

    @cache
    def on_rig(section_id: int, rig: tuple[tuple[str, str], ...]) -> int:
        return sum(row.is_for(dict(rig)) for row in rows[section_id])

    def here(section_id: int, entry: Entry) -> int:
        if entry.pk not in facts:
            facts[entry.pk] = tuple(entry.rig.facts().items())
        return on_rig(section_id, facts[entry.pk])

    return here


def _cards(show: Show) -> list[CardProgress]:
    expected: Counter[tuple[int, int]] = Counter()
    rows_here = _row_counts(show)
    judges = Judge.objects.filter(show=show).select_related("person").in_bulk()
    entries = Entry.objects.filter(show=show).in_bulk()
    seats = seats_of(show).order_by("judge__code", "entry__number")
    for judge_id, entry_id, section_id in seats.values_list("judge_id", "entry_id", "section_id"):
        expected[judge_id, entry_id] += rows_here(section_id, entries[entry_id])
    marks = CardMark.objects.filter(card__judge__show=show).exclude(state=EMPTY).order_by()
    counted = marks.values_list("card__judge_id", "card__entry_id").annotate(n=Count("pk"))
    marked = {(judge_id, entry_id): n for judge_id, entry_id, n in counted}
    cards = Card.objects.filter(judge__show=show).values_list(
        "judge_id", "entry_id", "handed_in_at"
    )
    handed = {(judge_id, entry_id): at for judge_id, entry_id, at in cards}
    return [
        CardProgress(
            judge_code=judges[judge_id].code,
            judge_name=judges[judge_id].person.name,
            entry_number=entries[entry_id].number,
            wagon_name=entries[entry_id].wagon_name,
            marked=marked.get((judge_id, entry_id), 0),
            expected=rows,
            handed_in_at=handed.get((judge_id, entry_id)),
        )
        for (judge_id, entry_id), rows in expected.items()
    ]
