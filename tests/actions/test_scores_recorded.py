"""Whatever changes a score leaves a line: who, from which phone, and what.

What a phone sends is its own line: the touch itself, which the database keeps as it came. What the
office does has a line in the record. Each verb that writes marks, cards or results is driven here.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from judging.actions.accept_gaps import accept_gaps
from judging.actions.answer_question import (
    answer_question,
    close_question,
    send_back,
    stand_by,
)
from judging.actions.compute_result import compute_result
from judging.actions.pair_device import shut_out_device
from judging.actions.release_result import release_result, sign_result
from judging.actions.set_release_hour import cancel_release_hour, release_due, set_release_hour
from judging.actions.settle_phone import take_in_event, take_in_phone
from judging.actions.settle_rig import adopt_rig, decline_rig
from judging.actions.version_scorecard import new_version
from judging.models import Card, CardMark, Placing, Question, Result, RigReport, RoundEvent
from showrun.shows.models import AuditEntry, Show
from tests import card_versions
from tests.judged_show import (
    AT,
    answer,
    build_show,
    card_events,
    class_of,
    clear,
    hand_in,
    judge_of,
    mark,
    mark_everything,
    not_inspected,
    office_of,
    open_window,
    pair,
    rows_of,
    send,
    steward_of,
)
from tests.paper_card import Paper
from tests.round_events import rig_found
from tests.small_card import RIGS

pytestmark = pytest.mark.django_db

ACTIONS = Path(__file__).resolve().parents[2] / "judging/actions"
# Written by the verbs below, never by themselves: a touch or an office's verb has come before.
BENEATH = {"hand_ins", "judges_desk", "open_cards", "reform_cards", "reported_rigs", "take_paper"}
NO_SCORES = {"edit_scorecard"}  # its `card` is a scorecard
DRIVEN = {
    *("accept_gaps", "answer_question", "compute_result", "record_events", "release_result"),
    *("set_release_hour", "settle_phone", "settle_rig", "version_scorecard", "key_card"),
}
WRITES = re.compile(
    r"\b(CardMark|Card|Result|Placing|Remark)\.objects\.(?:.*\.)?(bulk_)?(update|create|delete)\("
    r"|\b(result|mark|card|placing)\.save\(|\bDesk\("
)


def scores(show: Show) -> list[Any]:
    """All that a result is made of, and the results."""
    of_show = {"card__judge__show": show}
    return [
        list(CardMark.objects.filter(**of_show).order_by("pk").values()),
        list(Card.objects.filter(judge__show=show).order_by("pk").values()),
        list(Result.objects.filter(show_class__show=show).order_by("pk").values()),
        list(Placing.objects.filter(result__show_class__show=show).order_by("pk").values()),
    ]


class Watched:
    """A show in which every change of a score must leave its line."""

    def __init__(self, show: Show) -> None:
        self.show, self.seen = show, scores(show)
        self.by, self.other = office_of(show), steward_of(show)

    def does(self, verb: Callable[..., Any], *, changes: bool = True, **given: Any) -> Any:
        """Let the office do it, and ask for its line."""
        last = AuditEntry.objects.filter(show=self.show).order_by("-id").first()
        done = verb(**{"by": self.by, "at": AT, **given})
        after, changed = scores(self.show), scores(self.show) != self.seen
        self.seen = after
        assert changed is changes, verb.__name__
        lines = AuditEntry.objects.filter(show=self.show, id__gt=last.pk if last else 0)
        who = {line.actor_id for line in lines}
        assert given.get("by", self.by).pk in who, f"{verb.__name__} left no line with its actor"
        assert all(line.subject and line.verb for line in lines)
        return done

    def touches(self, phone: Any, *events: Any, changes: bool = True) -> None:
        """Let a phone send, and ask for its touches."""
        before = set(RoundEvent.objects.values_list("pk", flat=True))
        send(phone, list(events))
        after = scores(self.show)
        assert (after != self.seen) is changes, events
        self.seen = after
        kept = RoundEvent.objects.exclude(pk__in=before)
        assert kept.count() == len(events)
        assert {(one.device_id, one.device.judge_id) for one in kept} == {
            (phone.pk, phone.judge_id)
        }


@pytest.fixture
def watched() -> Watched:
    show = build_show()
    open_window(show)
    return Watched(show)


def question_about(watched: Watched, value: int = 5) -> Question:
    """A question to J1 about the first row of a card that is in."""
    judge = judge_of(watched.show)
    entry = judge.seats.earliest("entry__number").entry
    return Question.objects.create(
        judge=judge, entry=entry, criterion=rows_of(judge, entry)[0], value=value, expected=8,
        statistic=4.0, threshold=3.5, alpha=0.05, asked_at=AT,
    )  # fmt: skip


def test_every_module_that_writes_scores_is_driven_here():
    writing = {
        path.stem
        for path in ACTIONS.glob("*.py")
        if WRITES.search(path.read_text(encoding="utf-8"))
    }
    assert writing - BENEATH - NO_SCORES - DRIVEN == set()
    assert {"judges_desk", "compute_result", "settle_rig"} <= writing


def test_a_phones_touches(watched: Watched):
    judge = judge_of(watched.show)
    phone, _ = pair(judge)
    entry = judge.seats.earliest("entry__number").entry
    row = rows_of(judge, entry)[0].code
    for touch in (mark(entry, row, 3), not_inspected(entry, row), clear(entry, row)):
        watched.touches(phone, touch)
    watched.touches(phone, *card_events(judge, entry, 5))
    watched.touches(phone, answer(question_about(watched), "correct", 7, "Misread."))
    other = judge.seats.exclude(entry=entry).earliest("entry__number").entry
    other_rig = next(rig for rig in RIGS if dict(rig) != other.rig.facts())
    watched.touches(phone, mark(other, rows_of(judge, other)[0].code, 4))
    watched.touches(phone, rig_found(other, other_rig))
    report = RigReport.objects.get(entry=other)
    watched.does(adopt_rig, report=report, note="Seen.")
    watched.touches(phone, hand_in(other), changes=False)  # not whole: it waits


def test_what_the_office_takes_in(watched: Watched):
    judge = judge_of(watched.show)
    phone, _ = pair(judge)
    entry = judge.seats.earliest("entry__number").entry
    row = rows_of(judge, entry)[0].code
    shut_out_device(device=phone, by=watched.by, at=AT, reason="Lost.")
    watched.touches(phone, mark(entry, row, 3), changes=False)
    watched.does(take_in_phone, device=phone, code="device-shut-out", note="Found again.")
    late = AT + timedelta(hours=9)
    spare, _ = pair(judge, label="Spare")
    send(spare, [mark(entry, row, 6)], at=late)
    held = RoundEvent.objects.filter(device=spare, applied=False).get()
    watched.does(take_in_event, event=held, note="The window was held open.", at=late)


def test_answers_typed_in_the_office(watched: Watched):
    mark_everything(watched.show, 5)
    watched.seen = scores(watched.show)
    asked = question_about(watched)
    given = {"verdict": "correct", "value": Decimal(8), "reason": "Misread."}
    watched.does(answer_question, question=asked, changes=False, **given)
    asked.refresh_from_db()
    watched.does(stand_by, question=asked, by=watched.other)
    watched.does(
        close_question, question=question_about(watched, 6), reason="Settled.", changes=False
    )
    again = question_about(watched, 7)
    watched.does(answer_question, question=again, changes=False, **given)
    again.refresh_from_db()
    watched.does(send_back, question=again, reason="Ask again.", by=watched.other, changes=False)


def test_a_rig_declined(watched: Watched):
    judge = judge_of(watched.show)
    phone, _ = pair(judge)
    entry = judge.seats.earliest("entry__number").entry
    watched.touches(phone, mark(entry, rows_of(judge, entry)[0].code, 4))
    watched.touches(phone, rig_found(entry, next(r for r in RIGS if r != entry.rig.facts())))
    watched.does(decline_rig, report=RigReport.objects.get(entry=entry), note="As entered.")


def test_a_card_from_paper():
    paper = Paper()
    watched = Watched(paper.show)
    before = RoundEvent.objects.count()
    paper.key_twice()
    watched.does(lambda **_: paper.take(), by=paper.two)
    kept = RoundEvent.objects.order_by("seq")
    assert kept.count() > before
    assert {one.device.judge_id for one in kept} == {paper.judge.pk}


def test_another_version_of_the_card(watched: Watched):
    mark_everything(watched.show, 9)
    watched.seen = scores(watched.show)
    row = rows_of(judge_of(watched.show), judge_of(watched.show).seats.all()[0].entry)[0].code
    draft = new_version(card=card_versions.used(watched.show), by=watched.by, at=AT)
    card_versions.change(draft, row, max_mark=5)
    watched.does(lambda by, at: card_versions.use(draft, {"by": by, "at": at}))


def test_results(watched: Watched):
    mark_everything(watched.show, leave_out=[("J1", 5)])
    watched.seen = scores(watched.show)
    result = watched.does(
        compute_result, show_class=class_of(watched.show), with_gaps=True, reason=""
    )
    if result.gaps:
        watched.does(accept_gaps, result=result, reason="The judge fell ill.")
    Question.objects.update(state=Question.State.CLOSED)
    for hand in (watched.by, watched.other):
        watched.does(sign_result, result=result, by=hand, changes=False)
    due = AT + timedelta(hours=2)
    watched.does(set_release_hour, result=result, due=due)
    watched.does(cancel_release_hour, result=result)
    watched.does(set_release_hour, result=result, due=due)
    (out,) = release_due(at=due, show=watched.show)
    line = AuditEntry.objects.filter(show=watched.show).order_by("-id")[0]
    assert (line.verb, out.pk) == ("released", result.pk)
    watched.seen = scores(watched.show)
    second = class_of(watched.show, "working_harness")
    other = watched.does(compute_result, show_class=second, with_gaps=True, reason="")
    if other.gaps:
        watched.does(accept_gaps, result=other, reason="The judge fell ill.")
    Question.objects.update(state=Question.State.CLOSED)
    for hand in (watched.by, watched.other):
        watched.does(sign_result, result=other, by=hand, changes=False)
    watched.does(release_result, result=other)
