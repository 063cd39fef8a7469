"""A card on paper and the two people who key it."""

from __future__ import annotations

from collections.abc import Mapping

from entries.models import Entry
from judging.actions.key_card import (
    issue_cards,
    key_card,
    take_card,
)
from judging.models import (
    CardMark,
    Judge,
)
from judging.queries.keyings import keyed_card_by_id
from judging.rules.round.keying import State
from showrun.shows.models import Show
from tests.judged_show import (
    AT,
    build_show,
    draw_panel,
    judge_of,
    office_of,
    rows_of,
    steward_of,
)


class Paper:
    """A card on paper at the first wagon of J1, and the two people who key it."""

    def __init__(self) -> None:
        self.show: Show = build_show()
        draw_panel(self.show)
        self.judge: Judge = judge_of(self.show, "J1")
        self.entry: Entry = self.judge.seats.latest("entry__number").entry
        (self.card,) = issue_cards(judge=self.judge, entries=[self.entry], at=AT)
        self.one, self.two = office_of(self.show), steward_of(self.show)
        self.rows = rows_of(self.judge, self.entry)

    def typed(self, value: str = "7", **other: str) -> dict[str, str]:
        rows = {f"row:{row.code}": value for row in self.rows}
        return {**rows, "signed": "yes", **{k.replace("__", ":"): v for k, v in other.items()}}

    def key(self, by, typed: Mapping[str, str] | None = None):
        return key_card(card=self.card, typed=typed or self.typed(), by=by, at=AT)

    def key_twice(self, first=None, second=None):
        self.key(self.one, first)
        return self.key(self.two, second or first)

    def take(self):
        return take_card(card=self.card, by=self.two, at=AT)

    def marks(self) -> dict[str, str]:
        found = CardMark.objects.filter(card__judge=self.judge, card__entry=self.entry)
        return {m.criterion.code: f"{m.state} {m.value}" for m in found.select_related("criterion")}

    @property
    def state(self) -> State:
        return keyed_card_by_id(self.card.pk).state
