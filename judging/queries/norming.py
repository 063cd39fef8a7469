"""What the office compares after the judges have marked the practice wagon."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q

from entries.models import Entry
from judging.models import Card, Judge, RoundEvent, SafetyConcern, Seat
from judging.queries.cards import card_of, section_values
from judging.queries.marks import marks_by_card
from judging.queries.practice import held_at_practice, is_open, practice_entry
from judging.rules.cards import scorecard as values
from showrun.shows.models import Show


@dataclass(frozen=True)
class AtPractice:
    """A judge at the practice wagon, with how far their card is.

    `rig` holds the facts as this judge found them, None where they are as the office said.
    """

    judge: Judge
    rig: Mapping[str, str] | None
    marks: Mapping[str, values.Mark]
    expected: int
    handed_in_at: datetime | None


@dataclass(frozen=True)
class Norming:
    """The practice wagon, who marked what on it, and what came too late to be written down."""

    wagon: Entry
    open: bool
    sections: list[values.Section]
    judges: list[AtPractice]
    late: int
    concerns: int


def norming_of(show: Show) -> Norming | None:
    """Return the practice wagon with all its marks, None where there is none."""
    wagon = practice_entry(show)
    if wagon is None:
        return None
    card = card_of(show)
    sections = list(section_values(card).values()) if card else []
    # A place says nothing of a wagon that stands alone.
    sections = [one for one in sections if one.form is not values.Form.PLACINGS]
    held = RoundEvent.objects.filter(show=show, applied=False, settled_at__isnull=True)
    return Norming(
        wagon=wagon,
        open=is_open(wagon),
        sections=sections,
        judges=_judges(show, wagon, {section.code: section for section in sections}),
        late=len(held_at_practice(show, held)),
        concerns=SafetyConcern.objects.filter(entry=wagon, seen_at__isnull=True).count(),
    )


def _judges(show: Show, wagon: Entry, sections: Mapping[str, values.Section]) -> list[AtPractice]:
    """Return the judges who sit at the wagon or began a card there, by their short names."""
    cards = {card.judge_id: card for card in Card.objects.filter(entry=wagon)}
    given = marks_by_card(cards.values())
    seated = Exists(Seat.objects.filter(judge=OuterRef("pk"), entry=wagon))
    there = Judge.objects.filter(Q(seated) | Q(pk__in=cards), show=show)
    found = []
    for judge in there.select_related("person").prefetch_related("sections").order_by("code"):
        card = cards.get(judge.pk)
        rig = card.rig if card else None
        facts = rig or wagon.rig.facts()
        own = [sections[one.code] for one in judge.sections.all() if one.code in sections]
        found.append(
            AtPractice(
                judge=judge,
                rig=rig,
                marks=given.get((judge.pk, wagon.pk), {}),
                expected=sum(len(section.rows_for(facts)) for section in own),
                handed_in_at=card.handed_in_at if card else None,
            )
        )
    return found
