"""A card is handed in as its judge signed it, whatever the network does to its touches."""

from __future__ import annotations

import random
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from judging.actions.record_events import record_events
from judging.models import Card, CardMark, Question, RoundEvent
from judging.rules.cards.condition import applies
from judging.rules.round.card_hash import card_hash
from judging.rules.round.events import read_event
from tests.judged_show import (
    AT,
    answer,
    build_show,
    clear,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    pair,
    remark,
)
from tests.round_events import rig_found
from tests.small_card import RIGS, SCORECARD

pytestmark = pytest.mark.django_db

ROWS = {
    row["code"]: row.get("applies", {})
    for section in SCORECARD["sections"]
    for row in section["criteria"]
}
OTHER_RIG = {**RIGS[0], "tongue": "stiff", "hitch": "six_up"}


@pytest.fixture
def judged():
    show = build_show(n_judges=2, n_entries=1, kin=False)
    draw_panel(show)
    judge = judge_of(show, "J1")
    return judge, entry_of(show, 1), pair(judge)[0]


class Signing:
    """A phone that numbers its touches and signs the card as it shows it."""

    def __init__(self, entry):
        self.entry, self.rig = entry, RIGS[0]
        self.card, self.events = {}, []

    def _add(self, event):
        seq = len(self.events) + 1
        self.events.append({"id": str(UUID(int=seq)), "seq": seq, **event})

    def rows(self):
        return [code for code, when in ROWS.items() if applies(when, self.rig)]

    def mark(self, code, value):
        event = mark(self.entry, code, value)
        self._add(event)
        self.card[code] = read_event(self.events[-1]).mark

    def clear(self, code):
        self._add(clear(self.entry, code))
        self.card.pop(code, None)

    def find(self, rig):
        self.rig = rig
        self._add(rig_found(self.entry, rig))

    def fill(self, value):
        for code in self.rows():
            self.mark(code, value)

    def touch(self, kind, n):
        """Make one touch of the kind, on one of the first rows of the rig."""
        rows = self.rows()
        if kind == "rig":
            self.find(OTHER_RIG if n % 2 else RIGS[0])
        elif kind == "fill":
            self.fill(n)
        elif kind == "mark":
            self.mark(rows[n % 3 % len(rows)], n)
        else:
            self.clear(rows[n % 3 % len(rows)])

    def finish(self, ends):
        """Make the card whole unless it ends short, and sign it: once, or first another card."""
        lacking = [code for code in self.rows() if code not in self.card]
        for code in lacking if ends != "short" else ():
            self.mark(code, 6)
        if ends in ("another", "signed anew"):
            self.sign("0" * 64)
        if ends != "another":
            self.sign()

    def hash(self):
        return card_hash({code: self.card[code] for code in self.rows() if code in self.card})

    def sign(self, signed=None):
        self._add({**hand_in(self.entry), "hash": signed or self.hash()})
        return self.events[-1]


def came_to(judge, entry):
    card = Card.objects.filter(judge=judge, entry=entry).first()
    marks = CardMark.objects.filter(card=card).values_list("criterion__code", "state", "value")
    return {
        "handed in": card and card.handed_in_seq,
        "marks": sorted(marks),
        "events": sorted(RoundEvent.objects.values_list("seq", "applied", "reason_code")),
    }


touches = st.lists(
    st.tuples(st.sampled_from(["mark", "mark", "clear", "rig", "fill"]), st.integers(0, 8)),
    max_size=8,
)


@settings(
    max_examples=40,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    given_touches=touches,
    ends=st.sampled_from(["signed", "another", "signed anew", "short"]),
    arrival=st.sampled_from(["mixed", "a row late"]),
    largest=st.integers(1, 8),
    seed=st.integers(0, 10_000),
)
# A mark changed and changed back: for a while the card is the one signed, and then it is not.
@example([("mark", 0), ("mark", 3), ("mark", 0)], "signed", "a row late", 1, 3)
@example([("fill", 2), ("rig", 0)], "signed anew", "mixed", 1, 1)
def test_any_order_any_cut_and_any_repeat_end_in_the_card_signed_or_in_none(
    judged, given_touches, ends, arrival, largest, seed
):
    judge, entry, phone = judged
    here = Signing(entry)
    for kind, n in given_touches:
        here.touch(kind, n)
    here.finish(ends)

    def after(batches):
        with transaction.atomic():
            for batch in batches:
                told = record_events(device=phone, events=batch, at=AT)[1].open[entry.pk]
                # A card that is in is the card signed, at every moment.
                assert told.card.handed_in_at is None or told.hash() == here.hash()
            left = came_to(judge, entry)
            assert left["handed in"] in (None, told.card.handed_in_seq)
            transaction.set_rollback(True)
        return left

    expected = after([here.events])
    whole = not set(here.rows()) - set(here.card)
    in_by = here.events[-1]["seq"] if whole and ends != "another" else None
    assert expected["handed in"] == in_by
    assert after(cut(here.events, arrival, largest, random.Random(seed))) == expected


