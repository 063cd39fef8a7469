"""How the judging stands, for the office."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import NamedTuple

from django.db.models import Count, Q

from entries.models import Entry
from entries.rules.rig import FACTS
from judging.models import Card, Criterion, Judge, Question, RoundEvent, SafetyConcern
from judging.models.card import EMPTY
from judging.queries.keyed import NOBODY, Hands, keyed_by_of, names_on_card
from judging.queries.keyings import keyed_from_paper
from judging.queries.panel import seats_of
from judging.queries.practice import held_at_practice
from judging.rules.cards.condition import applies
from showrun.shows.models import Show

Facts = Mapping[str, str]


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
    # "From paper, keyed by ...", empty where it came by phone alone.
    source: str = ""
    hands: Hands = NOBODY

    @property
    def done(self) -> bool:
        """Whether the judge has handed the card in."""
        return self.handed_in_at is not None

    @property
    def names(self) -> str:
        """Who judged and who keyed, where another person keyed; empty for the judge alone."""
        if not (self.hands.scribes or self.source):
            return ""
        return names_on_card(self.judge_name, self.hands, self.source)


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
    """Return the events kept for the office that nobody has settled; practice needs no settling."""
    held = RoundEvent.objects.filter(show=show, applied=False, settled_at__isnull=True)
    found = list(held.select_related("device__judge__person"))
    idle = held_at_practice(show, found)
    return [event for event in found if event not in idle]


def progress_of(show: Show) -> Progress:
    """Return how far every card is, and what waits for the office."""
    concerns = SafetyConcern.objects.filter(judge__show=show)
    return Progress(
        cards=_cards(show),
        held=held_events(show),
        concerns=list(concerns.select_related("judge__person", "entry", "criterion")),
        open_questions=Question.objects.filter(
            judge__show=show, state__in=Question.WAITING
        ).count(),
    )


def _row_counts(show: Show) -> Callable[[Facts], Counter[int]]:
    """Return what counts the rows on a rig, by section id; each rig is counted once."""
    criteria = Criterion.objects.filter(section__scorecard__show=show).order_by()
    rows = list(criteria.values_list("section_id", "applies"))

    @cache
    def counted(rig: tuple[str, ...]) -> Counter[int]:
        facts = dict(zip(FACTS, rig, strict=True))
        return Counter(section_id for section_id, when in rows if applies(when, facts))

    return lambda facts: counted(tuple(facts[fact] for fact in FACTS))


def _cards(show: Show) -> list[CardProgress]:
    people = Judge.objects.filter(show=show).values_list("pk", "code", "person__name")
    judges = {judge_id: (code, name) for judge_id, code, name in people}
    entries = Entry.objects.filter(show=show).in_bulk()
    entered = {pk: entry.rig.facts() for pk, entry in entries.items()}
    begun = _cards_begun(show)
    rows_on = _row_counts(show)
    paper, hands = keyed_from_paper(show), keyed_by_of(show)
    expected: dict[tuple[int, int], int] = {}
    seats = seats_of(show).order_by("judge__code", "entry__number")
    for judge_id, entry_id, section_id in seats.values_list("judge_id", "entry_id", "section_id"):
        card = (judge_id, entry_id)
        rig = begun[card].rig if card in begun else None
        rows = rows_on(rig or entered[entry_id])[section_id]
        expected[card] = expected.get(card, 0) + rows
    cards = []
    for (judge_id, entry_id), rows in expected.items():
        code, name = judges[judge_id]
        entry = entries[entry_id]
        here = begun.get((judge_id, entry_id), _Begun(None, None, 0))
        cards.append(
            CardProgress(
                code,
                name,
                entry.number,
                entry.wagon_name,
                here.marked,
                rows,
                here.handed_in_at,
                paper.get((judge_id, entry_id), ""),
                hands.get((judge_id, entry_id), NOBODY),
            )
        )
    return cards


class _Begun(NamedTuple):
    """A card that was begun: when it was handed in, its judge's own rig, and rows that count."""

    handed_in_at: datetime | None
    rig: Facts | None
    marked: int


def _cards_begun(show: Show) -> dict[tuple[int, int], _Begun]:
    """Return every card begun, by judge and entry id."""
    counting = ~Q(marks__state=EMPTY) & Q(marks__aside=False)
    cards = Card.objects.filter(judge__show=show).annotate(n=Count("marks", filter=counting))
    rows = cards.values_list("judge_id", "entry_id", "handed_in_at", "rig", "n")
    return {(judge_id, entry_id): _Begun(*begun) for judge_id, entry_id, *begun in rows}
