"""The office while judging runs: questions, and the record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from judging.actions.answer_question import answer_question
from judging.actions.ask_questions import SHOW_WISE_ALPHA, ask_questions
from judging.models import Question
from judging.queries.record import record_of
from judging.queries.round import question_sentence
from judging.rules.round.card_hash import plain_number
from judging.web.typed import NOTHING_TYPED, Typed
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.queries import allowed, demand, show_by_slug
from showrun.shows.rules.access import Deed

LINES_A_PAGE = 50
NOTHING_HERE = "There is nothing at this address for you."


def _actor(request: HttpRequest) -> Person:
    assert isinstance(request.user, Person)
    return request.user


# --- Questions ------------------------------------------------------------------------


@dataclass(frozen=True)
class _QuestionLine:
    question: Question
    sentence: str
    statistic: float
    of_a_pair: bool
    typed: Typed


def clean_show_words(alpha: float) -> str:
    """Say how often the checks ask in a show without any slip."""
    of_hundred = plain_number(Decimal(str(alpha)) * 100)
    return f"A clean show gets even one such question in {of_hundred} of 100 shows."


def _questions_page(
    request: HttpRequest, show: Show, *, typed: Typed = NOTHING_TYPED, status: int = 200
) -> HttpResponse:
    asked = list(
        Question.objects.filter(judge__show=show)
        .select_related("judge__person", "entry", "criterion", "answered_by")
        .order_by("-asked_at", "entry__number", "id")
    )
    places: dict[tuple[int, int], int] = {}
    for question in asked:
        place = (question.entry_id, question.criterion_id)
        places[place] = places.get(place, 0) + 1
    lines = [
        _QuestionLine(
            question=question,
            sentence=question_sentence(question),
            statistic=abs(question.statistic),
            of_a_pair=places[question.entry_id, question.criterion_id] > 1,
            typed=typed.at(question.pk),
        )
        for question in asked
    ]
    context = {
        "show": show,
        "here": "questions",
        "open": sorted(
            (line for line in lines if line.question.state == Question.State.OPEN),
            key=lambda line: -line.statistic,
        ),
        "answered": [line for line in lines if line.question.state != Question.State.OPEN],
        "last_check": AuditEntry.objects.filter(show=show, verb="checked").first(),
        "clean_show": clean_show_words(SHOW_WISE_ALPHA),
        "may_settle": allowed(request.user, Deed.SETTLE, show),
    }
    return render(request, "judging/questions.html", context, status=status)


@never_cache
@require_safe
def questions(request: HttpRequest, slug: str) -> HttpResponse:
    """List the questions the checks put to judges, open ones first."""
    show = show_by_slug(slug)
    demand(request.user, Deed.SEE_OFFICE, show)
    return _questions_page(request, show)


@require_POST
def run_checks(request: HttpRequest, slug: str) -> HttpResponse:
    """Run the checks over all cards that are in."""
    show = show_by_slug(slug)
    demand(request.user, Deed.SETTLE, show)
    asked = ask_questions(show=show, by=_actor(request), at=timezone.now())
    if not asked.n_checked:
        messages.info(request, "No mark can be checked yet: too few cards are in.")
    elif asked.questions:
        n = len(asked.questions)
        new = f"{n} new question{'s' if n > 1 else ''}"
        messages.warning(request, f"{asked.n_checked} marks checked; {new} for judges.")
    else:
        messages.success(request, f"{asked.n_checked} marks checked; nothing new to ask.")
    return redirect("judging:questions", show.slug)


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
        raise InvalidInput("The mark is not a number.", fields={"value": "A number, such as 8."})
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
    if done.state == Question.State.CONFIRMED:
        return f"Confirmed: the mark {plain_number(done.value)} stands."
    return f"Corrected from {plain_number(done.value)} to {plain_number(done.answer)}."


@require_POST
def answer_question_view(request: HttpRequest, question_id: int) -> HttpResponse:
    """Answer for the judge, who told the office what is right."""
    questions = Question.objects.select_related("judge__show")
    question = questions.filter(pk=question_id).first()
    if question is None:
        raise NotFound(NOTHING_HERE)
    show = question.judge.show
    demand(request.user, Deed.SETTLE, show)
    values = {name: request.POST.get(name, "") for name in ("verdict", "value", "reason")}
    try:
        messages.success(request, _answer(question, values, _actor(request), timezone.now()))
    except InvalidInput as fault:
        faults = fault.fields or {"verdict": fault.detail}
        typed = Typed(question.pk, values, faults)
        return _questions_page(request, show, typed=typed, status=fault.status)
    except Conflict as fault:
        messages.error(request, fault.detail)
    return redirect("judging:questions", show.slug)


# --- The record -----------------------------------------------------------------------


def in_lines(kept: Any) -> list[str]:
    """Say what a line of the record holds, a fact a line; long lists by their length."""
    if not isinstance(kept, dict):
        return [] if kept is None else [_brief(kept)]
    return [f"{str(name).replace('_', ' ')}: {_brief(value)}" for name, value in kept.items()]


def _brief(value: Any) -> str:
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        parts = [f"{k} {v}" for k, v in value.items() if not isinstance(v, dict | list)]
        text = ", ".join(parts)
    elif isinstance(value, list):
        plain = [str(v) for v in value if not isinstance(v, dict | list)]
        text = ", ".join(plain) if len(plain) == len(value) else f"{len(value)} of them"
    else:
        text = str(value)
    return text if len(text) <= 160 else f"{text[:159]}…"


@never_cache
@require_safe
def record(request: HttpRequest, slug: str) -> HttpResponse:
    """Show who changed what, when and why, newest first."""
    show = show_by_slug(slug)
    demand(request.user, Deed.SEE_OFFICE, show)
    text = request.GET.get("q", "").strip()[:100]
    page = Paginator(record_of(show, text=text), LINES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "show": show,
        "here": "record",
        "q": text,
        "page": page,
        "lines": [(line, in_lines(line.before), in_lines(line.after)) for line in page],
    }
    return render(request, "judging/record.html", context)
