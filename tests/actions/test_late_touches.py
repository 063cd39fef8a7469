"""What is made after the judging window, or arrives after a signature, waits for the office."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from judging.actions.compute_result import compute_result
from judging.actions.key_card import issue_cards, key_card, start_over, take_card
from judging.actions.record_events import record_events
from judging.actions.release_result import sign_result
from judging.actions.take_paper import paper_of
from judging.models import CardMark, DayRules, Judge, RoundEvent, Visit, Window
from tests import practice_wagon
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    class_of,
    concern,
    draw_panel,
    entry_of,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    office_of,
    open_window,
    pair,
    remark,
    rows_of,
    send,
    steward_of,
)
from tests.remembered import remembered
from tests.round_events import clear, opened, rig_found
from tests.small_card import RIGS

pytestmark = pytest.mark.django_db

# The window is of 300 minutes from 14:00, and the grace is an hour.
ENDS_AT = datetime(2027, 5, 15, 19, 0, tzinfo=UTC)
IN_GRACE = ENDS_AT + timedelta(minutes=60)
TOO_LATE = IN_GRACE + timedelta(minutes=1)


@pytest.fixture
@remembered
def show():
    """A show with its window published."""
    show = build_show()
    open_window(show)
    return show


@pytest.fixture
def judge(show):
    return judge_of(show, "J1")


def wagon_of(judge):
    return judge.seats.earliest("entry__number").entry


def a_mark(judge, value=7):
    entry = wagon_of(judge)
    return mark(entry, rows_of(judge, entry)[0].code, value)


def codes(device, events, *, made, came=None):
    """Send touches made at one time that arrive at another; return why each is held."""
    touches = [{**event, "at": made.isoformat()} for event in events]
    return [outcome.code for outcome in send(device, touches, at=came or made)]


# --- The window ----------------------------------------------------------------------------


def test_it_counts_when_a_touch_was_made_not_when_it_comes(judge):
    phone, _ = pair(judge)
    days_later = TOO_LATE + timedelta(days=3)
    assert codes(phone, [a_mark(judge, 5)], made=IN_GRACE, came=days_later) == [""]
    assert codes(phone, [a_mark(judge, 6)], made=TOO_LATE, came=days_later) == ["after-window"]
    assert CardMark.objects.get().value == 5


def test_whatever_changes_a_card_is_held_and_nothing_else(judge):
    phone, _ = pair(judge)
    entry = wagon_of(judge)
    row = rows_of(judge, entry)[0]
    changing = [
        mark(entry, row.code, 7),
        clear(entry, row.code),
        remark(entry, row.section.code, "Dry."),
        rig_found(entry, RIGS[1]),
        hand_in(entry),
    ]
    told = codes(phone, [*changing, opened(entry), concern(entry, "stop", "Rod.")], made=TOO_LATE)
    assert told == ["after-window"] * 5 + ["", ""]


def test_a_touch_that_could_never_count_keeps_its_own_reason(judge):
    phone, _ = pair(judge)
    assert codes(phone, [a_mark(judge, 11)], made=TOO_LATE) == ["mark-over-maximum"]


def test_the_office_sets_the_grace(show, judge):
    DayRules.objects.create(show=show, grace_minutes=0)
    phone, _ = pair(judge)
    made = ENDS_AT + timedelta(minutes=1)
    assert codes(phone, [a_mark(judge)], made=made) == ["after-window"]
    DayRules.objects.update(grace_minutes=120)
    assert codes(phone, [a_mark(judge)], made=TOO_LATE) == [""]


def test_visits_announced_beyond_the_window_move_its_end(show, judge):
    phone, _ = pair(judge)
    last = Visit.objects.filter(window__show=show).latest("ends_at")
    Visit.objects.filter(pk=last.pk).update(ends_at=ENDS_AT + timedelta(minutes=30))
    assert codes(phone, [a_mark(judge)], made=TOO_LATE) == [""]
    later = TOO_LATE + timedelta(minutes=30)
    assert codes(phone, [a_mark(judge)], made=later) == ["after-window"]


@pytest.mark.parametrize("spoil", ["withdrawn", "sized", "none"])
def test_without_announced_times_nothing_is_after_the_window(spoil):
    show = build_show()
    if spoil == "none":
        draw_panel(show)
    else:
        open_window(show, publish=spoil == "withdrawn")
    if spoil == "withdrawn":
        Window.objects.update(published_at=None)
    judge = judge_of(show, "J1")
    phone, _ = pair(judge)
    assert codes(phone, [a_mark(judge)], made=TOO_LATE) == [""]


def test_practice_is_never_late(show, judge):
    wagon = practice_wagon.set_up(show)
    phone, _ = pair(judge)
    told = codes(phone, card_events(judge, wagon, 7), made=TOO_LATE + timedelta(days=30))
    assert set(told) == {""}


def test_paper_is_keyed_after_the_window_by_its_nature(judge):
    paper = paper_of(judge, AT)
    assert codes(paper, [a_mark(judge)], made=TOO_LATE + timedelta(days=1)) == [""]


# --- The signature -------------------------------------------------------------------------


def sign(show, code, at=AT):
    result = compute_result(show_class=class_of(show, code), by=office_of(show), at=at)
    return sign_result(result=result, by=office_of(show), at=at)


def test_what_arrives_after_the_signature_waits_whenever_it_was_made(show, judge):
    mark_everything(show)
    phone = judge.devices.get()
    sign(show, "trail")
    before = CardMark.objects.values_list("pk", "value", "version")
    stood = set(before)
    entry = wagon_of(judge)
    made = AT - timedelta(minutes=30)
    told = codes(phone, [a_mark(judge, 2), hand_in(entry)], made=made, came=AT)
    assert told == ["after-signature"] * 2
    assert codes(phone, [concern(entry, "mend", "Rod.")], made=made, came=AT) == [""]
    assert set(before.all()) == stood


def test_a_touch_made_before_the_hand_in_is_held_too_and_opens_no_card(show, judge):
    entry = wagon_of(judge)
    phone, _ = pair(judge)
    row = rows_of(judge, entry)[0]
    late = {**clear(entry, row.code), "seq": 50}
    send(phone, [*card_events(judge, entry)[:-1], {**hand_in(entry), "seq": 60}])
    mark_everything(show)
    sign(show, "trail")
    assert [o.code for o in send(phone, [late])] == ["after-signature"]
    assert judge.cards.get(entry=entry).handed_in_at is not None


def test_paper_too_is_held_after_the_signature(show, judge):
    mark_everything(show)
    sign(show, "trail")
    assert codes(paper_of(judge, AT), [a_mark(judge, 1)], made=AT) == ["after-signature"]


def test_a_card_that_no_signed_result_counts_goes_on(show):
    # The harness class counts its own section alone, and is signed before the others are in.
    cards: dict[tuple[str, int], set[str]] = {}
    for seat in judge_seats(show):
        cards.setdefault((seat.judge.code, seat.entry.number), set()).add(seat.section.code)
    aside, counted = (
        next(card for card, sections in sorted(cards.items()) if ("harness" in sections) == yes)
        for yes in (False, True)
    )
    mark_everything(show, leave_out=[aside])
    sign(show, "working_harness")
    for (code, number), late in ((aside, False), (counted, True)):
        judge, entry = judge_of(show, code), entry_of(show, number)
        phone = judge.devices.first() or pair(judge)[0]
        told = codes(phone, card_events(judge, entry), made=AT)
        assert set(told) == ({"after-signature"} if late else {""})


def test_a_paper_card_keyed_anew_counts_after_a_signature_until_it_is_taken(show):
    judge = judge_of(show, "J1")
    entry = wagon_of(judge)
    mark_everything(show, leave_out=[(judge.code, entry.number)])
    (card,) = issue_cards(judge=judge, entries=[entry], at=AT)
    given = {one["criterion"]: one["value"] for one in card_events(judge, entry)[:-1]}
    row = min(given)

    def key_and_take(**other):
        typed = {f"row:{code}": str(value) for code, value in {**given, **other}.items()}
        typed["signed"] = "yes"
        for by in (office_of(show), steward_of(show)):
            key_card(card=card, typed=typed, by=by, at=TOO_LATE)
        return take_card(card=card, by=office_of(show), at=TOO_LATE)

    assert key_and_take().handed_in
    sign(show, "trail", at=TOO_LATE)
    start_over(card=card, reason="Another wagon's card was read.", by=office_of(show), at=TOO_LATE)
    # To a phone the card stays signed.
    late = {**mark(entry, row, 1), "at": AT.isoformat()}
    assert [one.code for one in send(pair(judge)[0], [late], at=TOO_LATE)] == ["after-signature"]
    taken = key_and_take(**{row: "2"})
    assert (taken.held, taken.handed_in) == (0, True)
    assert (
        CardMark.objects.get(card__entry=entry, criterion__code=row, card__judge=judge).value == 2
    )


def judge_seats(show):
    return [
        seat
        for judge in Judge.objects.filter(show=show)
        for seat in judge.seats.select_related("judge", "entry", "section")
    ]


def test_another_show_and_another_judge_are_not_late(show):
    other = build_show(slug="other-ground")
    mark_everything(show)
    sign(show, "trail")
    draw_panel(other)
    judge = judge_of(other, "J1")
    assert codes(pair(judge)[0], [a_mark(judge)], made=TOO_LATE) == [""]


# --- What it costs -------------------------------------------------------------------------


def test_it_takes_two_reads_a_batch_however_many_touches(show, judge):
    phone, _ = pair(judge)
    entries = {seat.entry for seat in judge.seats.select_related("entry")}
    marks = [mark(entry, row.code, 7) for entry in entries for row in rows_of(judge, entry)]

    def reads(events, at):
        batch = [
            {**event, "id": f"00000000-0000-4000-8000-{n:012}", "seq": n, "at": at.isoformat()}
            for n, event in enumerate(events, start=1 + RoundEvent.objects.count())
        ]
        with CaptureQueriesContext(connection) as asked:
            record_events(device=phone, events=batch, at=at)
        tables = ("judging_window", "judging_visit", "judging_signature")
        return sum(any(f'FROM "{table}"' in q["sql"] for table in tables) for q in asked)

    assert reads(marks[:1], AT) == reads(marks[1:6], AT) == 2
    # How far visits go, and the grace, is asked only when the window is over.
    assert reads(marks[6:7], IN_GRACE) == reads(marks[7:], IN_GRACE) == 3
    assert reads([opened(wagon_of(judge))], AT) == 0
