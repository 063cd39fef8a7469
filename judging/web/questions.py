"""Questions to judges in the office: see them, answer for a judge, stand by, send back, close."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from judging.actions.answer_question import (
    answer_question,
    close_question,
    send_back,
    stand_by,
)
from judging.actions.ask_questions import SHOW_WISE_ALPHA, ask_questions
from judging.models import Question
from judging.queries.keyed import NOBODY, Hands, keyed_by_of, names_on_card
from judging.queries.questions import question_sentence
from judging.rules.results.panel_checks import MEANINGS, Meaning
from judging.rules.results.question_words import clean_show_words
from judging.rules.round.card_hash import plain_number
from judging.web.typed import NOTHING_TYPED, Typed
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext
from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.queries import allowed, demand, person_of, show_for
from showrun.shows.rules.access import Deed

NOTHING_HERE = N_("There is nothing at this address for you.")
_State = Question.State


@dataclass(frozen=True)
class _QuestionLine:
    question: Question
    about: str
    sentence: str
    statistic: float
    meaning: Meaning
    of_a_pair: bool
    # Who judged and who keyed, where another person keyed.
    names: str
    may_stand_by: bool
    # What was typed into each of its forms and refused.
    typed: Typed
    sending_back: Typed
    closing: Typed

    @property
    def becomes(self) -> str:
        """What came of it, or would come of it, in a few words."""
        question = self.question
        if question.kind == Question.Kind.DAY:
            return ""
        if question.kind != Question.Kind.MARK:
            corrected = question.state == _State.CORRECTED
            if question.kind == Question.Kind.CARD:
                back, stands = _("the card went back to the judge"), _("the card as handed in")
            else:
                back, stands = _("both cards went back to the judge"), _("both cards as handed in")
            return back if corrected else stands
        value = plain_number(question.value)
        if question.state == _State.CORRECTED:
            return _("{value} became {answer}").format(
                value=value, answer=plain_number(question.answer)
            )
        return _("{value} stands").format(value=value)


def about(question: Question) -> str:
    """Name what is asked about: a row of a wagon, a wagon, two of them, or the day."""
    wagons = [str(one) for one in (question.entry, question.other_entry) if one is not None]
    if not wagons:
        return _("the whole day")
    named = ngettext("wagon {wagons}", "wagons {wagons}", len(wagons)).format(
        wagons=_(" and ").join(wagons)
    )
    return f"{named}, {question.criterion.name}" if question.criterion else named


def _names(question: Question, hands: Hands) -> str:
    return names_on_card(question.judge.person.name, hands) if hands.scribes else ""


def _place(question: Question) -> tuple[object, ...]:
    """Where a question asks; both judges of a pair are asked at one place."""
    return (
        question.check_name,
        question.entry_id,
        question.other_entry_id,
        question.criterion_id,
    )


def _lines(request: HttpRequest, show: Show, typed: Typed) -> list[_QuestionLine]:
    known = ("judge__person", "entry", "other_entry", "criterion", "answered_by", "proposed_by")
    asked = list(
        Question.objects.filter(judge__show=show)
        .select_related(*known)
        .order_by("-asked_at", "entry__number", "id")
    )
    places = Counter(_place(question) for question in asked)
    hands = keyed_by_of(show)
    return [
        _QuestionLine(
            question=question,
            about=about(question),
            sentence=question_sentence(question),
            statistic=abs(question.statistic),
            meaning=MEANINGS.get(question.check_name, MEANINGS["marks"]).said(),
            of_a_pair=question.entry_id is not None and places[_place(question)] > 1,
            names=_names(question, hands.get((question.judge_id, question.entry_id or 0), NOBODY)),
            may_stand_by=question.proposed_by_id != request.user.pk,
            typed=typed.at((question.pk, "answer")),
            sending_back=typed.at((question.pk, "send-back")),
            closing=typed.at((question.pk, "close")),
        )
        for question in asked
    ]


def _questions_page(
    request: HttpRequest, show: Show, *, typed: Typed = NOTHING_TYPED, status: int = 200
) -> HttpResponse:
    lines = _lines(request, show, typed)
    context = {
        "show": show,
        "here": "questions",
        "open": sorted(
            (line for line in lines if line.question.state == _State.OPEN),
            key=lambda line: -line.statistic,
        ),
        "proposed": [line for line in lines if line.question.state == _State.PROPOSED],
        "answered": [line for line in lines if line.question.state not in Question.WAITING],
        "last_check": AuditEntry.objects.filter(show=show, verb="checked").first(),
        "clean_show": clean_show_words(SHOW_WISE_ALPHA, len(MEANINGS)),
        "may_settle": allowed(request.user, Deed.SETTLE, show),
    }
    return render(request, "judging/questions.html", context, status=status)


@never_cache
@require_safe
def questions(request: HttpRequest, slug: str) -> HttpResponse:
    """List the questions the checks put to judges, open ones first."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    return _questions_page(request, show)


