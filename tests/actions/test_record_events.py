"""Every touch counts exactly once, whatever the network does to it."""

from __future__ import annotations

import random
from uuid import uuid4

import pytest

from judging.actions.pair_device import shut_out_device
from judging.actions.record_events import record_events
from judging.models import Card, CardMark, Remark, RoundEvent, SafetyConcern, Scorecard
from judging.models.card import EMPTY
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    clear,
    concern,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    not_inspected,
    pair,
    remark,
    rows_of,
    send,
)
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db


@pytest.fixture
def judged():
    """A show with its panel; judge J1, a paired phone, and the first entry J1 is seated at."""
    show = build_show()
    draw_panel(show)
    judge = judge_of(show, "J1")
    device, _ = pair(judge)
    entry = judge.seats.earliest("entry__number").entry
    return show, judge, device, entry


def stamped(events):
    return [
        {"id": str(uuid4()), "seq": seq, "at": "2027-05-15T09:00:00-06:00", **event}
        for seq, event in enumerate(events, start=1)
    ]


def standing(judge):
    """The judge's marks as they stand, and which cards are in."""
    marks = CardMark.objects.filter(card__judge=judge).exclude(state=EMPTY)
    found = {
        (m.card.entry_id, m.criterion.code): (m.state, m.value)
        for m in marks.select_related("card", "criterion")
    }
    cards = Card.objects.filter(judge=judge, handed_in_at__isnull=False)
    return found, set(cards.values_list("entry_id", flat=True))


def test_a_batch_is_taken_and_freezes_the_card(judged):
    _, judge, device, entry = judged
    row = rows_of(judge, entry)[0]
    (outcome,) = send(device, [mark(entry, row.code, 7)])
    assert outcome.status == "applied"
    found, handed_in = standing(judge)
    assert found == {(entry.pk, row.code): ("marked", 7)}
    assert not handed_in
    assert Scorecard.objects.get().frozen_at == AT


