"""Papers on an afternoon on which everything breaks: all are there in the end, once.

Real workers, on a PostgreSQL and a Redis of their own that the test kills and starts again. Two
hundred papers where the run is thorough, else eighty.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import subprocess
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Self

import psycopg
import pytest

from showrun.project.management.services_for_tests import (
    Missing,
    OwnPostgres,
    OwnRedis,
    own_postgres,
    own_redis,
)
from tests.migrated import migrate_postgres
from tests.volume import volume
from tests.worker_stage import REDIS, WorkerStage

PATIENCE_S = 240
WAGONS = volume(39, 99)  # each with a feedback sheet and a certificate

pytestmark = [
    pytest.mark.services,
    pytest.mark.skipif(not REDIS, reason="TEST_REDIS_URL is not set"),
]

# Short, so that the test need not wait as long as a show would.
SETTINGS = """
from showrun.project.settings import *

PAPER_CLAIM_SECONDS = 15
CELERY_WORKER_MAX_TASKS_PER_CHILD = 20
CELERY_IMPORTS = ("hurried",)
CELERY_BEAT_SCHEDULE = {
    "sweep": {"task": "reports.tasks.sweep_papers", "schedule": 1.0},
}
"""
# What is tested is who draws what and when, so most pages are laid out and not set as PDF.
HURRIED = """
from datetime import timedelta
from reports.actions import draw_paper, mark_queued
from reports.actions.lay_out_page import lay_out_page

mark_queued.PATIENCE = timedelta(seconds=4)
set_as_pdf = draw_paper.lay_out


def lay_out(paper):
    from reports.pdf import Drawn

    if paper.pk % 10 == 0:
        return set_as_pdf(paper)
    return Drawn(b"%PDF-1.7 " + lay_out_page(paper).encode(), 1)


draw_paper.lay_out = lay_out
"""

PREPARE = """
import django; django.setup()
from django.utils.timezone import now
from reports.actions.want_certificates import want_certificates
from reports.actions.want_papers import want_papers
from tests import papers_stage as stage
show = stage.show()
card = stage.scorecard(show, n_sections=2, n_rows=2)
result = stage.released_class(show, card, n_entries=%d, n_judges=2, wagon_names=[
    "Tin Lantern", "<img src='file:///etc/passwd'>", "</style><h1>Stop</h1>",
    "{{ settings.SECRET_KEY }}", "\\u202ewagon \\u05d0\\u05d1", "Biscuit & Sons",
])
stage.released_class(show, card, n_entries=2, n_judges=2, code="ranch", released_at=None)
want_papers(show=show, by=None, at=now())
want_certificates(show=show, by=None, at=now())
"""
# What the judges gave does not come to what the result says: such a sheet is refused.
POISON = """
from judging.models import Placing
spoiled = Placing.objects.filter(result=result).order_by("-place")[0]
spoiled.total += 1
spoiled.save()
"""
ASK_TEN_TIMES = """
import django; django.setup()
from threading import Barrier, Thread
from django.db import connection
from reports.models import Paper
from reports.tasks import ask_for
papers, ready = list(Paper.objects.order_by("pk")[:20]), Barrier(10)
def ask():
    ready.wait()
    for paper in papers:
        ask_for(paper)
    connection.close()
threads = [Thread(target=ask) for _ in range(10)]
[one.start() for one in threads]
[one.join() for one in threads]
"""
REDO = """
import django; django.setup()
from reports.models import Paper
from reports.actions.redo_papers import redo_paper
from reports.tasks import queue_papers
from tests import papers_stage as stage
from django.utils.timezone import now
by = stage.person("Nora Fields")
for paper in Paper.objects.filter(state="done").order_by("pk")[::15]:
    queue_papers([redo_paper(paper=paper, by=by, at=now())])
