"""A show with a signed or released result, and a correction of it by the real actions."""

from __future__ import annotations

from datetime import datetime, timedelta

from judging.actions.compute_result import compute_result
from judging.actions.declare_class import declare_class
from judging.actions.release_result import release_result, sign_result
from judging.models import CardMark, Question, Result, Scorecard
from showrun.shows.actions.plan_show import give_role
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role
from tests.judged_show import (
    AT,
    BEFORE,
    answer,
    build_show,
    class_of,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    rows_of,
    send,
    steward_of,
)
from tests.people import PersonFactory
from tests.remembered import remembered

LATER = AT + timedelta(minutes=20)


@remembered
def judged_with_purse() -> Show:
    """A show, all cards in, whose trail class has a purse of $900 and 45 minutes for queries."""
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    card = Scorecard.objects.get(show=show)
    sections = list(card.sections.values_list("code", flat=True))
    declare_class(
        show_class=class_of(show), scorecard=card, sections=sections, method="plain",
        judges_per_section=3, tie_ladder=[], purse_cents=90_000,
        purse_weights=["50", "30", "20"], query_minutes=45, by=office_of(show), at=BEFORE,
    )  # fmt: skip
    mark_everything(show)
    return show


def signed(show: Show, *, code: str = "trail", reason: str = "", at: datetime = AT) -> Result:
    """Compute the class's result, let judges stand by what is asked, put two hands under it."""
    result = compute_result(
        show_class=class_of(show, code), by=office_of(show), at=at, reason=reason
    )
    for question in Question.objects.filter(judge__show=show, state=Question.State.OPEN):
        told = answer(question, "confirm", text="As I saw it.")
        send(question.judge.devices.get(), [told], at=at)
    for hand in (office_of(show), steward_of(show)):
        result = sign_result(result=result, by=hand, at=at)
    return result


def released(show: Show, *, code: str = "trail", at: datetime = AT) -> Result:
    """The same, and release it."""
    return release_result(result=signed(show, code=code, at=at), by=office_of(show), at=at)


def change_marks(show: Show, *, number: int, value: int, judge: str = "J1", at: datetime) -> None:
    """Let a judge correct all their marks of one wagon, after the signatures."""
    for row in rows_of(judge_of(show, judge), entry_of(show, number)):
        change_one_mark(show, number=number, row=row.code, value=value, judge=judge, at=at)


def change_one_mark(
    show: Show, *, number: int, row: str, value: int, judge: str = "J1", at: datetime
) -> None:
    """Let a judge who is asked about a mark correct it on the phone."""
    asked, entry = judge_of(show, judge), entry_of(show, number)
    given = CardMark.objects.get(card__judge=asked, card__entry=entry, criterion__code=row)
    if given.value == value:
        return
    question = Question.objects.create(
        judge=asked, entry=entry, criterion=given.criterion, value=given.value, statistic=4.0,
        threshold=3.5, alpha=0.05, asked_at=at,
    )  # fmt: skip
    told = answer(question, "correct", value, "Read again.")
    (outcome,) = send(asked.devices.get(), [told], at=at)
    question.refresh_from_db()
    assert question.state == "corrected", outcome


def announcer_of(show: Show) -> Person:
    """Somebody who reads the list out and has no other part."""
    person = PersonFactory.create(name="Ann Caller")
    give_role(show=show, person=person, role=Role.ANNOUNCER)
    return person
