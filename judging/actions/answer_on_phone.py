"""What a judge's answer on the phone needs, before it takes effect on the desk."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from judging.actions.answer_question import NOT_ABOUT_A_DAY, settle_answer
from judging.models import Judge, Question
from judging.rules.round.events import Event, EventRefused


def question_answered(judge: Judge, event: Event, answered: Collection[int]) -> Question:
    """Return the question the event answers; `answered` are those of the same batch.

    A correction the office typed does not keep the judge from answering: the judge's own word
    comes first.
    """
    known = ("entry", "other_entry", "criterion", "judge__show", "proposed_by")
    questions = Question.objects.select_for_update(of=("self",)).select_related(*known)
    question = questions.filter(pk=event.question or 0, judge=judge).first()
    if question is None:
        raise EventRefused("question-unknown", "There is no such question to this judge.")
    if question.state not in Question.WAITING or question.pk in answered:
        raise EventRefused("question-answered", "This question was answered before.")
    if question.kind == Question.Kind.DAY and event.verdict == "correct":
        raise EventRefused("not-about-marks", NOT_ABOUT_A_DAY)
    question.proposed_by = question.proposed_at = None
    return question


def keep_answer(
    question: Question,
    event: Event,
    *,
    judge: Judge,
    device: str,
    at: datetime,
    back: Collection[int],
) -> None:
    """Close the question by what the judge said."""
    settle_answer(
        question=question,
        verdict=event.verdict or "",
        value=event.mark.value if event.mark else None,
        reason=event.text,
        by=judge.person,
        at=at,
        device=device,
        back=back,
    )


def cards_given_back(judge: Judge) -> set[int]:
    """Return the entries whose cards came back to the judge after a question."""
    kinds = (Question.Kind.CARD, Question.Kind.SWAP)
    put_right = Question.objects.filter(
        judge=judge, kind__in=kinds, state=Question.State.CORRECTED
    ).order_by()
    pairs = put_right.values_list("entry_id", "other_entry_id")
    return {pk for pair in pairs for pk in pair if pk is not None}
