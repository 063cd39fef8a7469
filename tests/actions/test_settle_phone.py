"""The office takes in, or leaves out, what came too late."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from judging.actions.compute_result import compute_result
from judging.actions.pair_device import shut_out_device
from judging.actions.release_result import release_result, sign_result
from judging.actions.settle import settle_event
from judging.actions.settle_phone import leave_out_phone, take_in_event, take_in_phone
from judging.models import CardMark, RoundEvent, SafetyConcern
from judging.queries.held import held_by_phone
from judging.queries.progress import held_events
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    class_of,
    concern,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    office_of,
    open_window,
    pair,
    rows_of,
    send,
    steward_of,
)

pytestmark = pytest.mark.django_db

TOO_LATE = datetime(2027, 5, 15, 20, 1, tzinfo=UTC)
SHUT_OUT, AFTER_WINDOW = "device-shut-out", "after-window"


class Case:
    """A judge with a phone at the first of their wagons, and what the office does."""

    def __init__(self):
        self.show = build_show()
        open_window(self.show)
        self.judge = judge_of(self.show, "J1")
        self.phone, _ = pair(self.judge)
        self.entry = self.judge.seats.earliest("entry__number").entry
        self.row = rows_of(self.judge, self.entry)[0]
        self.office = office_of(self.show)

    def shut_out(self):
        shut_out_device(device=self.phone, by=self.office, at=AT, reason="Lost in the creek.")

    def mark(self, value):
        return mark(self.entry, self.row.code, value)

    def stands(self):
        """The value on the first row, and whether the card is in."""
        given = CardMark.objects.filter(card__entry=self.entry, criterion=self.row).first()
        card = self.judge.cards.filter(entry=self.entry).first()
        return given and given.value, bool(card and card.handed_in_at)

    def told(self, **more):
        return {"device": self.phone, "by": self.office, "at": AT, "note": "Found again.", **more}

    def held(self):
        return sorted(event.reason_code for event in held_events(self.show))

    def recorded(self, verb):
        return AuditEntry.objects.get(show=self.show, verb=verb)


@pytest.fixture
def case():
    return Case()


# --- A phone that was shut out -------------------------------------------------------------


def test_all_of_a_phone_shut_out_is_taken_in_as_if_it_had_come_before(case):
    send(case.phone, [case.mark(3)])
    case.shut_out()
    events = card_events(case.judge, case.entry, 6)
    send(case.phone, events)
    assert case.stands() == (3, False)
    groups = held_by_phone(held_events(case.show))
    assert [(one.code, one.n_touches) for one in groups] == [(SHUT_OUT, len(events))]
    taken = take_in_phone(code=SHUT_OUT, **case.told())
    assert (taken.applied, list(taken.held)) == (len(events), [])
    assert case.stands() == (6, True)
    assert case.held() == []
    line = case.recorded("took in")
    assert (line.actor, line.reason) == (case.office, "Found again.")
    assert line.after == {"took_effect": len(events), "still_held": {}}
    assert len(line.before) == len(events)
    assert {one["reason"] for one in line.before} == {SHUT_OUT}


def test_what_cannot_take_effect_stays_held_with_its_own_reason(case):
    spare, _ = pair(case.judge, label="spare")
    send(spare, [case.mark(5)])
    second = rows_of(case.judge, case.entry)[1]
    case.shut_out()
    touches = [
        case.mark(6),
        mark(case.entry, second.code, 11),
        {**mark(case.entry, second.code, 4), "at": TOO_LATE.isoformat()},
        {"kind": "?!"},
        concern(case.entry, "mend", "Hub."),
    ]
    send(case.phone, touches, at=TOO_LATE)
    taken = take_in_phone(code=SHUT_OUT, **case.told(at=TOO_LATE))
    assert taken.applied == 1
    assert case.held() == ["after-window", "after-window", "mark-over-maximum", "unreadable"]
    assert SafetyConcern.objects.get().text == "Hub."
    # Taken in although they are late; then the other phone's mark stands in the way of one.
    taken = take_in_phone(code=AFTER_WINDOW, **case.told(at=TOO_LATE))
    assert taken.applied == 1
    assert case.held() == ["mark-over-maximum", "other-device", "unreadable"]
    assert case.stands()[0] == 5


def test_an_id_used_for_two_things_is_not_taken_in(case):
    first = {**case.mark(3), "id": "00000000-0000-4000-8000-000000000001", "seq": 1}
    send(case.phone, [first])
    case.shut_out()
    send(case.phone, [{**first, "value": "9"}])
    assert case.held() == [SHUT_OUT]
    take_in_phone(code=SHUT_OUT, **case.told())
    assert (case.held(), case.stands()[0]) == (["id-reused"], 3)


def test_a_hand_in_that_waited_before_takes_effect_with_its_marks(case):
    *marks, signed = card_events(case.judge, case.entry, 6)
    send(case.phone, [*marks[:-1], {**signed, "seq": 90}])
    case.shut_out()
    send(case.phone, [{**marks[-1], "seq": 80}])
    assert case.held() == [SHUT_OUT, "rows-missing"]
    take_in_phone(code=SHUT_OUT, **case.told())
    assert (case.held(), case.stands()[1]) == ([], True)


def test_nothing_of_a_phone_shut_out_takes_effect_by_itself(case):
    *marks, signed = card_events(case.judge, case.entry, 6)
    send(case.phone, [*marks[:-1], signed])
    case.shut_out()
    spare, _ = pair(case.judge, label="spare")
    send(spare, [marks[-1]])
    # Its hand-in lacks nothing any more, and it is heard of again.
    send(case.phone, [])
    assert not case.stands()[1]


def test_what_is_left_out_is_settled_and_never_counts(case):
    case.shut_out()
    events = card_events(case.judge, case.entry, 6)
    send(case.phone, events)
    n = leave_out_phone(code=SHUT_OUT, **case.told(note="A stranger had it."))
    assert (n, case.held(), case.stands()) == (len(events), [], (None, False))
    kept = RoundEvent.objects.filter(device=case.phone)
    assert set(kept.values_list("applied", "settled_note", "settled_by")) == {
        (False, "A stranger had it.", case.office.pk)
    }
    line = case.recorded("left out")
    assert (line.reason, len(line.before)) == ("A stranger had it.", len(events))
    with pytest.raises(Conflict):
        take_in_phone(code=SHUT_OUT, **case.told())


# --- What was late -------------------------------------------------------------------------


def test_late_touches_are_taken_in_one_by_one_or_by_the_phone(case):
    events = card_events(case.judge, case.entry, 6)
    send(case.phone, events, at=TOO_LATE)
    first = RoundEvent.objects.get(seq=1)
    assert take_in_event(event=first, note="Ran late.", by=case.office, at=TOO_LATE).applied == 1
    assert case.stands() == (6, False)
    with pytest.raises(Conflict):
        take_in_event(event=first, note="Again.", by=case.office, at=TOO_LATE)
    take_in_phone(code=AFTER_WINDOW, **case.told(at=TOO_LATE))
    assert (case.stands(), case.held()) == ((6, True), [])


def test_a_mark_taken_in_after_the_signature_makes_the_result_be_signed_anew(case):
    events = card_events(case.judge, case.entry)
    events[-1]["seq"] = 90
    send(case.phone, events)
    value = int(events[0]["value"]) + 1
    mark_everything(case.show)
    result = compute_result(show_class=class_of(case.show), by=case.office, at=AT)
    for hand in (case.office, steward_of(case.show)):
        result = sign_result(result=result, by=hand, at=AT)
    changed = {**case.mark(value), "seq": 80}
    assert [o.code for o in send(case.phone, [changed])] == ["after-signature"]
    event = RoundEvent.objects.get(applied=False)
    take_in_event(event=event, note="Judge confirms.", by=case.office, at=AT)
    assert case.stands() == (value, True)
    with pytest.raises(NotYet) as refused:
        release_result(result=result, by=case.office, at=AT)
    assert refused.value.code == "marks-changed"


def test_a_card_that_differs_is_not_taken_in_by_the_office(case):
    *marks, signed = card_events(case.judge, case.entry, 6)
    send(case.phone, [*marks, {**signed, "hash": "0" * 64}])
    event = RoundEvent.objects.get(applied=False)
    assert event.reason_code == "card-differs"
    with pytest.raises(Conflict):
        take_in_event(event=event, note="It will do.", by=case.office, at=AT)
    with pytest.raises(InvalidInput):
        take_in_phone(code="card-differs", **case.told())
    settle_event(event=event, note="The judge signs anew.", by=case.office, at=AT)
    assert not case.stands()[1]
    (again,) = send(case.phone, [hand_in(case.entry)])
    assert (again.status, case.stands()[1]) == ("applied", True)


@pytest.mark.parametrize("act", [take_in_phone, leave_out_phone])
def test_a_reason_is_needed_and_something_must_wait(case, act):
    with pytest.raises(Conflict):
        act(code=SHUT_OUT, **case.told())
    case.shut_out()
    send(case.phone, [case.mark(6)])
    with pytest.raises(InvalidInput):
        act(code=SHUT_OUT, **case.told(note="  "))
    assert (case.held(), case.stands()[0]) == ([SHUT_OUT], None)
