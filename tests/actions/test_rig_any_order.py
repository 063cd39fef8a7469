"""However the network cuts, repeats and mixes a phone's touches, the card ends the same."""

from __future__ import annotations

import random
from uuid import UUID

import pytest
from django.db import transaction
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from judging.actions.open_cards import OpenCard
from judging.actions.record_events import record_events
from judging.models import Card, CardMark, RigReport, RoundEvent
from judging.rules.cards.condition import applies
from judging.rules.round.card_hash import card_hash
from tests.judged_show import (
    AT,
    build_show,
    clear,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    pair,
)
from tests.round_events import rig_found
from tests.small_card import RIGS, SCORECARD

pytestmark = pytest.mark.django_db

ROWS = {
    row["code"]: row.get("applies", {})
    for section in SCORECARD["sections"]
    for row in section["criteria"]
}
ENTERED = RIGS[0]
FOUND = (
    ENTERED,
    {**ENTERED, "tongue": "stiff"},
    {**ENTERED, "hitch": "four_up"},
    {**ENTERED, "tongue": "stiff", "hitch": "six_up", "holdback": "side_backer"},
)

# A row that the rig does not have may be touched too: no phone does, and nothing may hang on it.
touches = st.lists(
    st.one_of(
        st.tuples(st.just("mark"), st.sampled_from(sorted(ROWS)), st.integers(0, 10)),
        st.tuples(st.just("clear"), st.sampled_from(sorted(ROWS)), st.just(0)),
        st.tuples(st.just("rig"), st.sampled_from(range(len(FOUND))), st.just(0)),
        st.tuples(st.just("fill"), st.just(""), st.integers(0, 10)),
    ),
    max_size=10,
)


def stream(entry, given, *, complete):
    """The touches as a phone counts them, the card handed in at the end, whole or not."""
    events, rig = [], ENTERED

    def fill(value):
        return [mark(entry, code, value) for code, when in ROWS.items() if applies(when, rig)]

    for kind, what, value in given:
        if kind == "rig":
            rig = FOUND[what]
            events.append(rig_found(entry, rig))
        elif kind == "fill":
            events += fill(value)
        else:
            events.append(mark(entry, what, value) if kind == "mark" else clear(entry, what))
    events += fill(6) if complete else []
    events.append(hand_in(entry))
    return [
        {"id": str(UUID(int=seq)), "seq": seq, **event} for seq, event in enumerate(events, start=1)
    ]


def came_to(judge, entry):
    """All that is left of the card, of the reports and of the events."""
    card = Card.objects.filter(judge=judge, entry=entry).first()
    marks = {
        m.criterion.code: (m.state, m.value, m.aside)
        for m in CardMark.objects.filter(card=card).select_related("criterion")
    }
    kept = CardMark.objects.filter(card=card, aside=False).select_related("criterion")
    given = {m.criterion.code: m.as_value() for m in kept}
    counting = {code: one for code, one in given.items() if one is not None}
    return {
        "rig": card and card.rig,
        "handed in": card is not None and card.handed_in_at is not None,
        "marks": marks,
        "hash": card_hash(counting),
        "reports": sorted(RigReport.objects.values_list("seq", "state")),
        "events": sorted(RoundEvent.objects.values_list("seq", "applied", "reason_code")),
    }


@settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    given_touches=touches,
    complete=st.booleans(),
    arrival=st.sampled_from(["mixed", "backwards", "rigs last", "rigs first"]),
    largest=st.integers(1, 8),
    seed=st.integers(0, 10_000),
)
# A hand-in that was whole only until the rig arrived, and a mark on a row the rig had not yet.
@example([("fill", "", 5), ("rig", 2, 0)], False, "rigs last", 1, 0)
@example([("mark", "hn_leaders", 6), ("rig", 2, 0)], False, "rigs first", 1, 0)
def test_any_order_any_cut_and_any_repeat_end_in_the_same_card(
    judged, given_touches, complete, arrival, largest, seed
):
    judge, entry, phone = judged
    events = stream(entry, given_touches, complete=complete)

    def after(batches):
        with transaction.atomic():
            told: dict[int, OpenCard] = {}
            for batch in batches:
                told = record_events(device=phone, events=batch, at=AT)[1].open or told
            # The receipt the phone gets is made from the same marks that are kept.
            left = came_to(judge, entry)
            assert told[entry.pk].hash() == left["hash"]
            assert (told[entry.pk].card.handed_in_at is not None) == left["handed in"]
            transaction.set_rollback(True)
        return left

    expected = after([events])
    assert expected["handed in"] or not complete
    rng = random.Random(seed)
    assert after(cut(arrange(events, arrival, rng), largest, rng)) == expected


def arrange(events, arrival, rng):
    """The order in which the touches arrive, half of them twice."""
    again = rng.sample(events, k=len(events) // 2)
    if arrival == "backwards":
        return [*events[::-1], *again]
    arriving = [*events, *again]
    rng.shuffle(arriving)
    if arrival != "mixed":
        arriving.sort(key=lambda event: (event["kind"] == "rig") == (arrival == "rigs last"))
    return arriving


def cut(arriving, largest, rng):
    """Cut what arrives into batches."""
    batches = []
    while arriving:
        size = rng.randint(1, largest)
        batches.append(arriving[:size])
        arriving = arriving[size:]
    return batches


@pytest.fixture
def judged():
    show = build_show(n_judges=2, n_entries=1, kin=False)
    draw_panel(show)
    judge = judge_of(show, "J1")
    return judge, entry_of(show, 1), pair(judge)[0]
