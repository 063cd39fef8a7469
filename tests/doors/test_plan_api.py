"""Rules of the day, pauses and plans over the API."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from judging.actions import plan_jobs
from judging.models import DayRules, Pause, PlanJob, Window
from showrun.shows.models import Show
from tests.http_api import get, post, took
from tests.judged_show import (
    BEFORE,
    OPENS_AT,
    build_show,
    draw_panel,
    entry_of,
    office_of,
    open_window,
)
from tests.problems import problem
from tests.remembered import remembered

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("queued")]


@pytest.fixture
@remembered
def show() -> Show:
    made = build_show()
    draw_panel(made)
    return made


def test_the_rules_of_the_day_are_set_one_by_one(show: Show):
    office, path = office_of(show), f"shows/{show.slug}/day"
    assert took(get(office, path))["style"] == "rotating"
    took(post(office, path, {"talk_minutes": 2, "fair_ends": True, "break_until": "12:00"}))
    kept = took(post(office, path, {"style": "walking"}))
    assert (kept["talk_minutes"], kept["fair_ends"], kept["style"]) == (2, True, "walking")
    assert kept["break_until"] == "12:00:00"
    assert took(get(office, path)) == kept
    problem(post(office, path, {"latitude": 95}), 422, "invalid-input")
    problem(post(office, path, {"latitude": 39}), 422, "invalid-input")
    assert DayRules.objects.get(show=show).latitude is None


def test_pauses_are_noted_listed_and_dropped(show: Show):
    office, path = office_of(show), f"shows/{show.slug}/pauses"
    span = {
        "starts_at": OPENS_AT.isoformat(),
        "ends_at": (OPENS_AT + timedelta(minutes=20)).isoformat(),
        "why": "Turn-in of beans.",
    }
    for who in ({}, {"judge": "J2"}, {"entry": 3}):
        made = took(post(office, path, {**span, **who}), 201)
        assert (made["judge"], made["entry"]) == (who.get("judge"), who.get("entry"))
    listed = took(get(office, path))
    assert [(one["judge"], one["entry"]) for one in listed] == [
        (None, None),
        ("J2", None),
        (None, 3),
    ]
    problem(post(office, path, {**span, "judge": "J9"}), 404, "not-found")
    problem(post(office, path, {**span, "entry": 99}), 404, "not-found")
    problem(post(office, path, {**span, "judge": "J2", "entry": 3}), 422, "invalid-input")
    problem(post(office, path, {**span, "why": ""}), 422, "invalid-input")
    assert Pause.objects.count() == 3
    assert post(office, f"pauses/{listed[0]['id']}/drop").status_code == 204
    problem(post(office, f"pauses/{listed[0]['id']}/drop"), 404, "not-found")
    assert Pause.objects.count() == 2


def test_a_plan_is_asked_for_watched_stopped_and_used(
    show: Show, queued: list[int], django_capture_on_commit_callbacks: Any
):
    office = office_of(show)
    open_window(show, publish=False)
    with django_capture_on_commit_callbacks(execute=True):
        asked = took(post(office, f"shows/{show.slug}/plans", {"limit_s": 20}), 201)
    assert (asked["state"], asked["limit_s"], asked["makespan"]) == ("wanted", 20, None)
    assert queued == [asked["id"]]
    problem(post(office, f"shows/{show.slug}/plans"), 409, "conflict")
    problem(post(office, f"shows/{show.slug}/plans", {"limit_s": 9999}), 422, "invalid-input")
    problem(post(office, f"plans/{asked['id']}/use"), 409, "not-yet")
    stopped = took(post(office, f"plans/{asked['id']}/stop"))
    assert stopped["state"] == "stopped"
    problem(post(office, f"plans/{asked['id']}/stop"), 409, "conflict")
    again = took(post(office, f"shows/{show.slug}/plans"), 201)
    assert [one["id"] for one in took(get(office, f"shows/{show.slug}/plans"))] == [
        again["id"],
        asked["id"],
    ]
    assert took(get(office, f"plans/{again['id']}")) == again
    plan_jobs.claim(job_id=again["id"], at=BEFORE)
    window = Window.objects.get(show=show)
    visits = [
        [v.judge_id, v.entry_id, *((at - window.opens_at) // timedelta(minutes=1) for at in ends)]
        for v in window.visits.all()
        for ends in [(v.starts_at, v.ends_at)]
    ]
    result = {
        "visits": visits, "makespan": window.needed_minutes, "bound": window.bound_minutes,
        "proven": window.proven, "solver": "by hand",
    }  # fmt: skip
    plan_jobs.finish(job_id=again["id"], result=result, said="As it was.", at=BEFORE)
    done = took(get(office, f"plans/{again['id']}"))
    assert (done["state"], done["makespan"], done["proven"]) == (
        "done", window.needed_minutes, window.proven,
    )  # fmt: skip
    used = took(post(office, f"plans/{again['id']}/use"))
    assert used["solver"] == "by hand"
    assert used["likely_minutes"] == window.likely_minutes
    assert used["chance"] == window.chance
    problem(post(office, f"plans/{again['id']}/leave"), 409, "conflict")


def test_the_window_is_sized_to_what_is_chosen_and_published_with_its_chance(show: Show):
    office, path = office_of(show), f"shows/{show.slug}/window"
    sized = took(post(office, path), 201)
    minutes = sized["needed_minutes"] + 1
    assert minutes < sized["likely_minutes"]
    Show.objects.filter(pk=show.pk).update(judging_minutes=minutes)
    assert len(took(post(office, path, {"hold": "plan"}), 201)["advice"]) == 1
    tight = took(post(office, path, {"hold": "likely"}), 201)
    assert len(tight["advice"]) > 1
    assert tight["chance"] < 0.9
    problem(post(office, path, {"hold": "both"}), 422, "invalid-input")
    problem(post(office, f"{path}/publish"), 409, "risky")
    assert took(post(office, f"{path}/publish", {"accept_chance": True}))["published_at"]


def test_another_shows_plans_are_nobodys_here(show: Show):
    other = build_show(slug="elsewhere")
    job = PlanJob.objects.create(show=other, kind="draw", asked_at=BEFORE)
    for verb in ("stop", "use", "leave"):
        problem(post(office_of(show), f"plans/{job.pk}/{verb}"), 404, "not-found")
    problem(get(office_of(show), f"plans/{job.pk}"), 404, "not-found")
    assert entry_of(show)
