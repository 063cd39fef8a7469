"""A card that changes while phones are out: late touches, remarks, concerns, questions, rigs."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from judging.actions.answer_question import answer_question, stand_by
from judging.actions.settle_rig import adopt_rig
from judging.actions.version_scorecard import new_version
from judging.models import (
    CardMark,
    Criterion,
    Question,
    Remark,
    RigReport,
    SafetyConcern,
    Scorecard,
    Seat,
)
from judging.queries.card_use import what_use_would_touch
from judging.queries.cards import card_version
from showrun.shows.models import Show
from tests.card_versions import change, marks_of, use, used
from tests.judged_show import (
    AT,
    build_show,
    concern,
    draw_panel,
    entry_of,
    judge_of,
    mark,
    mark_everything,
    office_of,
    pair,
    remark,
    send,
    steward_of,
)
from tests.round_events import rig_found

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


@pytest.fixture
def who(show: Show) -> dict[str, Any]:
    return {"by": office_of(show), "at": AT}


@pytest.fixture
def draft(show: Show, who: dict[str, Any]) -> Scorecard:
    draw_panel(show)
    return new_version(card=used(show), **who)


def test_a_rig_found_later_brings_no_mark_of_an_earlier_version_back(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    old = used(show)
    change(draft, "rg_wheels", max_mark=20)
    use(draft, who)
    judge = judge_of(show)
    seat = Seat.objects.filter(judge=judge, section__code="running_gear").first()
    assert seat
    entry = entry_of(show, seat.entry.number or 0)
    send(pair(judge)[0], [rig_found(entry, {**entry.rig.facts(), "draft": "chain"})])
    report = RigReport.objects.get(state="open")
    adopt_rig(report=report, note="Seen.", by=office_of(show), at=AT)
    assert marks_of(show, "rg_wheels") == {(old.pk, True)}


def test_touches_made_on_the_old_card_arrive_by_the_rows_code(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    judge = judge_of(show)
    seat = Seat.objects.filter(judge=judge, section__code="camp_kit").first()
    assert seat
    entry = entry_of(show, seat.entry.number or 0)
    phone, _ = pair(judge)
    send(phone, [mark(entry, "ck_order", 4)])
    Criterion.objects.get(section__scorecard=draft, code="ck_fire").delete()
    use(draft, who)
    late = send(phone, [mark(entry, "ck_order", 8), mark(entry, "ck_fire", 5)])
    assert [(one.status, one.code) for one in late] == [
        ("applied", ""),
        ("held", "criterion-not-yours"),
    ]
    given = CardMark.objects.get(criterion__code="ck_order")
    assert (given.value, given.criterion.section.scorecard) == (Decimal(8), draft)


def test_remarks_go_over_and_a_concern_stays_at_the_row_it_named(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    judge = judge_of(show)
    seat = Seat.objects.filter(judge=judge, section__code="camp_kit").first()
    assert seat
    entry, old = entry_of(show, seat.entry.number or 0), used(show)
    phone, _ = pair(judge)
    send(phone, [remark(entry, "camp_kit", "Neat."), concern(entry, "mend", "Loose", "ck_fire")])
    use(draft, who)
    assert Remark.objects.get().section.scorecard == draft
    raised = SafetyConcern.objects.get()
    assert raised.criterion
    assert raised.criterion.section.scorecard == old


def ask(show: Show, code: str) -> Question:
    given = CardMark.objects.filter(criterion__code=code).select_related("card").first()
    assert given and given.value is not None
    return Question.objects.create(
        judge=given.card.judge, entry=given.card.entry, criterion=given.criterion,
        value=given.value, expected=5, statistic=4.0, threshold=3.5, alpha=0.05, asked_at=AT,
    )  # fmt: skip


def test_a_question_goes_over_with_its_row_and_waits_where_the_row_is_gone(
    show: Show, draft: Scorecard, who: dict[str, Any]
):
    mark_everything(show)
    stays, goes = ask(show, "ck_fire"), ask(show, "ck_order")
    old = used(show)
    Criterion.objects.get(section__scorecard=draft, code="ck_fire").delete()
    plan = what_use_would_touch(card_version(show, draft.pk))
    assert plan.stale_questions == 1
    assert "1 open question asks about a mark set aside" in " ".join(plan.sentences)
    use(draft, who)
    for question in (stays, goes):
        question.refresh_from_db()
    assert stays.criterion and stays.criterion.section.scorecard == old
    assert goes.criterion and goes.criterion.section.scorecard == draft
    answered = answer_question(
        question=stays, verdict="confirm", value=None, reason="The row is gone.", **who
    )
    assert answered.state == Question.State.CONFIRMED
    corrected = answer_question(
        question=goes, verdict="correct", value=Decimal(1), reason="A slip.", **who
    )
    assert corrected.answer == 1
    stand_by(question=goes, by=steward_of(show), at=AT)
    assert CardMark.objects.get(card__judge=goes.judge, card__entry=goes.entry,
                                criterion=goes.criterion).value == 1  # fmt: skip