def test_any_order_and_any_repeat_end_in_the_same_card(judged):
    show, judge, device, entry = judged
    rows = rows_of(judge, entry)
    touches = [
        *(mark(entry, row.code, 4) for row in rows),
        clear(entry, rows[0].code),
        not_inspected(entry, rows[0].code),
        mark(entry, rows[1].code, 9),
        remark(entry, rows[0].section.code, "first words"),
        remark(entry, rows[0].section.code, "last words"),
        hand_in(entry),
    ]
    expected = None
    for seed in range(12):
        Remark.objects.all().delete()
        CardMark.objects.all().delete()
        Card.objects.all().delete()
        with unguarded(RoundEvent):
            RoundEvent.objects.all().delete()
        events = stamped(touches)
        rng = random.Random(seed)
        arriving = events + rng.sample(events, k=len(events) // 2)
        if seed:
            rng.shuffle(arriving)
        while arriving:
            size = rng.randint(1, 5)
            batch, arriving = arriving[:size], arriving[size:]
            record_events(device=device, events=batch, at=AT)
        seen = standing(judge), Remark.objects.get().text
        expected = expected or seen
        assert seen == expected, f"seed {seed}"
        assert RoundEvent.objects.count() == len(touches)
    assert expected is not None
    assert expected[0][1] == {entry.pk}
    assert expected[1] == "last words"


def test_a_reply_that_got_lost_is_answered_again_and_counted_once(judged):
    _, judge, device, entry = judged
    events = stamped(card_events(judge, entry))
    first, _ = record_events(device=device, events=events, at=AT)
    again, _ = record_events(device=device, events=events, at=AT)
    assert {o.status for o in first} == {"applied"}
    assert {o.status for o in again} == {"duplicate"}
    assert RoundEvent.objects.count() == len(events)


def test_one_bad_event_keeps_no_good_one_out(judged):
    _, judge, device, entry = judged
    rows = rows_of(judge, entry)
    events = stamped([mark(entry, rows[0].code, 7), mark(entry, rows[1].code, 11)])
    events.append("what is this")
    events.append({"kind": "mark"})
    outcomes, _ = record_events(device=device, events=events, at=AT)
    assert [o.status for o in outcomes] == ["applied", "held", "held", "held"]
    assert outcomes[1].code == "mark-over-maximum"
    held = RoundEvent.objects.filter(applied=False)
    assert held.count() == 3
    assert held.get(body="what is this").reason
    again, _ = record_events(device=device, events=events, at=AT)
    assert {o.status for o in again} == {"duplicate"}
    assert RoundEvent.objects.count() == 4


def test_an_id_used_for_two_things_keeps_both(judged):
    _, judge, device, entry = judged
    row = rows_of(judge, entry)[0]
    one = stamped([mark(entry, row.code, 7)])[0]
    other = {**one, "value": "3"}
    first, _ = record_events(device=device, events=[one], at=AT)
    second, _ = record_events(device=device, events=[other], at=AT)
    assert (first[0].status, second[0].status, second[0].code) == ("applied", "held", "id-reused")
    assert standing(judge)[0][entry.pk, row.code] == ("marked", 7)
    assert RoundEvent.objects.count() == 2


def test_a_phone_paired_anew_may_send_again_what_its_old_pairing_sent(judged):
    _, judge, device, entry = judged
    events = stamped([mark(entry, rows_of(judge, entry)[0].code, 7)])
    record_events(device=device, events=events, at=AT)
    again, _ = pair(judge, label="the same phone")
    outcomes, _ = record_events(device=again, events=events, at=AT)
    assert [o.status for o in outcomes] == ["duplicate"]
    assert RoundEvent.objects.count() == 1


def test_letters_no_database_keeps_do_not_lose_the_batch(judged):
    _, judge, device, entry = judged
    row = rows_of(judge, entry)[0]
    outcomes = send(
        device,
        [remark(entry, row.section.code, "dry\x00 \ud83d leather"), mark(entry, row.code, 7)],
    )
    assert [o.status for o in outcomes] == ["applied", "applied"]
    assert "dry" in Remark.objects.get().text


def test_a_hand_in_that_overtakes_its_marks_waits_for_them(judged):
    _, judge, device, entry = judged
    events = stamped(card_events(judge, entry))
    first, _ = record_events(device=device, events=events[-1:], at=AT)
    assert (first[0].status, first[0].code) == ("held", "rows-missing")
    record_events(device=device, events=events[:-1], at=AT)
    assert standing(judge)[1] == {entry.pk}
    assert not RoundEvent.objects.filter(applied=False).exists()


def test_after_the_card_is_handed_in_a_later_touch_is_kept_for_the_office(judged):
    _, judge, device, entry = judged
    send(device, card_events(judge, entry, 6))
    row = rows_of(judge, entry)[0]
    (outcome,) = send(device, [mark(entry, row.code, 9)])
    assert (outcome.status, outcome.code) == ("held", "card-handed-in")
    assert standing(judge)[0][entry.pk, row.code] == ("marked", 6)


def test_another_judges_card_and_a_row_not_on_the_rig_are_held(judged):
    show, judge, device, entry = judged
    kin = judge_of(show, "J2")
    phone, _ = pair(kin)
    (outcome,) = send(phone, [mark(entry_of(show, 1), "rg_wheels", 7)])
    assert (outcome.status, outcome.code) == ("held", "not-your-card")
    stiff = next(
        seat.entry
        for seat in judge.seats.select_related("entry")
        if seat.entry.tongue == "stiff" and seat.section.code == "running_gear"
    )
    (outcome,) = send(device, [mark(stiff, "rg_queen_bolt", 7)])
    assert (outcome.status, outcome.code) == ("held", "criterion-not-on-rig")


def test_two_phones_with_different_marks_keep_both_and_a_person_decides(judged):
    _, judge, device, entry = judged
    second, _ = pair(judge, label="spare")
    row = rows_of(judge, entry)[0]
    send(device, [mark(entry, row.code, 7)])
    (outcome,) = send(second, [mark(entry, row.code, 8)])
    assert (outcome.status, outcome.code) == ("held", "other-device")
    assert standing(judge)[0][entry.pk, row.code] == ("marked", 7)
    shut_out_device(device=device, by=None, at=AT, reason="lost")
    (outcome,) = send(second, [mark(entry, row.code, 8)])
    assert outcome.status == "applied"
    assert standing(judge)[0][entry.pk, row.code] == ("marked", 8)


def test_a_phone_shut_out_sends_into_the_offices_keeping(judged):
    _, judge, device, entry = judged
    shut_out_device(device=device, by=None, at=AT, reason="lost")
    row = rows_of(judge, entry)[0]
    (outcome,) = send(device, [mark(entry, row.code, 7)])
    assert (outcome.status, outcome.code) == ("held", "device-shut-out")
    assert standing(judge)[0] == {}


def test_a_safety_concern_reaches_the_office_and_leaves_the_marks_alone(judged):
    _, judge, device, entry = judged
    row = rows_of(judge, entry)[0]
    send(device, [mark(entry, row.code, 7), concern(entry, "stop", "hame strap", row.code)])
    raised = SafetyConcern.objects.get()
    assert (raised.degree, raised.criterion, raised.seen_at) == ("stop", row, None)
    assert standing(judge)[0] == {(entry.pk, row.code): ("marked", 7)}


def test_the_number_of_queries_does_not_grow_with_the_batch(judged, django_assert_max_num_queries):
    _, judge, device, entry = judged
    events = stamped(card_events(judge, entry))
    with django_assert_max_num_queries(30):
        record_events(device=device, events=events, at=AT)
