"""The checks put to judges: what is planted is asked of the right judge, once, and no more."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from scipy.stats import binom

from entries.models import Entry
from judging.actions import ask_questions as asking
from judging.actions.ask_questions import ask_questions, put_to_judges
from judging.models import Card, CardMark, Criterion, Judge, Question, RoundEvent
from judging.queries.panel_marks import MarkIn, PanelMarks, panel_marks
from showrun.errors import Conflict, InvalidInput
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import AT, entry_of, judge_of, office_of
from tests.kept import kept_for_module
from tests.panel_stage import (
    clean_marks,
    judged_as,
    with_favour,
    with_one_mark,
    with_severe_judge,
    with_slip,
    with_swap,
)
from tests.rules.results.clean_show import REALISTIC, Floats, clean_show
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def judged_pk(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """A clean show; each test writes its own marks onto the cards."""
    with kept_for_module(django_db_blocker):
        yield judged_as(clean_marks()).pk


@pytest.fixture
def show(judged_pk: int, db: None) -> Show:
    return Show.objects.get(pk=judged_pk)


def mark_as(show: Show, marks: Floats) -> None:
    """Put these marks onto the cards, as if they had been given so."""
    rows = list(
        Criterion.objects.filter(section__scorecard__show=show).order_by(
            "section__position", "position"
        )
    )
    place = {row.pk: n for n, row in enumerate(rows)}
    changed = list(CardMark.objects.filter(card__judge__show=show).select_related("card"))
    numbers = dict(Entry.objects.filter(show=show).values_list("pk", "number"))
    codes = dict(Judge.objects.filter(show=show).values_list("pk", "code"))
    for mark in changed:
        wagon, judge = numbers[mark.card.entry_id] or 0, int(codes[mark.card.judge_id][1:])
        mark.value = Decimal(int(marks[wagon - 1, judge - 1, place[mark.criterion_id]]))
    CardMark.objects.bulk_update(changed, ["value"], batch_size=200)


def ask(show: Show) -> list[Question]:
    return ask_questions(show=show, by=office_of(show), at=AT).questions


def in_short(questions: list[Question]) -> list[tuple[Any, ...]]:
    found = Question.objects.filter(pk__in=[one.pk for one in questions])
    return [
        (q.kind, q.check_name, q.judge.code, q.entry and q.entry.number,
         q.other_entry and q.other_entry.number, q.criterion and q.criterion.code)
        for q in found.order_by("id")
    ]  # fmt: skip


# --- What is asked, and of whom ---------------------------------------------------------------


def test_a_clean_show_is_asked_nothing(show: Show):
    assert ask(show) == []
    line = AuditEntry.objects.get(show=show, verb="checked")
    assert line.after["marks"] > 200
    assert line.after["asked"] == []


@pytest.mark.parametrize(
    ("planted", "asked", "words"),
    [
        (with_slip, ("marks", "marks", "J1", 5, None, "ck_fire"), "the card says 0."),
        (with_favour, ("cards", "cards", "J3", 4, None, None), "points a row higher"),
        (with_swap, ("swaps", "swaps", "J2", 2, 7, None), "your cards of wagons 2 and 7"),
        (with_one_mark, ("cards", "same", "J1", 3, None, None), "every row has the mark 7"),
    ],
)
def test_what_is_planted_is_asked_of_its_judge(
    show: Show, planted: Any, asked: tuple[Any, ...], words: str
):
    mark_as(show, planted())
    before = sorted(CardMark.objects.values_list("pk", "value", "version"))
    questions = ask(show)
    assert in_short(questions) == [asked]
    assert words in questions[0].sentence
    assert questions[0].threshold > 0
    assert len(questions[0].asked_about) == 64
    assert sorted(CardMark.objects.values_list("pk", "value", "version")) == before


def test_the_same_finding_is_asked_once_and_changed_marks_anew(show: Show):
    mark_as(show, with_favour())
    (first,) = ask(show)
    assert ask(show) == []
    card = CardMark.objects.filter(card__judge__code="J3", card__entry__number=4)
    one = card.filter(value__lt=10).earliest("pk")
    one.value = Decimal(10)
    one.save()
    assert ask(show) == [], "it waits for an answer already, whatever the marks are by now"
    Question.objects.filter(pk=first.pk).update(state=Question.State.CONFIRMED)
    (second,) = ask(show)
    assert in_short([second]) == in_short([first])
    assert second.asked_about != first.asked_about
    Question.objects.filter(pk=second.pk).update(state=Question.State.CONFIRMED)
    assert ask(show) == []


def test_with_two_judges_both_are_asked_about_a_swap(show: Show):
    Card.objects.filter(judge__code="J3").update(handed_in_at=None)
    marks = with_swap()
    # Clearer than chance alone would make it: two judges tell little.
    marks[1, 0], marks[6, 0] = 2 + np.arange(9) % 4, 9 - np.arange(9) % 4
    marks[1, 1], marks[6, 1] = marks[6, 0], marks[1, 0]
    mark_as(show, marks)
    swaps = [one for one in ask(show) if one.kind == Question.Kind.SWAP]
    assert sorted(one.judge.code for one in swaps) == ["J1", "J2"]
    assert all("The other judge is asked too." in one.sentence for one in swaps)


def test_clean_shows_are_asked_no_more_often_than_stated():
    """Four checks ask by themselves, each in 5 of 100 clean shows at most."""
    shows, rng = 40, np.random.default_rng(7)
    asked = sum(bool(drafts_of(clean_show(rng, (8, 3, 12), REALISTIC))) for _ in range(shows))
    assert asked <= binom.ppf(0.999, shows, 1 - 0.95**4)


def drafts_of(marks: Floats) -> list[Question]:
    """Return what would be asked about these marks, without any row of a database."""
    panel = PanelMarks(
        marks=[
            MarkIn(e + 1, j + 1, k + 1, Decimal(int(marks[e, j, k])), None)
            for e, j, k in np.ndindex(marks.shape)
        ],
        criteria={k + 1: Criterion(pk=k + 1, code=f"r{k}", name=f"Row {k}", max_mark=Decimal(10))
                  for k in range(marks.shape[2])},
        entries={e + 1: Entry(pk=e + 1, number=e + 1) for e in range(marks.shape[0])},
        judges={j + 1: Judge(pk=j + 1, code=f"J{j + 1}") for j in range(marks.shape[1])},
    )  # fmt: skip
    found = panel.checks(0.05)
    assert found is not None
    return list(asking._drafts(panel, found))


# --- Times ------------------------------------------------------------------------------------


def test_a_cards_time_is_the_middle_of_its_touches(show: Show):
    panel = panel_marks(show)
    assert panel.minutes == [0.0] * len(panel.marks), "this show sends everything at once"
    here = RoundEvent.objects.filter(
        kind="mark", device__judge__code="J1", body__entry=entry_of(show, 1).pk
    ).order_by("seq")
    late = here.last()
    assert late
    with unguarded(RoundEvent):
        here.update(happened_at=AT + timedelta(minutes=30))
        RoundEvent.objects.filter(pk=late.pk).update(happened_at=AT + timedelta(hours=9))
    times = panel_marks(show).card_times
    first = times[entry_of(show, 1).pk, judge_of(show, "J1").pk]
    assert first - times[entry_of(show, 2).pk, judge_of(show, "J1").pk] == pytest.approx(30.0)


def test_a_card_without_a_time_leaves_drift_unchecked_and_no_mark_out(show: Show):
    n = len(panel_marks(show).marks)
    CardMark.objects.filter(card__judge__code="J1", card__entry__number=1).update(event=None)
    panel = panel_marks(show)
    assert (len(panel.marks), panel.minutes, panel.untimed) == (n, None, 1)
    found = panel.checks(0.05)
    assert found is not None
    assert found.drift is None


# --- Findings about the day -------------------------------------------------------------------


def test_a_habit_is_asked_only_when_the_office_puts_it_to_the_judge(show: Show):
    mark_as(show, with_severe_judge())
    assert ask(show) == []
    judge = judge_of(show, "J2")
    who: dict[str, Any] = {"by": office_of(show), "at": AT}
    (asked,) = put_to_judges(show=show, check="severity", judge_id=judge.pk, **who)
    assert in_short([asked]) == [("day", "severity", "J2", None, None, None)]
    assert "points a row lower than the other judges" in asked.sentence
    assert AuditEntry.objects.filter(verb="put a finding to the judge").count() == 1
    with pytest.raises(Conflict, match="asked before"):
        put_to_judges(show=show, check="severity", judge_id=judge.pk, **who)


@pytest.mark.parametrize("check", ["severity", "spread", "consistency", "drift", "tiring", "order"])
def test_what_the_marks_do_not_say_cannot_be_put(show: Show, check: str):
    with pytest.raises(Conflict, match="do not say"):
        put_to_judges(
            show=show, check=check, judge_id=judge_of(show, "J1").pk, by=office_of(show), at=AT
        )
    with pytest.raises(InvalidInput):
        put_to_judges(show=show, check="looks", judge_id=1, by=office_of(show), at=AT)
    assert not Question.objects.exists()
