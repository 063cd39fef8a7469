"""Run the checks over the marks handed in, and put what is odd to the judges."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from math import isfinite
from typing import NamedTuple

from django.db import transaction

from entries.rules.places import Status
from judging.models import CardMark, Criterion, Question
from judging.rules.cards.scorecard import Form, MarkState
from judging.rules.results.checks import odd_marks
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

# Chance that a show without any slip is asked even one question.
SHOW_WISE_ALPHA = 0.05
COMMON_SCALE = 10


@dataclass(frozen=True)
class Asked:
    """The new questions, and what the check looked at."""

    questions: list[Question]
    n_checked: int
    threshold: float | None  # None: too few cards are in to check anything
    alpha: float


class _MarkIn(NamedTuple):
    """A mark of a card handed in."""

    entry_id: int
    judge_id: int
    criterion: Criterion
    value: Decimal


@transaction.atomic
def ask_questions(*, show: Show, by: Person | None, at: datetime) -> Asked:
    """Ask about each mark that neither the panel nor the judge's habit explains.

    Nothing is changed or left out by this; a mark asked about once is not asked about again.
    """
    # Two checks at once would ask the same thing twice.
    Show.objects.select_for_update().get(pk=show.pk)
    marks = _marks_in(show)
    if not marks:
        return Asked([], 0, None, SHOW_WISE_ALPHA)
    odd = odd_marks(
        entry=[mark.entry_id for mark in marks],
        judge=[mark.judge_id for mark in marks],
        criterion=[mark.criterion.pk for mark in marks],
        score=[float(mark.value / mark.criterion.max_mark) * COMMON_SCALE for mark in marks],
        alpha=SHOW_WISE_ALPHA,
    )
    asked = []
    for index in odd.flagged:
        question, new = _ask(
            marks[index],
            expected=float(odd.expected[index]),
            statistic=float(odd.statistic[index]),
            threshold=odd.threshold,
            at=at,
        )
        if new:
            asked.append(question)
    threshold = round(odd.threshold, 3) if isfinite(odd.threshold) else None
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="checked",
        subject="the marks",
        after={
            "marks": odd.n_checked,
            "threshold": threshold,
            "asked": [question.pk for question in asked],
        },
    )
    return Asked(asked, odd.n_checked, threshold, SHOW_WISE_ALPHA)


def _marks_in(show: Show) -> list[_MarkIn]:
    """Return the marks of all cards handed in, in the order they were first given.

    Left out are places and passes, which are on no common scale, marks set aside, and the
    practice wagon.
    """
    criteria = Criterion.objects.filter(section__scorecard__show=show).in_bulk()
    marks = CardMark.objects.filter(
        card__judge__show=show,
        card__handed_in_at__isnull=False,
        criterion__section__form=Form.POINTS.value,
        state=MarkState.MARKED.value,
        aside=False,
    ).order_by("id")
    marks = marks.exclude(card__entry__status=Status.PRACTICE.value)
    columns = marks.values_list("card__entry_id", "card__judge_id", "criterion_id", "value")
    return [
        _MarkIn(entry_id, judge_id, criteria[criterion_id], value)
        for entry_id, judge_id, criterion_id, value in columns
        if value is not None  # which the database holds of a marked row
    ]


def _ask(
    mark: _MarkIn, *, expected: float, statistic: float, threshold: float, at: datetime
) -> tuple[Question, bool]:
    most = mark.criterion.max_mark
    suggested = min(max(Decimal(str(expected)) * most / COMMON_SCALE, Decimal(0)), most)
    return Question.objects.get_or_create(
        judge_id=mark.judge_id,
        entry_id=mark.entry_id,
        criterion=mark.criterion,
        value=mark.value,
        defaults={
            "expected": suggested.quantize(Decimal("0.1")),
            "statistic": statistic,
            "threshold": threshold,
            "alpha": SHOW_WISE_ALPHA,
            "asked_at": at,
        },
    )
