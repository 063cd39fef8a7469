"""Answers: by the judge on the phone, by the office with two officers, and what follows."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from judging.actions.answer_question import (
    answer_question,
    close_question,
    send_back,
    stand_by,
)
from judging.actions.compute_result import compute_result
from judging.actions.release_result import sign_result
from judging.models import Card, CardMark, Criterion, Device, Question
from judging.queries.round import round_bundle
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import (
    AT,
    answer,
    build_show,
    class_of,
    entry_of,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    office_of,
    send,
    steward_of,
)
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db
State = Question.State


@pytest.fixture(scope="module")
def judged_pk(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    with kept_for_module(django_db_blocker):
        show = build_show(n_judges=3, judges_per_section=3, kin=False)
        mark_everything(show)
        yield show.pk


@pytest.fixture
def show(judged_pk: int, db: None) -> Show:
    return Show.objects.get(pk=judged_pk)


def question(show: Show, kind: str, **more: Any) -> Question:
    """Ask J1 something about wagon 2, or wagons 2 and 4, or the day."""
    fields: dict[str, Any] = {
        "judge": judge_of(show, "J1"), "kind": kind, "check_name": kind, "asked_at": AT,
        "statistic": 5.0, "threshold": 4.0, "alpha": 0.05, "sentence": "Was it so?",
        "asked_about": "0" * 64,
    }  # fmt: skip
    if kind == "marks":
        stands = mark_of(show)
        fields |= {"criterion": stands.criterion, "value": stands.value, "expected": 9}
    if kind != "day":
        fields["entry"] = entry_of(show, 2)
    if kind == "swaps":
        fields["other_entry"] = entry_of(show, 4)
    return Question.objects.create(**{**fields, **more})


def mark_of(show: Show) -> CardMark:
    return CardMark.objects.select_related("criterion").get(
        card__judge=judge_of(show, "J1"), card__entry=entry_of(show, 2), criterion__code="ck_order"
    )


def phone_of(show: Show) -> Device:
    phone = judge_of(show, "J1").devices.first()
    assert phone
    return phone


def open_cards(show: Show) -> list[int]:
    cards = Card.objects.filter(judge=judge_of(show, "J1"), handed_in_at__isnull=True)
    return sorted(card.entry.number or 0 for card in cards.select_related("entry"))


def everything(show: Show) -> list[Any]:
    return sorted(CardMark.objects.values_list("pk", "state", "value", "version"))


def told(show: Show, asked: Question, verdict: str, value: int | None = None) -> str:
    """Let the judge answer on the phone; say what came of the touch."""
    (outcome,) = send(phone_of(show), [answer(asked, verdict, value, "As I recall.")])
    asked.refresh_from_db()
    return outcome.code or outcome.status


# --- The judge answers on the phone -----------------------------------------------------------


@pytest.mark.parametrize("kind", ["marks", "cards", "swaps", "day"])
@pytest.mark.parametrize(
    ("verdict", "state"), [("confirm", State.CONFIRMED), ("unsure", State.CANNOT_RECALL)]
)
def test_what_is_confirmed_or_not_recalled_stands(
    show: Show, kind: str, verdict: str, state: Question.State
):
    before, asked = everything(show), question(show, kind)
    assert told(show, asked, verdict) == "applied"
    assert (asked.state, asked.reason) == (state, "As I recall.")
    assert asked.answered_by == judge_of(show, "J1").person
    assert everything(show) == before
    assert open_cards(show) == []
    assert AuditEntry.objects.filter(reason="As I recall.").count() == 1
    assert told(show, asked, "confirm") == "question-answered"


def test_a_corrected_mark_is_the_judges_own(show: Show):
    asked = question(show, "marks")
    assert told(show, asked, "correct", 9) == "applied"
    assert asked.state == State.CORRECTED
    assert mark_of(show).value == 9
    assert open_cards(show) == []


@pytest.mark.parametrize(("kind", "cards"), [("cards", [2]), ("swaps", [2, 4])])
def test_cards_to_be_put_right_come_back_to_the_judge(show: Show, kind: str, cards: list[int]):
    before, asked = everything(show), question(show, kind)
    assert told(show, asked, "correct") == "applied"
    assert asked.state == State.CORRECTED
    assert open_cards(show) == cards
    assert everything(show) == before, "the judge changes the marks, not the answer"
    line = AuditEntry.objects.get(verb__startswith="corrected ")
    assert line.after == {"reopened": [f"wagon {number}" for number in cards]}
    touches = [mark(entry_of(show, n), "ck_order", 9) for n in cards]
    touches += [hand_in(entry_of(show, n)) for n in cards]
    assert {one.status for one in send(phone_of(show), touches)} == {"applied"}
    assert open_cards(show) == []
    assert mark_of(show).value == 9


def test_an_answer_the_new_marks_and_the_signature_may_come_in_one_batch(show: Show):
    asked, entry = question(show, "cards"), entry_of(show, 2)
    touches = [answer(asked, "correct"), mark(entry, "ck_order", 9), hand_in(entry)]
    assert [one.status for one in send(phone_of(show), touches)] == ["applied"] * 3
    assert open_cards(show) == []
    assert mark_of(show).value == 9


def test_a_card_given_back_is_never_too_late_until_it_is_signed(show: Show):
    asked, entry, late = question(show, "cards"), entry_of(show, 2), AT + timedelta(days=1)
    compute_and_ask_nothing(show)
    assert [o.status for o in send(phone_of(show), [answer(asked, "correct")], at=late)] == [
        "applied"
    ]
    touches = [mark(entry, "ck_order", 9), hand_in(entry)]
    assert [one.status for one in send(phone_of(show), touches, at=late)] == ["applied"] * 2
    (again,) = send(phone_of(show), [mark(entry, "ck_order", 8)], at=late)
    assert again.status == "held"
    assert mark_of(show).value == 9


def compute_and_ask_nothing(show: Show) -> None:
    """Sign a class while nothing is open about it, so that later touches are late."""
    Question.objects.update(state=State.CONFIRMED)
    result = compute_result(show_class=class_of(show), by=office_of(show), at=AT)
    sign_result(result=result, by=office_of(show), at=AT)
    Question.objects.update(state=State.OPEN)


def test_a_question_about_the_day_asks_for_no_mark(show: Show):
    asked = question(show, "day")
    assert told(show, asked, "correct") == "not-about-marks"
    assert asked.state == State.OPEN
    assert told(show, asked, "maybe") == "unreadable"


def test_another_judge_cannot_answer(show: Show):
    asked = question(show, "cards", judge=judge_of(show, "J2"))
    assert told(show, asked, "correct") == "question-unknown"
    assert not Card.objects.filter(handed_in_at__isnull=True).exists()


def test_the_phone_is_told_the_kind_and_null_for_what_does_not_fit(show: Show):
    asked = {kind: question(show, kind) for kind in ("marks", "cards", "swaps", "day")}
    told = {one["id"]: one for one in round_bundle(phone_of(show), at=AT)["questions"]}
    two, four = entry_of(show, 2).pk, entry_of(show, 4).pk
    value = str(int(mark_of(show).value or 0))
    wanted = {
        "marks": (two, None, "ck_order", value, "9.0"),
        "cards": (two, None, None, None, None),
        "swaps": (two, four, None, None, None),
        "day": (None, None, None, None, None),
    }
    for kind, facts in wanted.items():
        one = told[asked[kind].pk]
        names = ("entry", "other_entry", "criterion", "value", "expected")
        assert tuple(one[name] for name in names) == facts
        assert (one["kind"], one["check"], one["sentence"]) == (kind, kind, "Was it so?")
        assert one["state"] == "open"


# --- The office answers for the judge ---------------------------------------------------------


def answered(asked: Question, verdict: str, value: int | None = None, **more: Any) -> Question:
    given = {"reason": "Told me so.", "by": office_of(asked.judge.show), "at": AT, **more}
    number = None if value is None else Decimal(value)
    return answer_question(question=asked, verdict=verdict, value=number, **given)


def test_no_officer_alone_changes_a_mark(show: Show):
    before, asked = everything(show), question(show, "marks")
    done = answered(asked, "correct", 9)
    assert done.state == State.PROPOSED
    assert done.answer == 9
    assert done.proposed_by == office_of(show)
    assert everything(show) == before
    with pytest.raises(Conflict, match="another officer") as refused:
        stand_by(question=asked, by=office_of(show), at=AT)
    assert refused.value.code == "second-officer-needed"
    for verdict in ("confirm", "correct", "unsure"):
        with pytest.raises(Conflict, match="waits for a second officer"):
            answered(asked, verdict, 9)
    assert everything(show) == before
    done = stand_by(question=asked, by=steward_of(show), at=AT)
    assert done.state == State.CORRECTED
    assert mark_of(show).value == 9
    line = AuditEntry.objects.get(verb="corrected a mark")
    assert line.actor == steward_of(show)
    assert line.after == {"mark": "9", "proposed_by": office_of(show).name}
    with pytest.raises(Conflict, match="No correction"):
        stand_by(question=asked, by=steward_of(show), at=AT)


def test_a_correction_may_be_sent_back_with_a_reason(show: Show):
    before, asked = everything(show), question(show, "marks")
    answered(asked, "correct", 9)
    who: dict[str, Any] = {"by": steward_of(show), "at": AT}
    with pytest.raises(InvalidInput):
        send_back(question=asked, reason=" ", **who)
    done = send_back(question=asked, reason="Ask her again.", **who)
    assert (done.state, done.answer, done.proposed_by) == (State.OPEN, None, None)
    assert everything(show) == before
    line = AuditEntry.objects.get(verb="sent a correction back")
    assert (line.before, line.reason) == ({"proposed": "9"}, "Ask her again.")
    with pytest.raises(Conflict):
        send_back(question=asked, reason="Twice.", **who)


def test_a_correction_of_a_mark_that_changed_since_is_not_stood_by(show: Show):
    asked = question(show, "marks")
    answered(asked, "correct", 9)
    CardMark.objects.filter(pk=mark_of(show).pk).update(value=2)
    with pytest.raises(Conflict, match="changed after") as refused:
        stand_by(question=asked, by=steward_of(show), at=AT)
    assert refused.value.code == "mark-changed"
    assert mark_of(show).value == 2


def test_the_judges_own_word_comes_before_a_proposed_correction(show: Show):
    asked = question(show, "marks")
    answered(asked, "correct", 9)
    assert told(show, asked, "confirm") == "applied"
    assert (asked.state, asked.proposed_by) == (State.CONFIRMED, None)
    assert mark_of(show).value == asked.value
    with pytest.raises(Conflict):
        stand_by(question=asked, by=steward_of(show), at=AT)


@pytest.mark.parametrize("kind", ["marks", "cards", "swaps", "day"])
def test_one_officer_may_confirm_say_unsure_or_close_and_nothing_changes(show: Show, kind: str):
    before = everything(show)
    states = []
    for n, verdict in enumerate(("confirm", "unsure")):
        asked = question(show, kind, asked_about=str(n) * 64)
        with pytest.raises(InvalidInput):
            answered(asked, verdict, reason=" ")
        states.append(answered(asked, verdict).state)
        Question.objects.filter(pk=asked.pk).delete()
    asked = question(show, kind)
    who: dict[str, Any] = {"by": steward_of(show), "at": AT}
    with pytest.raises(InvalidInput):
        close_question(question=asked, reason="", **who)
    states.append(close_question(question=asked, reason="The judge went home.", **who).state)
    assert states == [State.CONFIRMED, State.CANNOT_RECALL, State.CLOSED]
    assert everything(show) == before
    assert open_cards(show) == []
    with pytest.raises(Conflict, match="answered before"):
        close_question(question=asked, reason="Again.", **who)


def test_the_office_gives_cards_back_and_has_no_say_over_a_day(show: Show):
    asked = question(show, "swaps")
    done = answered(asked, "correct")
    assert done.state == State.CORRECTED
    assert open_cards(show) == [2, 4]
    line = AuditEntry.objects.get(verb="corrected two cards")
    assert line.after == {"reopened": ["wagon 2", "wagon 4"]}
    with pytest.raises(InvalidInput, match="whole day"):
        answered(question(show, "day"), "correct")


# --- What waits -------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["marks", "cards", "swaps", "day"])
def test_signing_waits_for_every_kind_of_question(show: Show, kind: str):
    result = compute_result(show_class=class_of(show), by=office_of(show), at=AT)
    asked = question(show, kind)
    with pytest.raises(NotYet, match="1 question waits"):
        sign_result(result=result, by=office_of(show), at=AT)
    close_question(question=asked, reason="Nobody knows.", by=office_of(show), at=AT)
    sign_result(result=result, by=office_of(show), at=AT)


def test_signing_waits_for_a_proposed_correction(show: Show):
    result = compute_result(show_class=class_of(show), by=office_of(show), at=AT)
    answered(question(show, "marks"), "correct", 9)
    with pytest.raises(NotYet, match="1 question waits"):
        sign_result(result=result, by=steward_of(show), at=AT)


def test_a_question_about_a_section_the_class_does_not_count_keeps_no_hand_off_it(show: Show):
    harness = class_of(show, "working_harness")
    result = compute_result(show_class=harness, by=office_of(show), at=AT)
    assert Criterion.objects.get(code="ck_order").section.code == "camp_kit"
    question(show, "marks")
    sign_result(result=result, by=office_of(show), at=AT)


def test_a_card_given_back_keeps_the_result_unsigned_until_it_is_signed_again(show: Show):
    office, trail = office_of(show), class_of(show)
    result = compute_result(show_class=trail, by=office, at=AT)
    told(show, question(show, "cards"), "correct")
    with pytest.raises(NotYet):
        sign_result(result=result, by=office, at=AT)
    send(phone_of(show), [hand_in(entry_of(show, 2))])
    again = compute_result(show_class=trail, by=office, at=AT)
    sign_result(result=again, by=office, at=AT)
