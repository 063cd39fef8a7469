"""Fingerprints over keys are taken anew, where they fitted the keys the rows had before.

A fingerprint that did not fit what was kept, since somebody had changed it behind the show's back,
stays as it was and goes on not fitting.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from entries.models import Entry
from judging.models import Question, Result
from judging.queries.computed import kept_hash
from judging.queries.panel_marks import PanelMarks, panel_marks
from judging.queries.replay import Replay
from judging.queries.results import ClassInputs, show_inputs
from judging.rules.results.question_words import asked_about
from judging.rules.round.card_hash import plain_number
from showrun.errors import NotYet
from showrun.shows.models import Show

# A wagon's key here to the key it had.
Was = Mapping[int, int]


@dataclass(frozen=True)
class Renamed:
    """A result whose fingerprint is another one here."""

    result: str
    was: str
    now: str


def fingerprint_anew(*, show: Show, was: Was) -> list[Renamed]:
    """Take anew what results and questions are fingerprinted by; return the results' own."""
    _questions(show, was)
    results = Result.objects.filter(show_class__show=show).order_by("pk")
    found = (_result(result, show, was) for result in results.select_related("show_class"))
    return [one for one in found if one is not None]


def _result(result: Result, show: Show, was: Was) -> Renamed | None:
    for inputs in _ways(result, show):
        if _as_it_was(inputs, was) == result.inputs_hash:
            # What is kept of the result is judged by the fingerprint it had.
            is_right = kept_hash(result) == result.result_hash
            before, result.inputs_hash = result.result_hash, inputs.fingerprint()
            if is_right:
                result.result_hash = kept_hash(result)
            result.save(update_fields=["inputs_hash", "result_hash"])
            return Renamed(str(result), before, result.result_hash)
    return None


def _ways(result: Result, show: Show) -> Iterator[ClassInputs]:
    """Yield what the result may have been computed from: what is there now, then what was then."""
    try:
        inputs = show_inputs(show, [result.show_class]).get(result.show_class_id)
    except NotYet:  # no card is in use
        return
    if inputs is not None:
        yield inputs
        yield Replay.of(show).inputs(inputs)
        yield Replay.of(show, until=result.computed_at).inputs(inputs, past=True)


def _as_it_was(inputs: ClassInputs, was: Was) -> str:
    """Return the fingerprint these inputs had under the keys of before."""
    before = [seat._replace(entry=Entry(pk=was[seat.entry.pk])) for seat in inputs.judged]
    return replace(inputs, judged=before).fingerprint()


def _questions(show: Show, was: Was) -> None:
    """Let what was asked once count as asked: a question knows the marks it is about."""
    panel = panel_marks(show)
    asked = Question.objects.filter(judge__show=show).exclude(asked_about="")
    for question in asked.select_related("criterion"):
        if _about(panel, question, was.__getitem__) == question.asked_about:
            question.asked_about = _about(panel, question, int)
            question.save(update_fields=["asked_about"])


def _about(panel: PanelMarks, question: Question, key: Callable[[int], int]) -> str:
    """Fingerprint the marks a question is about, under these keys of the wagons."""
    if question.criterion is not None and question.entry_id is not None:
        value = plain_number(question.value)
        return asked_about([(key(question.entry_id), question.criterion.code, value)])
    named = {one for one in (question.entry_id, question.other_entry_id) if one is not None}
    return asked_about(
        (key(mark.entry_id), panel.criteria[mark.criterion_id].code, plain_number(mark.value))
        for mark in panel.marks
        if mark.judge_id == question.judge_id and (not named or mark.entry_id in named)
    )
