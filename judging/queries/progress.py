"""How the judging stands, for the office."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import datetime

from judging.models import Card, CardMark, Criterion, Question, RoundEvent, SafetyConcern
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


def _cards(show: Show) -> list[CardProgress]:
    rows: dict[int, list[values.Criterion]] = defaultdict(list)
    for criterion in Criterion.objects.filter(section__scorecard__show=show):
        rows[criterion.section_id].append(criterion.as_value())
    expected: Counter[tuple[int, int]] = Counter()
    pairs = {}
    for seat in seats_of(show).order_by("judge__code", "entry__number"):
        key = (seat.judge_id, seat.entry_id)
        facts = seat.entry.rig.facts()
        expected[key] += sum(row.is_for(facts) for row in rows[seat.section_id])
        pairs[key] = seat
    marked: Counter[tuple[int, int]] = Counter(
        CardMark.objects.filter(card__judge__show=show)
        .exclude(state=EMPTY)
        .values_list("card__judge_id", "card__entry_id")
    )
    handed = {
        (card.judge_id, card.entry_id): card.handed_in_at
        for card in Card.objects.filter(judge__show=show)
    }
    return [
        CardProgress(
            judge_code=seat.judge.code,
            judge_name=seat.judge.person.name,
            entry_number=seat.entry.number,
            wagon_name=seat.entry.wagon_name,
            marked=marked[key],
            expected=expected[key],
            handed_in_at=handed.get(key),
        )
        for key, seat in pairs.items()
    ]
