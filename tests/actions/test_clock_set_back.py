"""The server's clock is set back in mid-show: nothing is lost, and nothing waits for it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from judging.actions import plan_jobs
from judging.models import CardMark, PlanJob, RoundEvent
from reports.actions.draw_paper import _claim as claim_paper
from reports.actions.mark_queued import mark_queued
from reports.actions.want_papers import want_papers
from reports.models import Paper
from tests import papers_stage as stage
from tests.judged_show import (
    AT,
    BEFORE,
    build_show,
    draw_panel,
    judge_of,
    mark,
    office_of,
    open_window,
    pair,
    rows_of,
    send,
)

pytestmark = pytest.mark.django_db
HOURS = timedelta(hours=3)


def test_touches_are_kept_in_the_order_of_the_phone() -> None:
    show = build_show()
    open_window(show)
    judge = judge_of(show)
    device, _ = pair(judge)
    entry = judge.seats.earliest("entry__number").entry
    row = rows_of(judge, entry)[0].code
    times = [AT + HOURS, AT, AT + timedelta(hours=1), AT - timedelta(minutes=30)]
    for value, at in enumerate(times, start=1):
        (told,) = send(device, [mark(entry, row, value)], at=at)
        assert told.status == "applied", told
    assert RoundEvent.objects.filter(device=device, applied=True).count() == len(times)
    stands = CardMark.objects.get(card__judge=judge, card__entry=entry, criterion__code=row)
    assert stands.value == len(times)


def test_papers_claimed_and_asked_for_before_are_drawn_all_the_same() -> None:
    show = stage.show()
    stage.released_class(show, stage.scorecard(show, n_sections=1, n_rows=1), n_entries=3)
    papers = want_papers(show=show, by=None, at=stage.AT)
    assert len(mark_queued(at=stage.AT + timedelta(minutes=1))) == len(papers)
    assert claim_paper(papers[0].pk, stage.AT + timedelta(minutes=1))  # and the worker vanished
    a_moment_later = stage.AT + timedelta(minutes=1, seconds=5)
    assert mark_queued(at=a_moment_later) == []
    assert claim_paper(papers[0].pk, a_moment_later) is None

    back = stage.AT - HOURS
    assert {paper.pk for paper in mark_queued(at=back)} == {paper.pk for paper in papers}
    assert claim_paper(papers[0].pk, back)
    assert Paper.objects.get(pk=papers[0].pk).attempts == 2


def test_a_plan_nobody_looks_for_any_more_is_given_back() -> None:
    show = build_show()
    draw_panel(show)
    job = plan_jobs.ask_for_plan(
        show=show, kind=PlanJob.Kind.DRAW, case={}, limit_s=10, by=office_of(show), at=BEFORE
    )
    assert plan_jobs.claim(job_id=job.pk, at=BEFORE)
    assert plan_jobs.mark_queued(at=BEFORE + timedelta(seconds=5)) == []
    assert plan_jobs.mark_queued(at=BEFORE - HOURS) == [job.pk]
