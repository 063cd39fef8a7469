"""A rig corrected at the wagon, in results, questions and the office's counts."""

from __future__ import annotations

from decimal import Decimal

import pytest

from entries.models import Entry
from judging.actions.answer_question import answer_question, stand_by
from judging.actions.ask_questions import ask_questions
from judging.actions.compute_result import compute_result
from judging.actions.release_result import release_result, sign_result
from judging.actions.settle_phone import take_in_phone
from judging.actions.settle_rig import adopt_rig, decline_rig
from judging.models import Card, CardMark, Criterion, Question, RigReport
from judging.queries.panel_marks import panel_marks
from judging.queries.progress import progress_of
from judging.queries.result_desk import class_desks
from judging.queries.results import class_inputs
from showrun.errors import Conflict, NotYet
from tests.judged_show import (
    AT,
    answer,
    build_show,
    class_of,
    entry_of,
    fair,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    office_of,
    send,
    steward_of,
)
from tests.remembered import remembered
from tests.round_events import rig_found
from tests.small_card import RIGS

pytestmark = pytest.mark.django_db

DROP = RIGS[0]
STIFF = {**DROP, "tongue": "stiff"}
FOUR_UP = {**DROP, "hitch": "four_up"}


@pytest.fixture
@remembered
def show():
    """A show of two judges and three wagons, marked but for J1's card of wagon 1."""
    show = build_show(n_judges=2, n_entries=3, kin=False)
    mark_everything(show, leave_out=[("J1", 1)])
    return show


@pytest.fixture
def entry(show):
    return entry_of(show, 1)


@pytest.fixture
def judge(show):
    return judge_of(show, "J1")


def hand_in_as(judge, entry, found, *, but=()):
    """Report the rig, mark what it has and hand in, all on one phone."""
    rows = Criterion.objects.filter(section__scorecard__show=judge.show)
    here = [row for row in rows if row.as_value().is_for(found) and row.code not in but]
    phone = judge.devices.get()
    before = [mark(entry, "rg_queen_bolt", 9)] if found["tongue"] == "stiff" else []
    marks = [mark(entry, row.code, fair(judge, entry, row)) for row in here]
    return send(phone, [*before, rig_found(entry, found, "as it stands"), *marks, hand_in(entry)])


def send_after_signature(judge, events):
    """Send touches the office has to take in, since a result was signed before."""
    phone, office = judge.devices.get(), office_of(judge.show)
    assert {outcome.code for outcome in send(phone, events)} == {"after-signature"}
    take_in_phone(device=phone, code="after-signature", note="He looked anew.", by=office, at=AT)


def test_while_a_rig_waits_for_the_office_its_classes_have_no_result(show, entry, judge):
    hand_in_as(judge, entry, STIFF)
    office, trail = office_of(show), class_of(show)
    with pytest.raises(NotYet) as refused:
        compute_result(show_class=trail, by=office, at=AT)
    assert refused.value.code == "rig-open"
    assert refused.value.detail.startswith(
        "Wagon 1 Patient Mule: Chidi Abara (J1) found stiff tongue instead of drop tongue."
    )
    desk = class_desks(show)[0]
    assert desk.rigs_open == [refused.value.detail]
    assert not desk.missing
    assert not desk.can_compute
    adopt_rig(report=RigReport.objects.get(), note="", by=office, at=AT)
    assert class_desks(show)[0].can_compute
    assert compute_result(show_class=trail, by=office, at=AT).version == 1


def test_a_rig_open_at_an_entry_of_another_class_alone_does_not_hold_this_one(show, entry, judge):
    hand_in_as(judge, entry, STIFF)
    entry.classes.filter(show_class__code="working_harness").delete()
    harness = class_of(show, "working_harness")
    assert compute_result(show_class=harness, by=office_of(show), at=AT).version == 1


def test_a_mark_set_aside_counts_for_nothing_in_the_result(show, entry, judge):
    hand_in_as(judge, entry, STIFF)
    office = office_of(show)
    adopt_rig(report=RigReport.objects.get(), note="", by=office, at=AT)
    result = compute_result(show_class=class_of(show), by=office, at=AT)
    before = result.placings.get(entry=entry).by_section
    assert CardMark.objects.filter(card__entry=entry, aside=True).count() == 2
    CardMark.objects.filter(card__entry=entry, aside=True).update(value=0)
    assert compute_result(show_class=class_of(show), by=office, at=AT) == result
    CardMark.objects.filter(card__entry=entry, aside=True).delete()
    inputs = class_inputs(class_of(show))
    assert inputs.fingerprint() == result.inputs_hash
    assert before["running_gear"] == str(
        sum(p.points for p in inputs.points if (p.entry, p.section) == (1, "running_gear"))
    )


def test_a_result_computed_before_a_rig_was_adopted_is_not_signed(show, entry, judge):
    show_class, office = class_of(show), office_of(show)
    hand_in_as(judge, entry, DROP)
    result = compute_result(show_class=show_class, by=office, at=AT)
    sign_result(result=result, by=office, at=AT)
    # The office opens the card again, as it does when a rig is settled, and the judge looks anew.
    Card.objects.filter(judge=judge, entry=entry).update(handed_in_at=None)
    send_after_signature(judge, [rig_found(entry, STIFF), hand_in(entry)])
    for refused_to, by in ((sign_result, steward_of(show)), (sign_result, office)):
        with pytest.raises(NotYet) as refused:
            refused_to(result=result, by=by, at=AT)
        assert refused.value.code == "rig-open"
    adopt_rig(report=RigReport.objects.get(state="open"), note="", by=office, at=AT)
    with pytest.raises(NotYet) as refused:
        sign_result(result=result, by=steward_of(show), at=AT)
    assert refused.value.code == "marks-changed"
    newer = compute_result(show_class=show_class, by=office, at=AT)
    assert newer.inputs_hash != result.inputs_hash


