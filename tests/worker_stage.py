"""Real workers over a real Redis and a database file of their own, for tests that kill them."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any, ClassVar, Self
from urllib.parse import urlsplit

from tests.migrated import put_migrated

ROOT = Path(__file__).resolve().parents[1]
REDIS = os.environ.get("TEST_REDIS_URL", "")


class WorkerStage:
    """A folder with a database file and settings, and the workers started on them."""

    settings: ClassVar[str]  # the source of the settings module
    queues: ClassVar[str]
    redis_database: ClassVar[int]

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.workers: list[subprocess.Popen[bytes]] = []
        self.within: list[str] = []  # a command that the workers are started by
        (folder / "stage_settings.py").write_text(self.settings)
        put_migrated(folder / "show.sqlite3")
        redis = urlsplit(REDIS)
        self.broker = f"{redis.scheme}://{redis.netloc}/{self.redis_database}"
        self.env = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "stage_settings",
            "PYTHONPATH": f"{ROOT}{os.pathsep}{folder}",
            "SHOWRUN_DATA": str(folder),
            "DATABASE_URL": f"sqlite:///{folder / 'show.sqlite3'}",
            "BROKER_URL": self.broker,
            "LOG_LEVEL": "WARNING",
        }

    @classmethod
    @contextmanager
    def opened(cls, folder: Path) -> Iterator[Self]:
        """Keep the broker's database to this stage, and leave nothing running."""
        import redis

        stage = cls(folder)
        client = redis.Redis.from_url(stage.broker)
        client.flushdb()
        try:
            yield stage
        finally:
            stage.kill_workers()
            client.flushdb()
            client.close()

    @property
    def log(self) -> str:
        """What the workers said."""
        return (self.folder / "worker.log").read_text()

    def run(self, script: str) -> None:
        """Run a script of the project on the stage's database."""
        subprocess.run(
            [sys.executable, "-c", script], env=self.env, cwd=ROOT, check=True, timeout=120
        )

    def start_worker(self, *more: str) -> subprocess.Popen[bytes]:
        """Start a worker with two processes for the stage's queues."""
        command = [sys.executable, "-m", "celery", "-A", "showrun.project.celery", "worker"]
        options = ["-Q", self.queues, "-c", "2", "--loglevel", "WARNING", *more]
        with (self.folder / "worker.log").open("ab") as log:
            worker = subprocess.Popen(
                [*self.within, *command, *options],
                env=self.env,
                cwd=ROOT,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.workers.append(worker)
        return worker

    def signal(self, worker: subprocess.Popen[bytes], number: signal.Signals) -> None:
        """Signal the worker with its group."""
        os.killpg(worker.pid, number)

    def kill_workers(self) -> None:
        """End all workers with all they have started, as a power cut would."""
        # Some children leave the group; each still has the stage's folder in its environment. One
        # that was just being started is met the second time.
        until = time.monotonic() + 20
        while (alive := self.running()) and time.monotonic() < until:
            for process in alive:
                with suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
            for worker in self.workers:
                worker.wait(timeout=20)
            time.sleep(0.1)
        assert self.running() == []

    def running(self) -> list[int]:
        """The processes that were started with the stage's environment."""
        words = f"SHOWRUN_DATA={self.folder}".encode()
        found = []
        for folder in Path("/proc").glob("[0-9]*"):
            with suppress(OSError):
                if words in (folder / "environ").read_bytes().split(b"\0"):
                    found.append(int(folder.name))
        return found

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        """Read the database beside the workers."""
        address = f"file:{self.folder / 'show.sqlite3'}?mode=ro"
        with closing(sqlite3.connect(address, uri=True, timeout=20)) as database:
            return database.execute(sql).fetchall()
