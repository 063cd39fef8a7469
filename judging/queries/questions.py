"""Questions to judges: where they wait, and how they are said."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from judging.models import Question, Seat
from judging.rules.results.question_sentences import said
from judging.rules.results.question_words import mark_question
from judging.rules.round.card_hash import plain_number
from showrun.shows.models import Show

Place = tuple[int, int]


def question_sentence(question: Question) -> str:
    """Say in plain words what is asked, without blame."""
    if question.sentence or question.criterion is None or question.entry is None:
        return question.sentence
    return mark_question(
        question.entry.number,
        question.criterion.name,
        plain_number(question.value),
        str(question.expected),
    )


def places_waiting(show: Show) -> list[frozenset[Place]]:
    """Return, for each question that waits, the entries and sections it touches, by their keys.

    A question about a card touches all the judge's sections there, one about the day all cards
    of the judge.
    """
    waiting = Question.objects.filter(judge__show=show, state__in=Question.WAITING)
    found = list(waiting.select_related("criterion"))
    judges = {question.judge_id for question in found if question.criterion_id is None}
    seats: dict[int, set[Place]] = defaultdict(set)
    if judges:
        taken = Seat.objects.filter(judge__in=judges).order_by()
        for judge_id, entry_id, section_id in taken.values_list("judge", "entry", "section"):
            seats[judge_id].add((entry_id, section_id))
    return [_places(question, seats[question.judge_id]) for question in found]


def _places(question: Question, seats: set[Place]) -> frozenset[Place]:
    if question.criterion is not None and question.entry_id is not None:
        return frozenset({(question.entry_id, question.criterion.section_id)})
    entries = {question.entry_id, question.other_entry_id} - {None}
    return frozenset(place for place in seats if not entries or place[0] in entries)


def on_the_phone(question: Question) -> dict[str, Any]:
    """Return a question as the judge's phone holds it; what does not fit its kind is None."""
    number = plain_number(question.value) if question.value is not None else None
    return {
        "id": question.pk,
        "kind": question.kind,
        "check": question.check_name,
        "entry": question.entry_id,
        "other_entry": question.other_entry_id,
        "criterion": question.criterion.code if question.criterion else None,
        "value": number,
        "expected": None if question.expected is None else str(question.expected),
        "sentence": said(question_sentence(question)),
        "state": question.state,
    }
