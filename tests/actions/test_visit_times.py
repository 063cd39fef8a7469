"""When judges were at the wagons, from what their phones sent, whatever the network did to it."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from judging.actions.pair_device import shut_out_device
from judging.actions.record_events import record_events
from judging.models import Card, CardMark, RoundEvent
from judging.queries.progress import held_events
from judging.queries.visit_times import visit_times
from tests.judged_show import (
    OPENS_AT,
    add_entries,
    build_show,
    card_events,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    office_of,
    open_window,
    pair,
    rows_of,
)
from tests.round_events import opened
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db


def minute(m: float) -> datetime:
    return OPENS_AT + timedelta(minutes=m)


@pytest.fixture
def judged():
    """A published show, judge J1 with a phone, and the first two wagons J1 comes to."""
    show = build_show()
    open_window(show)
    judge = judge_of(show, "J1")
    device, _ = pair(judge)
    own = [time.entry_id for time in visit_times(show) if time.judge_id == judge.pk]
    wagons = [seat.entry for seat in judge.seats.select_related("entry")]
    by_id = {entry.pk: entry for entry in wagons}
    return show, judge, device, by_id[own[0]], by_id[own[1]]


def touches(spec):
    """Events with ids and counts; `spec` is (minute of the phone's clock, event)."""
    return [
        {"id": str(uuid4()), "seq": seq, "at": minute(m).isoformat(), **event}
        for seq, (m, event) in enumerate(spec, start=1)
    ]


def seen(show, judge):
    """Minutes of coming and going of the judge's visits, by entry."""

    def of(moment):
        return None if moment is None else (moment - OPENS_AT).total_seconds() / 60

    return {
        time.entry_id: (of(time.began_at), of(time.ended_at))
        for time in visit_times(show)
        if time.judge_id == judge.pk
    }


def test_a_card_opened_begins_the_visit_and_the_hand_in_ends_it(judged):
    show, judge, device, one, other = judged
    assert set(seen(show, judge).values()) == {(None, None)}
    events = touches(
        [(2, opened(one)), *((4, event) for event in card_events(judge, one)), (13, opened(other))]
    )
    record_events(device=device, events=events, sent_at=minute(14), at=minute(14))
    found = seen(show, judge)
    assert found[one.pk] == (2, 4)
    assert found[other.pk] == (13, None)


def test_opened_cards_change_no_card_and_wait_for_nobody(judged):
    show, judge, device, one, _ = judged
    (outcome,), _ = record_events(
        device=device, events=touches([(2, opened(one))]), sent_at=minute(3), at=minute(3)
    )
    assert outcome.status == "applied"
    assert not Card.objects.exists()
    assert not CardMark.objects.exists()
    assert not held_events(show)


def test_an_opening_after_the_hand_in_or_at_somebody_elses_wagon_is_kept_without_effect(judged):
    show, judge, device, one, _ = judged
    everywhere = {seat.entry_id for seat in judge.seats.all()}
    strange = next(e for e in map(lambda n: entry_of(show, n), range(1, 6)))
    if strange.pk in everywhere:
        judge.seats.filter(entry=strange).delete()
    late = touches(
        [(2, opened(one)), *((5, e) for e in card_events(judge, one)), (9, opened(one)),
         (10, opened(strange))]
    )  # fmt: skip
    outcomes, _ = record_events(device=device, events=late, sent_at=minute(10), at=minute(10))
    assert {outcome.status for outcome in outcomes} == {"applied"}
    assert seen(show, judge)[one.pk] == (2, 5)
    assert Card.objects.filter(judge=judge, handed_in_at__isnull=False).count() == 1


def test_any_order_and_any_repeat_end_in_the_same_times(judged):
    show, judge, device, one, other = judged
    rows = [row.code for row in rows_of(judge, one)]
    sent = touches(
        [(1, opened(one)), *((2 + k, mark(one, code, 5)) for k, code in enumerate(rows)),
         (20, hand_in(one)), (22, opened(other)),
         (24, mark(other, rows_of(judge, other)[0].code, 4)),
         (25, opened(other))]
    )  # fmt: skip
    expected = {one.pk: (1, 20), other.pk: (22, None)}
    for seed in range(8):
        Card.objects.all().delete()
        with unguarded(RoundEvent):
            RoundEvent.objects.all().delete()
        rng = random.Random(seed)
        arriving = sent + rng.sample(sent, k=len(sent) // 2)
        rng.shuffle(arriving)
        while arriving:
            size = rng.randint(1, 5)
            batch, arriving = arriving[:size], arriving[size:]
            record_events(device=device, events=batch, sent_at=minute(40), at=minute(40))
        found = seen(show, judge)
        assert {key: found[key] for key in expected} == expected, f"seed {seed}"
        assert RoundEvent.objects.count() == len(sent)


def test_a_phone_whose_clock_is_wrong_tells_the_right_times(judged):
    show, judge, device, one, _ = judged
    fast = touches([(62, opened(one)), (65, mark(one, rows_of(judge, one)[0].code, 5))])
    record_events(device=device, events=fast, sent_at=minute(70), at=minute(10))
    assert seen(show, judge)[one.pk] == (2, None)


def test_without_the_phones_clock_no_time_lies_beyond_the_moment_it_was_received(judged):
    show, judge, device, one, _ = judged
    fast = touches([(62, opened(one))])
    record_events(device=device, events=fast, at=minute(10))
    assert seen(show, judge)[one.pk] == (10, None)


def test_without_an_opening_the_first_mark_begins_the_visit(judged):
    show, judge, device, one, _ = judged
    code = rows_of(judge, one)[0].code
    record_events(
        device=device, events=touches([(6, mark(one, code, 5)), (7, mark(one, code, 6))]),
        sent_at=minute(8), at=minute(8),
    )  # fmt: skip
    assert seen(show, judge)[one.pk] == (6, None)


def test_a_card_that_only_was_looked_at_is_no_visit(judged):
    show, judge, device, one, other = judged
    record_events(
        device=device,
        events=touches([(1, opened(other)), (2, opened(one))]),
        sent_at=minute(3), at=minute(3),
    )  # fmt: skip
    found = seen(show, judge)
    assert (found[one.pk], found[other.pk]) == ((2, None), (None, None))


def test_two_phones_of_one_judge_are_one_judge(judged):
    show, judge, device, one, other = judged
    record_events(device=device, events=touches([(3, opened(one))]), at=minute(4))
    shut_out_device(device=device, by=office_of(show), at=minute(5), reason="wet")
    second, _ = pair(judge)
    rest = touches([(9, event) for event in card_events(judge, one)])
    record_events(device=second, events=rest, sent_at=minute(10), at=minute(10))
    assert seen(show, judge)[one.pk] == (3, 9)


def test_the_same_number_of_queries_for_any_number_of_wagons():
    counts = []
    for slug, n in (("few-wagons", 3), ("many-wagons", 9)):
        show = build_show(slug=slug, n_entries=3)
        add_entries(show, n - 3)
        draw_panel(show)
        open_window(show)
        judge = judge_of(show, "J1")
        device, _ = pair(judge)
        events = [(2, opened(seat.entry)) for seat in judge.seats.select_related("entry")]
        record_events(device=device, events=touches(events), at=minute(3))
        with CaptureQueriesContext(
            connection,
        ) as seen_queries:
            assert visit_times(show)
        counts.append(len(seen_queries))
    assert counts == [3, 3]


def test_instants_are_kept_in_utc(judged):
    show, judge, device, one, _ = judged
    event = {**touches([(0, opened(one))])[0], "at": "2027-05-15T08:05:00-06:00"}
    record_events(device=device, events=[event], at=minute(30))
    assert RoundEvent.objects.get().happened_at == datetime(2027, 5, 15, 14, 5, tzinfo=UTC)
