"""What follows for a card when its rig is another: marks go aside or come back, rows may lack."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping

from judging.models import Card, CardMark, Criterion, Seat
from judging.models.card import EMPTY
from judging.rules.cards.condition import applies

Facts = Mapping[str, str]


def set_aside(rig_of: Mapping[int, Facts]) -> tuple[int, int]:
    """Keep aside the marks on rows these cards do not have, and take back those they have again.

    `rig_of` gives each card's rig by card id. Marks on earlier versions of the scorecard stay
    as they are. Returns how many marks went aside and how many came back.
    """
    if not rig_of:
        return 0, 0
    marks = CardMark.objects.filter(
        card__in=list(rig_of), criterion__section__scorecard__in_use=True
    ).order_by()
    gone: list[tuple[int, bool]] = []
    back: list[tuple[int, bool]] = []
    columns = marks.values_list("pk", "card_id", "criterion__applies", "aside", "state")
    for pk, card_id, when, aside, state in columns:
        if applies(when, rig_of[card_id]) == aside:
            (back if aside else gone).append((pk, state != EMPTY))
    for changed, now in ((gone, True), (back, False)):
        if changed:
            CardMark.objects.filter(pk__in=[pk for pk, _ in changed]).update(aside=now)
    return sum(marked for _, marked in gone), sum(marked for _, marked in back)


def rows_lacking(cards: Collection[Card], rig_of: Mapping[int, Facts]) -> dict[int, int]:
    """Count the rows without a mark that counts, by card id; cards of one entry, `rig_of` each."""
    seats = Seat.objects.filter(
        entry__in={card.entry_id for card in cards}, judge__in={card.judge_id for card in cards}
    ).order_by()
    sections: dict[tuple[int, int], set[int]] = defaultdict(set)
    for judge_id, entry_id, section_id in seats.values_list("judge_id", "entry_id", "section_id"):
        sections[judge_id, entry_id].add(section_id)
    wanted = {section_id for found in sections.values() for section_id in found}
    rows = list(
        Criterion.objects.filter(section__in=wanted)
        .order_by()
        .values_list("pk", "section_id", "applies")
    )
    given: dict[int, set[int]] = defaultdict(set)
    marks = CardMark.objects.filter(card__in=cards, aside=False).exclude(state=EMPTY).order_by()
    for card_id, row_id in marks.values_list("card_id", "criterion_id"):
        given[card_id].add(row_id)
    return {
        card.pk: sum(
            row_id not in given[card.pk]
            for row_id, section_id, when in rows
            if section_id in sections[card.judge_id, card.entry_id]
            and applies(when, rig_of[card.pk])
        )
        for card in cards
    }
