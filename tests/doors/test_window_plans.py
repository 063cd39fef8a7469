"""The plan looked for on the window's page, the day's light and the weekend."""

from __future__ import annotations

import re
import threading
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from judging.actions import plan_jobs
from judging.actions.draw_plan import solve_draw
from judging.actions.set_day import add_pause, set_day
from judging.models import PlanJob, Window
from showrun.shows.models import Show
from tests.judged_show import (
    BEFORE,
    OPENS_AT,
    add_entries,
    add_judges,
    build_show,
    draw_panel,
    entry_of,
    judge_of,
    office_of,
    open_window,
)
from tests.remembered import remembered
from tests.window_page import address, client_of, press, read, said

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("queued")]


@pytest.fixture
@remembered
def show() -> Show:
    made = build_show()
    draw_panel(made)
    return made


# --- The plan looked for -------------------------------------------------------------------


def unproven(show: Show) -> Window:
    window = open_window(show, publish=False)
    window.proven, window.bound_minutes = False, window.needed_minutes - 3
    window.save()
    return window


def test_a_plan_is_looked_for_and_its_progress_shown(
    show: Show, queued: list[int], django_capture_on_commit_callbacks: Any
):
    unproven(show)
    assert "Look for a shorter plan" in read(show)
    with django_capture_on_commit_callbacks(execute=True):
        answer = press(show, do="look", **{"ask-limit_s": "30"})
    assert "The plan there is stands meanwhile" in said(answer)
    job = PlanJob.objects.get()
    assert queued == [job.pk]
    assert job.limit_s == 30
    assert "waiting for a worker" in read(show)
    plan_jobs.claim(job_id=job.pk, at=BEFORE)
    steps: list[plan_jobs.Found] = [{"seconds": 1.25, "minutes": 55, "bound": 52}]
    plan_jobs.note_progress(job_id=job.pk, found=steps, at=BEFORE)
    text = read(show)
    assert 'data-refresh="2"' in text
    assert "Best so far: 55 minutes; at most 3 minutes longer than the best there is." in text
    assert "looked for already" in said(press(show, do="look", **{"ask-limit_s": "30"}))
    assert "ends with what it has" in said(press(show, do="stop", job=job.pk))
    job.refresh_from_db()
    assert job.stop_wanted


def test_a_better_plan_is_offered_and_used_or_left(show: Show):
    window = unproven(show)
    for do, words in (("leave", "is left"), ("use", "The plan is used")):
        said(press(show, do="look", **{"ask-limit_s": "10"}))
        job = PlanJob.objects.first()
        assert job is not None
        solve(job)
        text = read(show)
        assert "Use it" in text
        assert "no plan of these visits can be shorter" in text
        assert words in said(press(show, do=do, job=job.pk))
        assert "Use it" not in read(show)
    assert Window.objects.get(show=show).proven
    assert Window.objects.get(show=show).needed_minutes <= window.needed_minutes


def solve(job: PlanJob) -> None:
    """What the worker does, in this thread."""
    claimed = plan_jobs.claim(job_id=job.pk, at=BEFORE)
    assert claimed is not None
    result = solve_draw(claimed, threading.Event(), lambda minutes, bound: None)
    plan_jobs.finish(job_id=job.pk, result=result, said=result["said"], at=BEFORE)


@pytest.mark.parametrize("limit_s", ["", "0", "999", "soon"])
def test_a_limit_that_is_not_offered_is_refused(show: Show, limit_s: str):
    unproven(show)
    answer = press(show, do="look", **{"ask-limit_s": limit_s})
    assert answer.status_code == 422
    assert not PlanJob.objects.exists()


# --- Daylight and the weekend --------------------------------------------------------------


def at_denver(show: Show) -> None:
    rules = {"latitude": 39.74, "longitude": -104.98}
    set_day(show=show, rules=rules, by=None, at=BEFORE)


def test_the_days_light_stands_on_the_page_once_the_place_is_known(show: Show):
    open_window(show, publish=False)
    assert "Sunrise" not in read(show)
    at_denver(show)
    text = read(show)
    assert "Sunrise 05:4" in text
    assert "The judging lies in daylight." in text
    likely = Window.objects.get(show=show).likely_minutes
    Show.objects.filter(pk=show.pk).update(judging_starts_at=OPENS_AT + timedelta(hours=12))
    assert "after sunset" in read(show)
    assert likely


def test_the_weekend_sizes_each_class_and_lays_them_over_the_days(show: Show):
    text = read(show, "weekend")
    assert "latitude and longitude" in text
    row = re.search(r'Working harness</th><td class="num" data-label="Wagons">(\d+)</td>', text)
    assert row
    assert row[1] == "5"
    at_denver(show)
    text = read(show, "weekend")
    assert "every class has a day" in text
    assert text.count("Sunrise") == 3
    assert "Friday has room for Trail wagon and Working harness" in text
    wide = read(show, "weekend", "?margin=0")
    assert "less 0 minutes at each end" in wide
    assert "That margin cannot be" in read(show, "weekend", "?margin=-1", status=422)


def test_the_weekend_needs_a_panel():
    bare = build_show(slug="bare")
    assert "Draw the panel first" in read(bare, "weekend")


def test_queries_do_not_grow_with_the_show(show: Show):
    at_denver(show)
    plan_jobs.ask_for_plan(show=show, kind="draw", case={}, limit_s=10, by=None, at=BEFORE)

    def queries(name: str) -> int:
        client = client_of(office_of(show))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address(show, name)).status_code == 200
        return len(asked)

    def pause(number: int) -> None:
        for who in ({}, {"judge": judge_of(show)}, {"entry": entry_of(show, number)}):
            add_pause(
                show=show, starts_at=OPENS_AT, ends_at=OPENS_AT + timedelta(minutes=number),
                why="Bell.", by=None, at=BEFORE, **who,
            )  # fmt: skip

    pause(1)
    open_window(show, publish=False)
    few = queries("window"), queries("weekend")
    add_entries(show, 4)
    add_judges(show, 2)
    draw_panel(show, seed=2)
    pause(2)
    pause(3)
    open_window(show, publish=False)
    assert (queries("window"), queries("weekend")) == few