@require_POST
def run_checks(request: HttpRequest, slug: str) -> HttpResponse:
    """Run the checks over all cards that are in."""
    show = show_for(request.user, slug, Deed.SETTLE)
    asked = ask_questions(show=show, by=person_of(request.user), at=timezone.now())
    if not asked.n_checked:
        messages.info(request, _("No mark can be checked yet: too few cards are in."))
    elif asked.questions:
        n = len(asked.questions)
        new = ngettext("{n} new question", "{n} new questions", n).format(n=n)
        messages.warning(
            request,
            ngettext(
                "{n} mark checked; {new} for judges.",
                "{n} marks checked; {new} for judges.",
                asked.n_checked,
            ).format(n=asked.n_checked, new=new),
        )
    else:
        messages.success(
            request,
            ngettext(
                "{n} mark checked; nothing new to ask.",
                "{n} marks checked; nothing new to ask.",
                asked.n_checked,
            ).format(n=asked.n_checked),
        )
    return redirect("judging:questions", show.slug)


# --- Answers, and what the office does beside them --------------------------------------------


def _value(text: str) -> Decimal | None:
    """Read the corrected mark; empty means none was typed."""
    text = text.strip().replace(",", ".")
    if not text:
        return None
    try:
        value = Decimal(text)
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite():
        raise InvalidInput(
            _("The mark is not a number."), fields={"value": _("A number, such as 8.")}
        )
    return value


def _answer(question: Question, typed: dict[str, str], by: Person, at: datetime) -> str:
    done = answer_question(
        question=question,
        verdict=typed["verdict"],
        value=_value(typed["value"]) if typed["verdict"] == "correct" else None,
        reason=typed["reason"],
        by=by,
        at=at,
    )
    if done.state == _State.PROPOSED:
        return _(
            "{value} is to become {answer}. Nothing is changed until a second officer stands by it."
        ).format(value=plain_number(done.value), answer=plain_number(done.answer))
    if done.state == _State.CANNOT_RECALL:
        return _("Noted: the judge cannot recall; nothing is changed.")
    if done.state == _State.CORRECTED:
        return _("The cards are with the judge again, to be put right and signed.")
    if done.kind != Question.Kind.MARK:
        return _("Confirmed: nothing is changed.")
    return _("Confirmed: the mark {mark} stands.").format(mark=plain_number(done.value))


def _stand_by(question: Question, typed: dict[str, str], by: Person, at: datetime) -> str:
    done = stand_by(question=question, by=by, at=at)
    return _("Corrected from {value} to {answer}.").format(
        value=plain_number(done.value), answer=plain_number(done.answer)
    )


def _send_back(question: Question, typed: dict[str, str], by: Person, at: datetime) -> str:
    send_back(question=question, reason=typed["reason"], by=by, at=at)
    return _("The correction is dropped, and the question is open again.")


def _close(question: Question, typed: dict[str, str], by: Person, at: datetime) -> str:
    close_question(question=question, reason=typed["reason"], by=by, at=at)
    return _("Closed; what was asked about stands.")


_DEEDS: dict[str, Callable[[Question, dict[str, str], Person, datetime], str]] = {
    "answer": _answer,
    "stand-by": _stand_by,
    "send-back": _send_back,
    "close": _close,
}


@require_POST
def answer_question_view(request: HttpRequest, question_id: int) -> HttpResponse:
    """Answer for the judge, who told the office what is right; or see to a correction."""
    found = Question.objects.select_related("judge__show")
    question = found.filter(pk=question_id).first()
    if question is None:
        raise NotFound(_(NOTHING_HERE))
    show = question.judge.show
    demand(request.user, Deed.SETTLE, show)
    values = {name: request.POST.get(name, "") for name in ("do", "verdict", "value", "reason")}
    do = values["do"] if values["do"] in _DEEDS else "answer"
    try:
        messages.success(
            request, _DEEDS[do](question, values, person_of(request.user), timezone.now())
        )
    except InvalidInput as fault:
        faults = fault.fields or {"verdict": fault.detail}
        typed = Typed((question.pk, do), values, faults)
        return _questions_page(request, show, typed=typed, status=fault.status)
    except Conflict as fault:
        messages.error(request, fault.detail)
    return redirect("judging:questions", show.slug)
