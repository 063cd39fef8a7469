"""Run the checks over the marks handed in, and put what is odd to the judges."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from math import copysign, isfinite

from django.db import transaction

from judging.models import Question
from judging.queries.panel_marks import COMMON_SCALE, PanelMarks, panel_marks
from judging.rules.results.habits import Habits
from judging.rules.results.panel_checks import PanelChecks
from judging.rules.results.question_words import (
    asked_about,
    card_question,
    day_question,
    mark_question,
    same_question,
    swap_question,
)
from judging.rules.results.swaps import Swap
from judging.rules.round.card_hash import plain_number
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

# Chance that a show without any slip is asked even one question by one check.
SHOW_WISE_ALPHA = 0.05
# A statistic without end is kept as this, since programs read it as JSON.
LARGEST = 1e6
DAY_CHECKS = ("severity", "spread", "consistency", "drift", "tiring", "order")


@dataclass(frozen=True)
class Asked:
    """The new questions, and what the check looked at."""

    questions: list[Question]
    n_checked: int
    threshold: float | None  # None: too few cards are in to check anything
    alpha: float


@transaction.atomic
def ask_questions(*, show: Show, by: Person | None, at: datetime) -> Asked:
    """Ask about marks and cards that neither the panel nor the judge's habit explains.

    Nothing is changed or left out by this; the same marks are not asked about again.
    """
    # Two checks at once would ask the same thing twice.
    Show.objects.select_for_update().get(pk=show.pk)
    panel = panel_marks(show)
    found = panel.checks(SHOW_WISE_ALPHA)
    if found is None:
        return Asked([], 0, None, SHOW_WISE_ALPHA)
    asked = _ask(show, _drafts(panel, found), at)
    odd = found.marks
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


@transaction.atomic
def put_to_judges(
    *, show: Show, check: str, judge_id: int | None, by: Person, at: datetime
) -> list[Question]:
    """Put a habit of the day to its judge, or what the order did to all judges.

    The checks run again, so that only what the marks still say is asked.
    """
    if check not in DAY_CHECKS:
        raise InvalidInput(_("There is no such finding."), fields={"check": _("Not a check.")})
    Show.objects.select_for_update().get(pk=show.pk)
    panel = panel_marks(show)
    found = panel.checks(SHOW_WISE_ALPHA)
    wanted = [
        draft
        for draft in (_day(panel, found, check) if found else ())
        if check == "order" or draft.judge_id == judge_id
    ]
    if not wanted:
        raise Conflict(_("The marks do not say this any more."), code="finding-gone")
    asked = _ask(show, wanted, at)
    if not asked:
        raise Conflict(_("This was asked before."), code="asked-before")
    for question in asked:
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="put a finding to the judge",
            subject=f"{panel.judges[question.judge_id]}, {check}",
            after={"question": question.pk, "asks": question.sentence},
        )
    return asked


# --- What is to be asked ----------------------------------------------------------------------


def _drafts(panel: PanelMarks, found: PanelChecks) -> Iterator[Question]:
    """Give a draft for everything the checks put to a judge by themselves."""
    for index in found.marks.flagged:
        yield _about_mark(panel, found, index)
    exchanged: set[tuple[int, int]] = set()
    for swap in found.swaps.flagged:
        for draft in _about_swap(panel, found, swap):
            exchanged |= {(draft.judge_id, e) for e in (draft.entry_id, draft.other_entry_id) if e}
            yield draft
    yield from _about_cards(panel, found, exchanged)
    for card in found.same:
        judge_id, entry_id = _pk(card.judge), _pk(card.entry)
        yield Question(
            **_card(panel, "same", judge_id, entry_id),
            sentence=same_question(panel.entries[entry_id].number, card.mark, card.share),
            **_figures(card.statistic, card.threshold),
        )


def _about_mark(panel: PanelMarks, found: PanelChecks, index: int) -> Question:
    mark, odd = panel.marks[index], found.marks
    row, entry = panel.criteria[mark.criterion_id], panel.entries[mark.entry_id]
    most, value = row.max_mark, plain_number(mark.value)
    suggested = Decimal(str(float(odd.expected[index]))) * most / COMMON_SCALE
    expected = min(max(suggested, Decimal(0)), most).quantize(Decimal("0.1"))
    return Question(
        judge_id=mark.judge_id,
        entry=entry,
        criterion=row,
        value=mark.value,
        expected=expected,
        sentence=mark_question(entry.number, row.name, value, str(expected)),
        asked_about=asked_about([(mark.entry_id, row.code, value)]),
        **_figures(float(odd.statistic[index]), odd.threshold),
    )


def _about_swap(panel: PanelMarks, found: PanelChecks, swap: Swap) -> Iterator[Question]:
    """Ask the judge; with two judges only, ask both, since it is not known whose cards."""
    pair = _pk(swap.first), _pk(swap.second)
    pair = min(pair), max(pair)
    judges = {_pk(swap.judge)}
    if swap.pair:
        judges |= {pk for pk in panel.judges if panel.seen_by(pk) >= set(pair)}
    first, second = (panel.entries[pk] for pk in pair)
    for judge_id in sorted(judges):
        yield Question(
            judge_id=judge_id,
            kind=Question.Kind.SWAP,
            check_name="swaps",
            entry=first,
            other_entry=second,
            sentence=swap_question(first.number, second.number, pair=len(judges) > 1),
            asked_about=panel.fingerprint(judge_id, pair),
            **_figures(swap.statistic, found.swaps.threshold),
        )


def _about_cards(
    panel: PanelMarks, found: PanelChecks, exchanged: set[tuple[int, int]]
) -> Iterator[Question]:
    """Ask about odd cards, save those the judge is asked about as exchanged: it is one answer."""
    odd = found.cards
    for index in odd.flagged:
        judge_id, entry_id = _pk(odd.judge[index]), _pk(odd.entry[index])
        if (judge_id, entry_id) not in exchanged:
            yield Question(
                **_card(panel, "cards", judge_id, entry_id),
                sentence=card_question(panel.entries[entry_id].number, float(odd.shift[index])),
                **_figures(float(odd.statistic[index]), odd.threshold),
            )


def _day(panel: PanelMarks, found: PanelChecks, check: str) -> Iterator[Question]:
    """Give a draft for every judge of whom this check says something."""
    told: list[tuple[int, float, float, float]] = []
    if check == "order":
        order = found.order
        if order is not None and order.flagged:
            told = [(pk, order.size, order.statistic, order.threshold) for pk in _at_work(panel)]
    else:
        habits: Habits | None = getattr(found, check)
        told = [
            (_pk(habit.judge), habit.size, habit.statistic, habits.threshold)
            for habit in (habits.judges if habits else ())
            if habits and habit.flagged
        ]
    for judge_id, size, statistic, threshold in told:
        yield Question(
            judge_id=judge_id,
            kind=Question.Kind.DAY,
            check_name=check,
            sentence=day_question(check, size),
            asked_about=panel.fingerprint(judge_id),
            **_figures(statistic, threshold),
        )


def _at_work(panel: PanelMarks) -> list[int]:
    return sorted({mark.judge_id for mark in panel.marks})


def _card(panel: PanelMarks, check: str, judge_id: int, entry_id: int) -> dict[str, object]:
    return {
        "judge_id": judge_id,
        "kind": Question.Kind.CARD,
        "check_name": check,
        "entry": panel.entries[entry_id],
        "asked_about": panel.fingerprint(judge_id, [entry_id]),
    }


def _figures(statistic: float, threshold: float) -> dict[str, float]:
    size = min(abs(statistic), LARGEST)
    return {
        "statistic": copysign(size, statistic),
        "threshold": threshold,
        "alpha": SHOW_WISE_ALPHA,
    }


def _pk(label: object) -> int:
    """Return a label as the key it is: judges and entries go into the checks by their keys."""
    assert isinstance(label, int)
    return label


# --- Asking once ------------------------------------------------------------------------------


def _ask(show: Show, drafts: Iterator[Question] | list[Question], at: datetime) -> list[Question]:
    """Keep the drafts that were not asked before and do not wait for an answer already."""
    known = Question.objects.filter(judge__show=show)
    before = {_key(question) for question in known}
    waiting = {_matter(question) for question in known if question.state in Question.WAITING}
    asked = []
    for draft in drafts:
        if _key(draft) in before or (draft.criterion_id is None and _matter(draft) in waiting):
            continue
        draft.asked_at = at
        draft.save()
        before.add(_key(draft))
        asked.append(draft)
    return asked


def _key(question: Question) -> tuple[object, ...]:
    """What makes a question the same one: the mark, or the check and all marks it looked at."""
    if question.criterion_id is not None:
        return (question.judge_id, question.entry_id, question.criterion_id, question.value)
    return (question.judge_id, question.check_name, question.entry_id, question.asked_about)


def _matter(question: Question) -> tuple[object, ...]:
    """What a question of cards or of a day is about, whatever the marks are by now."""
    return (
        question.judge_id,
        question.check_name,
        question.entry_id,
        question.other_entry_id,
    )
