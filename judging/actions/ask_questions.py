"""Run the checks over the marks handed in, and put what is odd to the judges."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from math import isfinite

from django.db import transaction

from judging.models import CardMark, Question
from judging.rules.cards.scorecard import MarkState
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


@transaction.atomic
def ask_questions(*, show: Show, by: Person | None, at: datetime) -> Asked:
    """Ask about each mark that neither the panel nor the judge's habit explains.

    Nothing is changed or left out by this; a mark asked about once is not asked about again.
    """
    # Two checks at once would ask the same thing twice.
    Show.objects.select_for_update().get(pk=show.pk)
    marks = list(
        CardMark.objects.filter(
            card__judge__show=show,
            card__handed_in_at__isnull=False,
            state=MarkState.MARKED.value,
        )
        .select_related("card", "criterion")
        .order_by("id")
    )
    if not marks:
        return Asked([], 0, None, SHOW_WISE_ALPHA)
    odd = odd_marks(
        entry=[mark.card.entry_id for mark in marks],
        judge=[mark.card.judge_id for mark in marks],
        criterion=[mark.criterion_id for mark in marks],
        score=[float(_value(mark) / mark.criterion.max_mark) * COMMON_SCALE for mark in marks],
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


def _value(mark: CardMark) -> Decimal:
    if mark.value is None:  # the database holds that a marked row has a value
        raise ValueError("A marked row without a value.")
    return mark.value


def _ask(
    mark: CardMark, *, expected: float, statistic: float, threshold: float, at: datetime
) -> tuple[Question, bool]:
    most = mark.criterion.max_mark
    suggested = min(max(Decimal(str(expected)) * most / COMMON_SCALE, Decimal(0)), most)
    return Question.objects.get_or_create(
        judge_id=mark.card.judge_id,
        entry_id=mark.card.entry_id,
        criterion=mark.criterion,
        value=_value(mark),
        defaults={
            "expected": suggested.quantize(Decimal("0.1")),
            "statistic": statistic,
            "threshold": threshold,
            "alpha": SHOW_WISE_ALPHA,
            "asked_at": at,
        },
    )
