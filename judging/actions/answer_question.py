"""Answer a question about a mark: it stands, or it is corrected. Both are recorded."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from judging.models import CardMark, Question
from judging.queries.rigs import card_facts
from judging.rules.cards import scorecard as values
from judging.rules.round.card_hash import plain_number
from showrun.errors import Conflict, InvalidInput
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

MARK_ASIDE = (
    "The mark asked about was set aside: the card does not have this row any more, and the mark "
    "counts for nothing. It cannot be corrected; confirm it to close the question."
)


def settle_answer(
    *,
    question: Question,
    verdict: str,
    value: Decimal | None,
    reason: str,
    by: Person,
    at: datetime,
    device: str = "",
) -> Question:
    """Close the question and write the record; the mark itself is the caller's."""
    corrected = verdict == "correct"
    question.state = Question.State.CORRECTED if corrected else Question.State.CONFIRMED
    question.answer = value if corrected else question.value
    question.reason, question.answered_at, question.answered_by = reason[:300], at, by
    question.save()
    record_change(
        show=question.judge.show,
        actor=by,
        at=at,
        verb="corrected a mark" if corrected else "confirmed a mark",
        subject=f"{question.judge}, entry {question.entry}, {question.criterion}",
        before={"mark": plain_number(question.value)},
        after={"mark": plain_number(question.answer)},
        reason=reason,
        device=device,
    )
    return question


@transaction.atomic
def answer_question(
    *,
    question: Question,
    verdict: str,
    value: Decimal | None,
    reason: str,
    by: Person,
    at: datetime,
) -> Question:
    """Answer on the judge's behalf, as the judge told the office; a reason is needed."""
    question = (
        Question.objects.select_for_update(of=("self",))
        .select_related("judge__show", "entry", "criterion")
        .get(pk=question.pk)
    )
    if question.state != Question.State.OPEN:
        raise Conflict("This question was answered before.")
    if verdict not in ("confirm", "correct"):
        raise InvalidInput("A question is answered by confirm or correct.")
    if not reason.strip():
        raise InvalidInput(
            "Say what the judge told you.", fields={"reason": "What did the judge say?"}
        )
    if verdict == "correct":
        _correct(question, value)
    return settle_answer(
        question=question, verdict=verdict, value=value, reason=reason.strip(), by=by, at=at
    )


def _correct(question: Question, value: Decimal | None) -> None:
    mark = (
        CardMark.objects.select_for_update(of=("self",))
        .select_related("card__entry", "criterion__section")
        .filter(card__judge=question.judge, card__entry=question.entry)
        # A later version of the card has moved the mark to its own row of this code.
        .filter(criterion__code=question.criterion.code)
        .order_by("aside", "-criterion_id")
        .first()
    )
    if mark is None:
        raise Conflict("The mark asked about is gone; the judge must mark the row again.")
    if mark.aside:
        raise Conflict(MARK_ASIDE, code="mark-aside")
    new = values.Mark(values.MarkState.MARKED, value)
    facts = card_facts(mark.card, mark.card.entry)
    form = values.Form(mark.criterion.section.form)
    try:
        values.check_mark(mark.criterion.as_value(), facts, new, form)
    except values.MarkRefused as refused:
        raise InvalidInput(
            str(refused), code=refused.code, fields={"value": str(refused)}
        ) from refused
    mark.value, mark.state = value, new.state.value
    mark.version += 1
    # No phone gave it: a phone that says otherwise later is put to the office.
    mark.device, mark.event, mark.seq = None, None, 0
    mark.save()
