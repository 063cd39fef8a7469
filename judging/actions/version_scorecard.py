"""Make a new version of a card, and put a version in use."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from judging.actions.adopt_scorecard import NOT_USABLE
from judging.models import (
    Card,
    CardMark,
    ClassCard,
    Criterion,
    Judge,
    Question,
    Remark,
    Scorecard,
    Seat,
)
from judging.queries.card_use import UsePlan, what_use_would_touch
from judging.queries.cards import PUT_IN_USE, is_draft, versions_of, with_rows
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

LONGEST_REASON = 300  # letters


@transaction.atomic
def new_version(*, card: Scorecard, by: Person | None, at: datetime) -> Scorecard:
    """Copy a card, whatever it is, to a draft with the next number; the old one stays."""
    Show.objects.select_for_update().get(pk=card.show_id)
    old = with_rows(Scorecard.objects.filter(pk=card.pk)).select_related("show").get()
    numbers = [one.version for one in versions_of(old.show) if one.name == old.name]
    made = Scorecard.objects.create(
        show=old.show,
        code=old.code,
        name=old.name,
        version=max(numbers) + 1,
        notice=old.notice,
        copied_from=old,
        made_at=at,
    )
    for section in old.sections.all():
        rows = list(section.criteria.all())
        section.pk, section.scorecard = None, made
        section._state.adding = True
        section.save()
        for row in rows:
            row.pk, row.section = None, section
            row._state.adding = True
        Criterion.objects.bulk_create(rows)
    record_change(
        show=made.show,
        actor=by,
        at=at,
        verb="copied",
        subject=f"scorecard {made}",
        after={"from": str(card)},
    )
    return made


@transaction.atomic
def use_scorecard(
    *, card: Scorecard, reason: str = "", by: Person | None, at: datetime
) -> Scorecard:
    """Let the judges mark on this version from now on.

    Whatever points at sections and rows goes over by their codes. A mark goes over where the
    row takes the same marks; any other is set aside, kept and shown. A card handed in that
    then lacks a mark is open again. Released results stand as they are.
    """
    Show.objects.select_for_update().get(pk=card.show_id)
    # Phones hold their judge while they write: no mark may come in between.
    list(Judge.objects.select_for_update().filter(show=card.show_id).order_by("pk"))
    new = with_rows(Scorecard.objects.filter(pk=card.pk)).select_related("show").get()
    if new.in_use:
        raise Conflict(_("{new} is in use already.").format(new=new))
    if not is_draft(new):
        raise Conflict(
            _(
                "{new} was in use before and stays as it was. Make a new version of it, and put "
                "that in use."
            ).format(new=new)
        )
    plan = what_use_would_touch(new)
    _demand_usable(plan, reason)
    if plan.old:
        Scorecard.objects.filter(pk=plan.old.pk).update(
            in_use=False, frozen_at=plan.old.frozen_at or at
        )
        _take_over_sections(plan)
        _take_over_marks(plan, at)
    new.in_use = True
    new.save(update_fields=["in_use", "frozen_at"])
    record_change(
        show=new.show,
        actor=by,
        at=at,
        verb=PUT_IN_USE,
        subject=f"scorecard {new}",
        before={"in_use": str(plan.old), "card": plan.old.pk} if plan.old else None,
        after={
            "card": new.pk,
            "marks_moved": len(plan.moves),
            "marks_set_aside": len(plan.set_aside),
            "cards_opened_again": [str(one) for one in plan.reopened],
            "sections_gone": [section.code for section in plan.gone],
            "seats_gone": plan.seats_lost,
        },
        reason=reason.strip(),
    )
    return new


def _demand_usable(plan: UsePlan, reason: str) -> None:
    if plan.faults:
        raise InvalidInput(_(NOT_USABLE), fields=plan.faults)
    if plan.stops:
        raise Conflict(" ".join(plan.stops))
    if plan.needs_reason and not reason.strip():
        raise InvalidInput(
            _("Judging has begun; say why the card changes."),
            code="reason-needed",
            fields={"reason": _("Why does the card change now?")},
        )
    if len(reason) > LONGEST_REASON:
        raise InvalidInput(
            _("The reason is too long."),
            fields={"reason": _("At most {longest} letters.").format(longest=LONGEST_REASON)},
        )


def _take_over_sections(plan: UsePlan) -> None:
    """Let seats, judges, classes and remarks point at the new sections."""
    gone = [section.pk for section in plan.gone]
    Seat.objects.filter(section__in=gone).delete()
    Judge.sections.through.objects.filter(section__in=gone).delete()
    ClassCard.sections.through.objects.filter(section__in=gone).delete()
    for old, new in plan.sections.items():
        Seat.objects.filter(section=old).update(section=new)
        Judge.sections.through.objects.filter(section=old).update(section=new)
        ClassCard.sections.through.objects.filter(section=old).update(section=new)
        Remark.objects.filter(section=old).update(section=new)
    codes = {section.code for section in plan.gone}
    for card in plan.classes:
        card.tie_ladder = [code for code in card.tie_ladder if code not in codes]
        card.save(update_fields=["tie_ladder"])
    ClassCard.objects.filter(pk__in=[card.pk for card in plan.emptied]).delete()


def _take_over_marks(plan: UsePlan, at: datetime) -> None:
    """Let marks and questions point at the new rows; set the other marks aside."""
    CardMark.objects.bulk_update(
        [CardMark(pk=move.mark, criterion_id=move.row, aside=move.aside) for move in plan.moves],
        ["criterion", "aside"],
        batch_size=200,
    )
    CardMark.objects.bulk_update(
        [CardMark(pk=mark.pk, aside=True) for mark in plan.set_aside], ["aside"], batch_size=400
    )
    _move_questions(plan.rows)
    Card.objects.filter(pk__in=[card.pk for card in plan.reopened]).open_again()
    if any(not move.empty for move in plan.moves):
        plan.new.frozen_at = at


def _move_questions(rows: Mapping[int, int]) -> None:
    questions = list(Question.objects.filter(criterion__in=list(rows)))
    for question in questions:
        if question.criterion_id is not None:
            question.criterion_id = rows[question.criterion_id]
    Question.objects.bulk_update(questions, ["criterion"], batch_size=400)