"""


class Stage(WorkerStage):
    """Workers that draw papers, in a folder of their own."""

    settings = SETTINGS
    queues = "default,urgent,bulk"
    redis_database = 11

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        (folder / "hurried.py").write_text(HURRIED)
        self.children: set[int] = set()

    def start_drawing(self) -> subprocess.Popen[bytes]:
        """Start a worker that sweeps by itself."""
        return self.start_worker("-B", "--schedule", str(self.folder / f"beat-{time.time_ns()}"))

    def papers(self) -> list[dict[str, Any]]:
        names = ("id", "kind", "state", "attempts", "file", "hash", "error", "done_at")
        sql = "SELECT id, kind, state, attempts, file, content_hash, error, done_at"
        return [
            dict(zip(names, row, strict=True)) for row in self.rows(f"{sql} FROM reports_paper")
        ]

    def states(self) -> Counter[str]:
        return Counter(paper["state"] for paper in self.papers())

    def wait_until(self, reached: Callable[[Counter[str]], bool]) -> None:
        deadline = time.monotonic() + PATIENCE_S
        while not reached(self.states()):
            self.children |= set(self.running())
            if self.workers and self.workers[-1].poll() is not None:
                # It may give up when its broker goes; whoever supervises it starts it again.
                self.start_drawing()
            if time.monotonic() > deadline:
                pytest.fail(f"{self.states()} after {PATIENCE_S} s; the worker said:\n{self.log}")
            time.sleep(1)

    def demand_every_file_once(self) -> None:
        """Each finished paper has its own file with its hash, and nothing else lies there."""
        there = {
            paper["file"]: paper["hash"] for paper in self.papers() if paper["state"] == "done"
        }
        assert len(there) == self.states()["done"]
        files = self.folder / "files"
        kept = {str(path.relative_to(files)): path for path in files.rglob("*") if path.is_file()}
        assert set(kept) == set(there)
        for name, path in kept.items():
            data = path.read_bytes()
            assert data.startswith(b"%PDF")
            assert hashlib.sha256(data).hexdigest() == there[name]


class ServedStage(Stage):
    """The same on servers that can be killed."""

    postgres: OwnPostgres
    redis: OwnRedis

    @classmethod
    def on(cls, folder: Path, postgres: OwnPostgres, redis: OwnRedis) -> Self:
        stage = cls(folder)
        stage.postgres, stage.redis = postgres, redis
        database = f"{postgres.url}/postgres"
        migrate_postgres(database, folder)
        stage.env |= {"DATABASE_URL": database, "BROKER_URL": f"{redis.url}/0"}
        return stage

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        with psycopg.connect(f"{self.postgres.url}/postgres") as connection:
            return connection.execute(sql).fetchall()  # type: ignore[arg-type]


@pytest.fixture
def served(tmp_path: Path) -> Iterator[ServedStage]:
    with ExitStack() as until:
        postgres, redis = own_postgres(until), own_redis(until)
        for server in (postgres, redis):
            if isinstance(server, Missing):
                pytest.skip(server.reason)
        assert isinstance(postgres, OwnPostgres)
        assert isinstance(redis, OwnRedis)
        stage = ServedStage.on(tmp_path, postgres, redis)
        until.callback(stage.kill_workers)
        yield stage


@pytest.fixture
def stage(tmp_path: Path) -> Iterator[Stage]:
    with Stage.opened(tmp_path) as made:
        yield made


def test_all_papers_come_through_an_afternoon_of_faults(served: ServedStage) -> None:
    served.run(PREPARE % WAGONS + POISON)
    total = len(served.papers())
    assert total >= 2 * WAGONS
    served.run(ASK_TEN_TIMES)

    first = served.start_drawing()
    served.wait_until(lambda states: states["done"] >= 0.2 * total)
    served.signal(first, signal.SIGKILL)
    first.wait(timeout=20)
    assert served.states()["done"] < total

    served.start_drawing()
    served.wait_until(lambda states: states["done"] >= 0.45 * total)
    served.redis.kill()
    time.sleep(2)
    served.redis.start()  # empty: what was in the queue is gone
    served.wait_until(lambda states: states["done"] >= 0.65 * total)
    served.postgres.stop()
    time.sleep(2)
    served.postgres.start()
    served.wait_until(lambda states: states["done"] + states["failed"] == total)

    refused = [paper for paper in served.papers() if paper["state"] == "failed"]
    assert {paper["kind"] for paper in refused} == {"feedback", "record"}
    assert len(refused) == 2
    served.demand_every_file_once()
    # No child lives longer than twenty papers: none can grow for a whole show.
    assert len(served.children) >= total // 20
    drawn = [paper["file"] for paper in served.papers() if paper["state"] == "done"]
    assert not [name for name in drawn if b"root:" in (served.folder / "files" / name).read_bytes()]

    before = {paper["id"]: (paper["file"], paper["hash"]) for paper in served.papers()}
    served.run(REDO)
    served.wait_until(lambda states: states["done"] + states["failed"] == total)
    assert {paper["id"]: (paper["file"], paper["hash"]) for paper in served.papers()} == before
    last = served.workers[-1]
    served.signal(last, signal.SIGTERM)
    last.wait(timeout=60)


def test_what_is_waited_for_overtakes_what_is_made_by_the_hundred(stage: Stage) -> None:
    stage.run(PREPARE % 8)
    stage.run(
        "import django; django.setup()\n"
        "from reports.models import Paper\n"
        "from reports.tasks import queue_papers\n"
        "queue_papers(Paper.objects.exclude(kind='calls'))\n"
        "queue_papers(Paper.objects.filter(kind='calls'))\n"
    )
    stage.start_worker("-c", "1", "-Q", "default,urgent,bulk")
    stage.wait_until(lambda states: set(states) == {"done"})
    order = sorted(stage.papers(), key=lambda paper: str(paper["done_at"]))
    assert len(order) > 16
    assert "calls" in {paper["kind"] for paper in order[:2]}


def test_a_full_disk_costs_no_paper(stage: Stage) -> None:
    """The files lie on a disk of their own that is full; when it has room again all are drawn."""
    stage.run(PREPARE % 6)
    total = len(stage.papers())
    files = stage.folder / "files"
    files.mkdir()
    # A mount of the worker's own: nobody else sees it, and it is gone with the worker.
    small = "mount -t tmpfs -o size=4m tmpfs $0 && head -c 4160000 /dev/zero >$0/filler"
    stage.within = ["unshare", "--mount", *([] if os.geteuid() == 0 else ["--map-root-user"])]
    stage.within += ["sh", "-c", f'{small} && exec "$@"', str(files)]
    worker = stage.start_drawing()
    deadline = time.monotonic() + PATIENCE_S
    while not any("No space left" in paper["error"] for paper in stage.papers()):
        assert time.monotonic() < deadline, stage.log
        time.sleep(0.2)
    time.sleep(3)
    assert stage.states()["failed"] == 0
    seen = Path(f"/proc/{worker.pid}/root{files}")
    assert (seen / "filler").exists()
    (seen / "filler").unlink()
    stage.wait_until(lambda states: states["done"] == total)
    shutil.copytree(seen, files, dirs_exist_ok=True)
    stage.demand_every_file_once()
