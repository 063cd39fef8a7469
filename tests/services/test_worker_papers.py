"""A real worker draws from a real Redis, is killed in the middle, and nothing is lost."""

from __future__ import annotations

import hashlib
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import urlsplit

import pytest

ROOT = Path(__file__).resolve().parents[2]
REDIS = os.environ.get("TEST_REDIS_URL", "")
PATIENCE_S = 120

pytestmark = [
    pytest.mark.services,
    pytest.mark.skipif(not REDIS, reason="TEST_REDIS_URL is not set"),
]

SETTINGS = """
from showrun.project.settings import *

# Short, so that the test need not wait as long as a show would.
PAPER_CLAIM_SECONDS = 6
CELERY_BEAT_SCHEDULE = {
    "sweep": {"task": "reports.tasks.sweep_papers", "schedule": 1.0},
}
"""

PREPARE = """
import django; django.setup()
from datetime import timedelta
from django.core.management import call_command
from django.utils.timezone import now
from reports.actions.want_papers import want_papers
from reports.tasks import queue_papers
from tests import papers_stage as stage
call_command("migrate", verbosity=0)
show = stage.show()
stage.released_class(show, stage.scorecard(show), n_entries=18)
queue_papers(want_papers(show=show, by=None, at=now() - timedelta(seconds=1)))
"""


class Stage:
    """A database file, a place for files, and workers started on them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.workers: list[subprocess.Popen[bytes]] = []
        (folder / "worker_settings.py").write_text(SETTINGS)
        redis = urlsplit(REDIS)
        self.broker = f"{redis.scheme}://{redis.netloc}/13"
        self.env = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "worker_settings",
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

    def start_worker(self, *more: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "celery", "-A", "showrun.project.celery", "worker"]
        options = ["-Q", "pdf", "-c", "2", "--loglevel", "WARNING", *more]
        with (self.folder / "worker.log").open("ab") as log:
            worker = subprocess.Popen(
                [*command, *options],
                env=self.env,
                cwd=ROOT,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.workers.append(worker)
        return worker

    def signal(self, worker: subprocess.Popen[bytes], number: signal.Signals) -> None:
        """Signal the worker with all its children."""
        os.killpg(worker.pid, number)

    def papers(self) -> list[tuple[str, int, str, str]]:
        """Read (state, attempts, file, hash) of all papers."""
        address = f"file:{self.folder / 'show.sqlite3'}?mode=ro"
        with closing(sqlite3.connect(address, uri=True, timeout=20)) as database:
            sql = "SELECT state, attempts, file, content_hash FROM reports_paper"
            return database.execute(sql).fetchall()

    def states(self) -> Counter[str]:
        return Counter(row[0] for row in self.papers())

    def wait_until(self, reached: Callable[[Counter[str]], bool]) -> None:
        deadline = time.monotonic() + PATIENCE_S
        while not reached(self.states()):
            if time.monotonic() > deadline:
                log = (self.folder / "worker.log").read_text()
                pytest.fail(f"{self.states()} after {PATIENCE_S} s; the worker said:\n{log}")
            time.sleep(0.1)

    def stop(self) -> None:
        for worker in self.workers:
            if worker.poll() is None:
                self.signal(worker, signal.SIGKILL)
                worker.wait(timeout=20)


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


def standing_still(group: int) -> bool:
    """Say whether every process of the group has taken the signal to stop."""
    states = []
    for line in Path("/proc").glob("[0-9]*/stat"):
        try:
            # After the name in brackets, which may hold anything: state, parent, group.
            state, _, owner = line.read_text().rpartition(") ")[2].split()[:3]
        except OSError:
            continue
        if int(owner) == group:
            states.append(state)
    return all(state in "TtZ" for state in states)


def kill_while_drawing(stage: Stage, worker: subprocess.Popen[bytes]) -> int:
    """Freeze the worker until it is caught with a paper in hand, then kill it."""
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        stage.signal(worker, signal.SIGSTOP)
        # A process in the middle of a write stops after it; only then is what it holds settled.
        while not standing_still(worker.pid) and time.monotonic() < deadline:
            time.sleep(0.01)
        in_hand = stage.states()["drawing"]
        if in_hand:
            stage.signal(worker, signal.SIGKILL)
            worker.wait(timeout=20)
            return in_hand
        stage.signal(worker, signal.SIGCONT)
        time.sleep(0.05)
    pytest.fail("The worker was never caught drawing.")


def test_papers_outlive_a_killed_worker(stage: Stage) -> None:
    stage.run(PREPARE)
    total = len(stage.papers())
    assert total >= 18 + 3
    assert stage.states() == {"wanted": total}

    first = stage.start_worker()
    stage.wait_until(lambda states: states["done"] >= 4)
    in_hand = kill_while_drawing(stage, first)
    assert first.returncode == -signal.SIGKILL
    left = stage.states()
    assert left["done"] < total
    assert left["drawing"] == in_hand >= 1

    second = stage.start_worker("-B", "--schedule", str(stage.folder / "beat"))
    stage.wait_until(lambda states: states["done"] == total)
    stage.signal(second, signal.SIGTERM)
    second.wait(timeout=60)

    rows = stage.papers()
    assert Counter(row[0] for row in rows) == {"done": total}
    assert sum(row[1] > 1 for row in rows) >= in_hand
    files = {row[2]: row[3] for row in rows}
    assert len(files) == total
    kept = [path for path in (stage.folder / "files").rglob("*") if path.is_file()]
    assert {str(path.relative_to(stage.folder / "files")) for path in kept} == set(files)
    for name, content_hash in files.items():
        data = (stage.folder / "files" / name).read_bytes()
        assert data.startswith(b"%PDF")
        assert hashlib.sha256(data).hexdigest() == content_hash
