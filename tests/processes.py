"""Web server and workers for load and soak, on the database that this process uses too."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import httpx

from showrun.project.management.services_for_tests import free_port

ROOT = Path(__file__).resolve().parents[1]
UP_WITHIN_S = 60.0
TICKS = os.sysconf("SC_CLK_TCK")


@dataclass
class Processes:
    """Some processes of the service, each with a group of its own."""

    folder: Path
    port: int = field(default_factory=free_port)
    started: list[subprocess.Popen[bytes]] = field(default_factory=list)
    kills: int = 0

    @property
    def url(self) -> str:
        """Where the web server answers."""
        return f"http://127.0.0.1:{self.port}"

    def start_web(
        self, app: str = "showrun.project.wsgi:application", *, asked: str = "/healthz"
    ) -> None:
        """Start two web processes, and wait until `asked` is answered."""
        size = ["--worker-class", "gthread", "--workers", "2", "--threads", "4"]
        bind = ["--bind", f"127.0.0.1:{self.port}", "--no-control-socket"]
        self._start("gunicorn", app, *size, *bind)
        until = time.monotonic() + UP_WITHIN_S
        while time.monotonic() < until and self.started[-1].poll() is None:
            try:
                if httpx.get(self.url + asked, timeout=5).status_code == 200:
                    return
            except httpx.HTTPError:
                time.sleep(0.05)
        raise RuntimeError(f"The web server did not come up: {self.log[-1500:]}")

    def start_workers(self, count: int) -> None:
        """Start workers for papers, one process each."""
        for number in range(count):
            self._start(
                "celery", "-A", "showrun.project.celery", "worker", "-n", f"w{number}@%h",
                "-Q", "urgent,bulk", "-c", "1", "--loglevel", "ERROR",
            )  # fmt: skip

    @property
    def log(self) -> str:
        """What they said."""
        return (self.folder / "processes.log").read_text(errors="replace")

    def cpu_s(self) -> float:
        """The processor time that all of them and their children have taken [s]."""
        groups = {process.pid for process in self.started}
        total = 0
        for stat in Path("/proc").glob("[0-9]*/stat"):
            try:
                words = stat.read_text().rpartition(")")[2].split()
            except OSError:  # it has just ended
                continue
            if int(words[2]) in groups:
                total += sum(int(word) for word in words[11:13])
        return total / TICKS

    def kill(self) -> None:
        """End all of them with their children at once, as a power cut would."""
        for process in self.started:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(timeout=30)
        self.started.clear()
        self.kills += 1

    def stop(self) -> None:
        """Stop all of them in an orderly way."""
        for process in self.started:
            process.terminate()
        for process in self.started:
            try:
                process.wait(timeout=60)
            except subprocess.TimeoutExpired:
                os.killpg(process.pid, signal.SIGKILL)
                process.wait()
        self.started.clear()

    def _start(self, *words: str) -> None:
        with (self.folder / "processes.log").open("ab") as log:
            self.started.append(
                subprocess.Popen(
                    [sys.executable, "-m", *words],
                    cwd=ROOT,
                    stdout=log,
                    stderr=subprocess.STDOUT,
                    start_new_session=True,
                )
            )