def cut(events, arrival, largest, rng):
    """Half of the touches come twice, in any order or with one row's changes last, in batches."""
    arriving = [*events, *rng.sample(events, k=len(events) // 2)]
    rng.shuffle(arriving)
    if arrival == "a row late":
        row = events[0].get("criterion")
        changes = [event for event in events if event.get("criterion") == row][1:]
        arriving = [*(event for event in events if event not in changes), *changes]
    batches = []
    while arriving:
        size = rng.randint(1, largest)
        batches.append(arriving[:size])
        arriving = arriving[size:]
    return batches


@pytest.fixture
def here(judged):
    return Signing(judged[1])


def sent(judged, *events):
    """Send one batch; return the last outcome and whether the card is in."""
    outcomes, desk = record_events(device=judged[2], events=events, at=AT)
    card = Card.objects.filter(judge=judged[0]).first()
    handed_in = card is not None and card.handed_in_at is not None
    assert handed_in == (desk.open[judged[1].pk].card.handed_in_at is not None)
    return outcomes[-1], handed_in


def test_a_card_that_differs_waits_until_the_missing_touch_comes(judged, here):
    here.fill(6)
    here.mark("rg_wheels", 9)
    *others, changed = here.events
    outcome, handed_in = sent(judged, *others, here.sign())
    assert (outcome.status, outcome.code, handed_in) == ("held", "card-differs", False)
    assert "not the card the office has" in outcome.reason
    assert sent(judged, changed)[1]
    assert not RoundEvent.objects.filter(applied=False).exists()


def test_the_judge_signs_anew_what_the_office_has(judged, here):
    here.fill(6)
    wrong = here.sign("0" * 64)
    assert sent(judged, *here.events)[0].code == "card-differs"
    here.mark("rg_wheels", 9)
    outcome, handed_in = sent(judged, here.events[-1], here.sign())
    assert (outcome.status, handed_in) == ("applied", True)
    assert RoundEvent.objects.get(pk=wrong["id"]).applied
    again = sent(judged, wrong)
    assert (again[0].status, again[0].code, again[1]) == ("duplicate", "", True)


def test_an_earlier_touch_that_comes_late_opens_a_card_that_is_not_the_one_signed(judged, here):
    here.fill(6)
    here.mark("rg_wheels", 9)
    here.mark("rg_wheels", 6)
    nine, six = here.events[-2:]
    signed = here.sign()
    assert sent(judged, *here.events[:-3], signed)[1]
    assert not sent(judged, nine)[1]
    assert RoundEvent.objects.get(pk=signed["id"]).reason_code == "card-differs"
    assert sent(judged, six)[1]
    assert RoundEvent.objects.get(pk=signed["id"]).applied


def test_an_answer_that_corrects_a_mark_leaves_the_card_in(judged, here):
    judge, entry, _ = judged
    here.fill(6)
    held_back = {**remark(entry, "running_gear", "Tight."), "id": str(UUID(int=70)), "seq": 7}
    here.events = [{**event, "seq": event["seq"] * 10} for event in here.events]
    signed = {**here.sign(), "seq": 200}
    assert sent(judged, *here.events[:-1], signed)[1]
    row = CardMark.objects.get(card__judge=judge, criterion__code="rg_wheels").criterion
    question = Question.objects.create(
        judge=judge, entry=entry, criterion=row, value=6, expected=8, statistic=4.0,
        threshold=3.5, alpha=0.05, asked_at=AT,
    )  # fmt: skip
    corrected = {"id": str(UUID(int=71)), "seq": 201, **answer(question, "correct", 8)}
    for event in (corrected, held_back):
        outcome, handed_in = sent(judged, event)
        assert (outcome.status, handed_in) == ("applied", True)
    assert CardMark.objects.get(criterion=row, card__judge=judge).value == 8


def test_an_older_page_that_tells_no_hash_is_taken_as_before(judged, here):
    here.fill(6)
    here.sign()
    del here.events[-1]["hash"]
    outcome, handed_in = sent(judged, *here.events)
    assert (outcome.status, handed_in) == ("applied", True)
