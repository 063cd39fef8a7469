"""A paper card started over: what stands then is what the new keying says."""

from __future__ import annotations

import pytest

from judging.actions.key_card import (
    start_over,
)
from judging.models import (
    Card,
    Keying,
    Remark,
    RoundEvent,
)
from judging.queries.keyings import keyed_from_paper
from judging.rules.round.keying import State
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry
from tests.judged_show import (
    AT,
    hand_in,
    mark,
    pair,
    send,
)
from tests.paper_card import Paper

pytestmark = pytest.mark.django_db


@pytest.fixture
def paper() -> Paper:
    return Paper()


def test_starting_over_keeps_what_was_keyed_and_lets_new_values_in(paper: Paper) -> None:
    with pytest.raises(Conflict, match="Nobody has keyed"):
        start_over(card=paper.card, reason="Why not.", by=paper.one, at=AT)
    paper.key_twice(paper.typed("5") | {"signed": "no"})
    paper.take()
    with pytest.raises(InvalidInput):
        start_over(card=paper.card, reason="  ", by=paper.one, at=AT)
    again = start_over(card=paper.card, reason="Wrong card read.", by=paper.one, at=AT)
    assert again.state is State.NOT_KEYED
    assert keyed_from_paper(paper.show) == {}
    paper.key_twice(paper.typed("6"))
    assert paper.take().handed_in
    assert set(paper.marks().values()) == {"marked 6.00"}
    assert Keying.objects.count() == 4
    assert AuditEntry.objects.get(verb="started over").reason == "Wrong card read."


def test_a_card_keyed_anew_loses_what_the_paper_does_not_say(paper: Paper) -> None:
    row, section = paper.rows[0].code, paper.rows[0].section.code
    paper.key_twice({**paper.typed("5"), f"remark:{section}": "Of another wagon."})
    assert paper.take().handed_in
    start_over(card=paper.card, reason="Another card was read.", by=paper.one, at=AT)
    # The card is open again: half a correction must not stand as the judge's word.
    assert Card.objects.get().handed_in_at is None
    line = AuditEntry.objects.get(verb="started over")
    assert line.before["handed_in_by_paper"] is True
    paper.key_twice(paper.typed("6", **{f"row__{row}": "."}))
    taken = paper.take()
    assert (taken.held, taken.handed_in, taken.lacking) == (0, False, 1)
    assert paper.marks()[row] == "empty None"
    assert set(paper.marks().values()) == {"empty None", "marked 6.00"}
    assert Remark.objects.get().text == ""
    before = RoundEvent.objects.count()
    again = paper.take()
    assert (again.held, again.handed_in, again.lacking) == (0, False, 1)
    assert RoundEvent.objects.count() == before


def test_keying_anew_leaves_a_phones_mark_and_hand_in_alone(paper: Paper) -> None:
    row = paper.rows[0].code
    phone, _ = pair(paper.judge)
    send(phone, [mark(paper.entry, row, 3)])
    paper.key_twice(paper.typed("3", **{f"row__{row}": "."}))
    assert paper.take().handed_in
    start_over(card=paper.card, reason="Look again.", by=paper.one, at=AT)
    send(phone, [hand_in(paper.entry)])
    paper.key_twice(paper.typed("3", **{f"row__{row}": "."}))
    paper.take()
    assert paper.marks()[row] == "marked 3.00"
    start_over(card=paper.card, reason="And again.", by=paper.one, at=AT)
    assert Card.objects.get().handed_in_at == AT
    last = AuditEntry.objects.filter(verb="started over").latest("pk")
    assert last.before["handed_in_by_paper"] is False
