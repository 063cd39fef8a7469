"""A real worker draws from a real Redis, is killed in the middle, and nothing is lost."""

from __future__ import annotations

import hashlib
import os
import signal
import subprocess
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.worker_stage import REDIS, WorkerStage

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
from django.utils.timezone import now
from reports.actions.want_papers import want_papers
from reports.tasks import queue_papers
from tests import papers_stage as stage
show = stage.show()
stage.released_class(show, stage.scorecard(show), n_entries=9)
queue_papers(want_papers(show=show, by=None, at=now() - timedelta(seconds=1)))
"""


class Stage(WorkerStage):
    """Workers that draw papers."""

    settings = SETTINGS
    queues = "default,urgent,bulk"
    redis_database = 13

    def papers(self) -> list[tuple[str, int, str, str]]:
        """Read (state, attempts, file, hash) of all papers."""
        return self.rows("SELECT state, attempts, file, content_hash FROM reports_paper")

    def states(self) -> Counter[str]:
        return Counter(row[0] for row in self.papers())

    def wait_until(self, reached: Callable[[Counter[str]], bool]) -> None:
        deadline = time.monotonic() + PATIENCE_S
        while not reached(self.states()):
            if time.monotonic() > deadline:
                said = f"the worker said:\n{self.log}"
                pytest.fail(f"{self.states()} after {PATIENCE_S} s; {said}")
            time.sleep(0.1)


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Stage.opened(tmp_path) as made:
        yield made


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
    assert total >= 9 + 3
    assert stage.states() == {"wanted": total}

    first = stage.start_worker()
    stage.wait_until(lambda states: states["done"] >= 4)
    # Who draws gives way to who serves pages; who hands the papers out does not.
    own = os.getpriority(os.PRIO_PROCESS, first.pid)
    given = {os.getpriority(os.PRIO_PROCESS, pid) for pid in stage.running() if pid != first.pid}
    assert given == {min(own + 10, 19)}
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