def test_a_signed_result_is_not_released_over_an_open_rig(show, entry, judge):
    show_class, office = class_of(show), office_of(show)
    hand_in_as(judge, entry, DROP)
    result = compute_result(show_class=show_class, by=office, at=AT)
    for hand in (office, steward_of(show)):
        sign_result(result=result, by=hand, at=AT)
    # On a wagon of the class, by a judge who has not handed in its card yet.
    Card.objects.filter(judge=judge, entry__number=2).update(handed_in_at=None)
    send_after_signature(judge, [rig_found(entry_of(show, 2), DROP)])
    with pytest.raises(NotYet) as refused:
        release_result(result=result, by=office, at=AT)
    assert refused.value.code == "rig-open"
    decline_rig(report=RigReport.objects.get(state="open"), note="No.", by=office, at=AT)


def test_rows_a_rig_adds_change_the_fingerprint_before_they_are_marked(show, entry, judge):
    hand_in_as(judge, entry, DROP)
    before = class_inputs(class_of(show)).fingerprint()
    Card.objects.filter(judge=judge, entry=entry).update(rig=FOUR_UP)
    inputs = class_inputs(class_of(show))
    assert inputs.fingerprint() != before
    assert [(gap.section, gap.rows) for gap in inputs.missing] == [("harness", 1)]


def test_progress_counts_rows_by_each_judges_own_card(show, entry, judge):
    found = {**STIFF, "hitch": "six_up"}
    hand_in_as(judge, entry, found, but=["hn_leaders"])
    cards = {(c.judge_code, c.entry_number): c for c in progress_of(show).cards}
    # Without queen bolt, with leaders' harness; the mark on the queen bolt is aside.
    assert (cards["J1", 1].marked, cards["J1", 1].expected) == (7, 8)
    assert (cards["J2", 1].marked, cards["J2", 1].expected) == (8, 8)
    assert not cards["J1", 1].done


def test_the_checks_leave_out_marks_set_aside_and_the_practice_wagon(show, entry, judge):
    hand_in_as(judge, entry, STIFF)
    office, bolt = office_of(show), Criterion.objects.get(code="rg_queen_bolt").pk
    adopt_rig(report=RigReport.objects.get(), note="", by=office, at=AT)
    Entry.objects.filter(number=2).update(status="practice", number=None)
    looked_at = panel_marks(show).marks
    wagons = {entry_of(show, number).pk for number in (1, 3)}
    assert {mark.entry_id for mark in looked_at} == wagons
    bolts = {mark.entry_id for mark in looked_at if mark.criterion_id == bolt}
    assert bolts == wagons - {entry.pk}
    assert ask_questions(show=show, by=office, at=AT).n_checked <= len(looked_at)


@pytest.fixture
def asked(show, entry, judge):
    """J1 was asked about the queen bolt's mark, and then found a stiff tongue."""
    hand_in_as(judge, entry, DROP)
    row = Criterion.objects.get(code="rg_queen_bolt")
    given = CardMark.objects.get(card__judge=judge, card__entry=entry, criterion=row)
    assert given.value is not None
    asked = Question.objects.create(
        judge=judge, entry=entry, criterion=row, value=given.value, expected=8, statistic=4.0,
        threshold=3.5, alpha=0.05, asked_at=AT,
    )  # fmt: skip
    Card.objects.filter(judge=judge, entry=entry).update(handed_in_at=None)
    send(judge.devices.get(), [rig_found(entry, STIFF)])
    return asked


def test_a_question_about_a_mark_set_aside_is_not_answered_by_another_mark(asked, show, judge):
    (held,) = send(judge.devices.get(), [answer(asked, "correct", 8, "slip")])
    assert (held.status, held.code) == ("held", "mark-aside")
    assert "confirm it to close the question" in held.reason
    with pytest.raises(Conflict) as refused:
        answer_question(
            question=asked,
            verdict="correct",
            value=Decimal(8),
            reason="Said so.",
            by=office_of(show),
            at=AT,
        )
    assert refused.value.code == "mark-aside"
    asked.refresh_from_db()
    assert asked.state == Question.State.OPEN
    kept = CardMark.objects.filter(criterion=asked.criterion, card__judge=judge)
    assert kept.get(card__entry=asked.entry).aside


def test_a_question_about_a_mark_set_aside_can_be_confirmed(asked, judge):
    (taken,) = send(judge.devices.get(), [answer(asked, "confirm")])
    assert taken.status == "applied"
    asked.refresh_from_db()
    assert asked.state == Question.State.CONFIRMED


def test_an_answer_goes_by_the_rig_on_the_judges_card(show, entry, judge):
    """The leaders' harness is on this card only because the judge found a four-up."""
    hand_in_as(judge, entry, FOUR_UP)
    row = Criterion.objects.get(code="hn_leaders")
    given = CardMark.objects.get(criterion=row, card__judge=judge, card__entry=entry)
    asked = Question.objects.create(
        judge=judge, entry=entry, criterion=row, value=given.value, expected=8, statistic=4.0,
        threshold=3.5, alpha=0.05, asked_at=AT,
    )  # fmt: skip
    answer_question(
        question=asked,
        verdict="correct",
        value=Decimal(8),
        reason="Said so.",
        by=office_of(show),
        at=AT,
    )
    stand_by(question=asked, by=steward_of(show), at=AT)
    assert CardMark.objects.get(criterion=row, card__judge=judge, card__entry=entry).value == 8
