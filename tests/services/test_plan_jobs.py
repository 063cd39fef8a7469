"""A real worker looks for a plan over a real Redis; killed, it takes no plan along."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

ROOT = Path(__file__).resolve().parents[2]
REDIS = os.environ.get("TEST_REDIS_URL", "")
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
from django.core.management import call_command
call_command("migrate", verbosity=0)
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


class Stage:
    """A database file and workers started on it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.workers: list[subprocess.Popen[bytes]] = []
        (folder / "plan_settings.py").write_text(SETTINGS)
        (folder / "hurried.py").write_text(HURRIED)
        redis = urlsplit(REDIS)
        self.broker = f"{redis.scheme}://{redis.netloc}/12"
        self.env = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "plan_settings",
            "PYTHONPATH": f"{ROOT}{os.pathsep}{folder}",
            "SHOWRUN_DATA": str(folder),
            "DATABASE_URL": f"sqlite:///{folder / 'show.sqlite3'}",
            "BROKER_URL": self.broker,
            "LOG_LEVEL": "WARNING",
        }

    def run(self, script: str) -> None:
        subprocess.run(
            [sys.executable, "-c", script], env=self.env, cwd=ROOT, check=True, timeout=120
        )

    def start_worker(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "celery", "-A", "showrun.project.celery", "worker"]
        options = ["-Q", "plans,default", "-c", "2", "--loglevel", "WARNING"]
        beat = ["-B", "--schedule", str(self.folder / f"beat-{len(self.workers)}")]
        with (self.folder / "worker.log").open("ab") as log:
            worker = subprocess.Popen(
                [*command, *options, *beat],
                env=self.env,
                cwd=ROOT,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.workers.append(worker)
        return worker

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        address = f"file:{self.folder / 'show.sqlite3'}?mode=ro"
        with closing(sqlite3.connect(address, uri=True, timeout=20)) as database:
            return database.execute(sql).fetchall()

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
                log = (self.folder / "worker.log").read_text()
                pytest.fail(f"{job['state']} after {PATIENCE_S} s; the worker said:\n{log}")
            time.sleep(0.1)

    def kill(self, worker: subprocess.Popen[bytes]) -> None:
        """End a worker with all it has started, as a power cut would."""
        # Some children leave the group; each still has the folder among its words.
        for process in [worker.pid, *self.children(worker)]:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        worker.wait(timeout=20)

    def children(self, worker: subprocess.Popen[bytes]) -> list[int]:
        """The processes that were started with the worker's own words."""
        words = str(self.folder / f"beat-{self.workers.index(worker)}").encode()
        found = []
        for folder in Path("/proc").glob("[0-9]*"):
            with suppress(OSError):
                if words in (folder / "cmdline").read_bytes().split(b"\0"):
                    found.append(int(folder.name))
        return found

    def stop(self) -> None:
        for worker in self.workers:
            self.kill(worker)
            assert self.children(worker) == []


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    import redis

    made = Stage(tmp_path)
    client = redis.Redis.from_url(made.broker)
    client.flushdb()
    try:
        yield made
    finally:
        made.stop()
        client.flushdb()
        client.close()


def test_a_plan_outlives_a_killed_worker_and_the_search_is_taken_up_again(stage: Stage) -> None:
    stage.run(PREPARE)
    before = stage.plan()
    stage.run(ASK % 200)
    first = stage.start_worker()
    stage.wait_for("running", progress=True)
    stage.kill(first)
    killed = stage.job()
    assert killed["state"] == "running"  # nobody is left to say otherwise
    assert stage.plan() == before

    stage.start_worker()
    deadline = time.monotonic() + PATIENCE_S
    while stage.job()["case"]["tries"] < 2:
        assert time.monotonic() < deadline, (stage.folder / "worker.log").read_text()
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
