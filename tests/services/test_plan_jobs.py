"""A real worker looks for a plan over a real Redis; killed, it takes no plan along."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.worker_stage import REDIS, WorkerStage

PATIENCE_S = 90

pytestmark = [
    pytest.mark.services,
    pytest.mark.skipif(not REDIS, reason="TEST_REDIS_URL is not set"),
]

# The settings cannot import models; the worker shortens the lease when it is set up.
SETTINGS = """
from showrun.project.settings import *

CELERY_IMPORTS = ("hurried",)
CELERY_BEAT_SCHEDULE = {
    "sweep": {"task": "judging.tasks.sweep_plan_jobs", "schedule": 1.0},
}
"""
HURRIED = """
from datetime import timedelta
from judging.actions import plan_jobs

# Short, so that the test need not wait as long as a show would.
plan_jobs.LEASE = timedelta(seconds=5)
plan_jobs.PATIENCE = timedelta(seconds=1)
"""

PREPARE = """
import django; django.setup()
from judging.models import PlanJob, Window
from tests import judged_show as stage
from datetime import time, timedelta
from judging.actions.set_day import add_pause, set_day
# Crews that are busy one after the other, and a break: the bound stays below every plan, so that
# the worker looks as long as it is given.
show = stage.build_show(n_entries=14, n_judges=9, judges_per_section=5, judging_minutes=600)
stage.draw_panel(show)
rest = {"break_minutes": 25, "break_from": time(8, 20), "break_until": time(9, 30)}
set_day(show=show, rules={**rest, "fair_ends": True}, by=None, at=stage.BEFORE)
for number in range(1, 15):
    start = stage.OPENS_AT + timedelta(minutes=7 * number)
    add_pause(show=show, starts_at=start, ends_at=start + timedelta(minutes=25), why="Turn-in.",
              entry=stage.entry_of(show, number), by=None, at=stage.BEFORE)
stage.open_window(show, publish=False)
"""

ASK = """
import django; django.setup()
from django.utils.timezone import now
from showrun.shows.models import Show
from judging.actions.plan_jobs import ask_for_plan
from judging.tasks import queue_plan
job = ask_for_plan(show=Show.objects.get(), kind="draw", case={}, limit_s=%d, by=None, at=now())
queue_plan(job)
"""

STOP = """
import django; django.setup()
from django.utils.timezone import now
from judging.actions.plan_jobs import stop
from judging.models import PlanJob
stop(job=PlanJob.objects.first(), by=None, at=now())
"""


class Stage(WorkerStage):
    """Workers that look for plans."""

    settings = SETTINGS
    queues = "plans,default"
    redis_database = 12

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        (folder / "hurried.py").write_text(HURRIED)

    def start_looking(self) -> None:
        """Start a worker that sweeps by itself."""
        self.start_worker("-B", "--schedule", str(self.folder / f"beat-{len(self.workers)}"))

    def job(self) -> dict[str, Any]:
        """The newest job."""
        names = ("state", "said", "progress", "result", "case", "heard_at")
        sql = 'SELECT state, said, progress, result, "case", heard_at FROM judging_planjob'
        job = dict(zip(names, self.rows(f"{sql} ORDER BY id DESC LIMIT 1")[0], strict=True))
        return {**job, **{n: json.loads(job[n]) for n in ("progress", "result", "case")}}

    def plan(self) -> tuple[list[tuple[Any, ...]], list[tuple[Any, ...]]]:
        """The window and its visits, every column."""
        return (
            self.rows("SELECT * FROM judging_window"),
            self.rows("SELECT * FROM judging_visit ORDER BY id"),
        )

    def wait_for(self, *states: str, progress: bool = False) -> dict[str, Any]:
        deadline = time.monotonic() + PATIENCE_S
        while True:
            job = self.job()
            if job["state"] in states and (job["progress"] or not progress):
                return job
            if time.monotonic() > deadline:
                pytest.fail(f"{job['state']} after {PATIENCE_S} s; the worker said:\n{self.log}")
            time.sleep(0.1)


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Stage.opened(tmp_path) as made:
        yield made


def test_a_plan_outlives_a_killed_worker_and_the_search_is_taken_up_again(stage: Stage) -> None:
    stage.run(PREPARE)
    before = stage.plan()
    stage.run(ASK % 200)
    stage.start_looking()
    stage.wait_for("running", progress=True)
    stage.kill_workers()
    killed = stage.job()
    assert killed["state"] == "running"  # nobody is left to say otherwise
    assert stage.plan() == before

    stage.start_looking()
    deadline = time.monotonic() + PATIENCE_S
    while stage.job()["case"]["tries"] < 2:
        assert time.monotonic() < deadline, stage.log
        time.sleep(0.1)
    again = stage.wait_for("running", progress=True)
    assert again["case"]["tries"] == 2

    stage.run(STOP)
    began = time.monotonic()
    ended = stage.wait_for("stopped")
    assert time.monotonic() - began < 30
    assert ended["result"]["visits"]
    needed = stage.rows("SELECT needed_minutes FROM judging_window")[0][0]
    assert ended["result"]["makespan"] <= needed
    assert stage.plan() == before
