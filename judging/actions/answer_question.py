"""Answer a question: it stands, it is corrected, or the judge cannot recall. All is recorded.

No mark is changed by one officer: what the office types for a judge waits for a second one.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from judging.models import Card, CardMark, Question
from judging.queries.rigs import card_facts
from judging.rules.cards import scorecard as values
from judging.rules.round.card_hash import plain_number
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

MARK_ASIDE = N_(
    "The mark asked about was set aside: the card does not have this row any more, and the "
    "mark counts for nothing. It cannot be corrected; confirm it to close the question."
)
NOT_ABOUT_A_DAY = N_(
    "A question about the whole day asks for no mark to be changed; say that it is right, or "
    "that you cannot recall."
)
_State = Question.State
STATES = {
    "confirm": _State.CONFIRMED,
    "correct": _State.CORRECTED,
    "unsure": _State.CANNOT_RECALL,
}
_VERBS = {
    _State.CONFIRMED: "confirmed",
    _State.CORRECTED: "corrected",
    _State.CANNOT_RECALL: "could not recall",
    _State.CLOSED: "closed the question about",
}
_NOUNS = {
    Question.Kind.MARK: "a mark",
    Question.Kind.CARD: "a card",
    Question.Kind.SWAP: "two cards",
    Question.Kind.DAY: "the day",
}


def settle_answer(
    *,
    question: Question,
    verdict: str,
    value: Decimal | None,
    reason: str,
    by: Person,
    at: datetime,
    device: str = "",
    back: Collection[int] = (),
) -> Question:
    """Close the question and write the record; marks and cards are the caller's.

    `back` are the entries whose cards came back to the judge.
    """
    return _settle(question, STATES[verdict], value, reason, by, at, device=device, back=back)


def entries_asked_about(question: Question) -> list[int]:
    """Return the entries whose cards of the judge the question names."""
    return [pk for pk in (question.entry_id, question.other_entry_id) if pk is not None]


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
    """Answer on the judge's behalf, as the judge told the office; a reason is needed.

    A corrected mark is only proposed; cards to be corrected come back to the judge.
    """
    question = _locked(question)
    if question.state == _State.PROPOSED:
        raise Conflict(_("A correction waits for a second officer."), code="correction-proposed")
    _demand_waiting(question)
    if verdict not in STATES:
        raise InvalidInput(_("A question is answered by confirm or correct, or by cannot recall."))
    reason = _demand_words(reason, _("Say what the judge told you."), _("What did the judge say?"))
    if verdict != "correct":
        return _settle(question, STATES[verdict], None, reason, by, at)
    if question.kind == Question.Kind.DAY:
        raise InvalidInput(_(NOT_ABOUT_A_DAY), fields={"verdict": _(NOT_ABOUT_A_DAY)})
    if question.kind == Question.Kind.MARK:
        return _propose(question, value, reason, by, at)
    back = reopen_cards(question)
    return _settle(question, _State.CORRECTED, None, reason, by, at, back=back)


@transaction.atomic
def stand_by(*, question: Question, by: Person, at: datetime) -> Question:
    """Let a correction typed in the office count: a second officer stands by it."""
    question = _locked(question)
    _demand_proposed(question)
    if question.proposed_by_id == by.pk:
        raise Conflict(
            _("You typed this correction; another officer must stand by it."),
            code="second-officer-needed",
        )
    mark = _mark_to_correct(question, question.answer)
    if mark.value != question.value:
        raise Conflict(
            _(
                "The mark was changed after the question was asked. Send the correction back, and "
                "ask the judge again."
            ),
            code="mark-changed",
        )
    mark.value, mark.state = question.answer, values.MarkState.MARKED.value
    mark.version += 1
    # No phone gave it: a phone that says otherwise later is put to the office.
    mark.device, mark.event, mark.seq = None, None, 0
    mark.save()
    return _settle(question, _State.CORRECTED, question.answer, question.reason, by, at)


@transaction.atomic
def send_back(*, question: Question, reason: str, by: Person, at: datetime) -> Question:
    """Drop a correction typed in the office; the question is open again."""
    question = _locked(question)
    _demand_proposed(question)
    reason = _demand_words(reason, _("Say why it goes back."), _("Why does it go back?"))
    proposed = question.answer
    question.state, question.answer, question.reason = _State.OPEN, None, ""
    question.proposed_by = question.proposed_at = None
    question.save()
    record_change(
        show=question.judge.show,
        actor=by,
        at=at,
        verb="sent a correction back",
        subject=_subject(question),
        before={"proposed": _written(proposed)},
        reason=reason,
    )
    return question


@transaction.atomic
def close_question(*, question: Question, reason: str, by: Person, at: datetime) -> Question:
    """Close a question nobody can answer any more; whatever it asks about stands."""
    question = _locked(question)
    _demand_waiting(question)
    reason = _demand_words(reason, _("Say why it is closed."), _("Why is it closed?"))
    return _settle(question, _State.CLOSED, None, reason, by, at)


def reopen_cards(question: Question) -> list[int]:
    """Give the judge the cards back that are handed in; return their entries."""
    cards = Card.objects.select_for_update(of=("self",)).filter(
        judge=question.judge,
        entry__in=entries_asked_about(question),
        handed_in_at__isnull=False,
    )
    found = list(cards)
    Card.objects.filter(pk__in=[card.pk for card in found]).open_again()
    return [card.entry_id for card in found]


# --- What an answer needs ---------------------------------------------------------------------


def _locked(question: Question) -> Question:
    questions = Question.objects.select_for_update(of=("self",))
    known = ("judge__show", "judge__person", "entry", "other_entry", "criterion", "proposed_by")
    return questions.select_related(*known).get(pk=question.pk)


def _demand_waiting(question: Question) -> None:
    if question.state not in Question.WAITING:
        raise Conflict(_("This question was answered before."))


def _demand_proposed(question: Question) -> None:
    if question.state != _State.PROPOSED:
        raise Conflict(_("No correction of this question waits for a second officer."))


def _demand_words(text: str, sentence: str, field: str) -> str:
    if not text.strip():
        raise InvalidInput(sentence, fields={"reason": field})
    return text.strip()


def _propose(
    question: Question, value: Decimal | None, reason: str, by: Person, at: datetime
) -> Question:
    """Keep a corrected mark for a second officer; nothing is changed yet."""
    _mark_to_correct(question, value)
    question.state, question.answer, question.reason = _State.PROPOSED, value, reason[:300]
    question.proposed_by, question.proposed_at = by, at
    question.save()
    record_change(
        show=question.judge.show,
        actor=by,
        at=at,
        verb="proposed a correction",
        subject=_subject(question),
        before={"mark": _written(question.value)},
        after={"mark": _written(value)},
        reason=reason,
    )
    return question


def _mark_to_correct(question: Question, value: Decimal | None) -> CardMark:
    """Return the mark asked about, once it is sure that it takes the value."""
    assert question.entry is not None
    assert question.criterion is not None
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
        raise Conflict(_("The mark asked about is gone; the judge must mark the row again."))
    if mark.aside:
        raise Conflict(_(MARK_ASIDE), code="mark-aside")
    new = values.Mark(values.MarkState.MARKED, value)
    facts = card_facts(mark.card, mark.card.entry)
    form = values.Form(mark.criterion.section.form)
    try:
        values.check_mark(mark.criterion.as_value(), facts, new, form)
    except values.MarkRefused as refused:
        raise InvalidInput(
            str(refused), code=refused.code, fields={"value": str(refused)}
        ) from refused
    return mark


# --- The record -------------------------------------------------------------------------------


def _settle(
    question: Question,
    state: Question.State,
    value: Decimal | None,
    reason: str,
    by: Person,
    at: datetime,
    *,
    device: str = "",
    back: Collection[int] = (),
) -> Question:
    question.state = state
    question.answer = value if state == _State.CORRECTED else question.value
    question.reason, question.answered_at, question.answered_by = reason[:300], at, by
    question.save()
    kind = Question.Kind(question.kind)
    before: dict[str, Any] = {}
    after: dict[str, Any] = {}
    if kind == Question.Kind.MARK:
        before["mark"], after["mark"] = _written(question.value), _written(question.answer)
    elif kind != Question.Kind.DAY and state == _State.CORRECTED:
        named = [one for one in (question.entry, question.other_entry) if one is not None]
        after["reopened"] = [f"wagon {one.number}" for one in named if one.pk in back]
    if state == _State.CORRECTED and question.proposed_by is not None:
        after["proposed_by"] = question.proposed_by.name
    record_change(
        show=question.judge.show,
        actor=by,
        at=at,
        verb=f"{_VERBS[state]} {_NOUNS[kind]}",
        subject=_subject(question),
        before=before or None,
        after=after or None,
        reason=reason,
        device=device,
    )
    return question


def _subject(question: Question) -> str:
    """Name the judge and what the question is about."""
    entries = [str(one) for one in (question.entry, question.other_entry) if one is not None]
    about = [f"entr{'ies' if len(entries) > 1 else 'y'} {' and '.join(entries)}"] if entries else []
    row = [str(question.criterion)] if question.criterion else []
    return ", ".join([str(question.judge), *about, *(row or [question.check_name])])


def _written(value: Decimal | None) -> str | None:
    return None if value is None else plain_number(value)
