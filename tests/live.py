"""The service for real: own database file, migrations, the invented show, a web server.

For tests that need a browser or plain HTTP. The server can be stopped and started again on
the same port, as when a field loses its signal.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx

from showrun.project.demo.drive import Person
from showrun.project.management.services_for_tests import free_port
from tests.migrated import migrate_postgres, put_migrated

ROOT = Path(__file__).resolve().parents[1]
UP_WITHIN_S = 60


@dataclass
class LiveShow:
    """The invented show on the morning of judging, served on a port of its own.

    `database` is the address of an empty PostgreSQL database; without one it is an SQLite file.
    """

    data: Path
    database: str = ""
    more: dict[str, str] = field(default_factory=dict)  # what else its processes are told
    port: int = field(default_factory=free_port)
    _web: subprocess.Popen[bytes] | None = None
    _office: Person | None = None

    @property
    def url(self) -> str:
        """Where it is served."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def sqlite_file(self) -> Path:
        """Where SQLite keeps it."""
        return self.data / "show.sqlite3"

    @property
    def web_log(self) -> Path:
        """What its web server says."""
        return self.data / "web.log"

    @property
    def env(self) -> dict[str, str]:
        """What its processes are told; the test settings do not reach them."""
        return {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
            "SHOWRUN_DATA": str(self.data),
            "DATABASE_URL": self.database or f"sqlite:///{self.sqlite_file}",
            "BROKER_URL": "memory://",
            **self.more,
        }

    def manage(self, *words: str) -> str:
        """Run a command of the project on this show."""
        done = subprocess.run(
            [sys.executable, str(ROOT / "manage.py"), *words],
            env=self.env,
            capture_output=True,
            text=True,
            check=False,
            timeout=180,
        )
        assert done.returncode == 0, f"{words}: {done.stderr[-2000:]}"
        return done.stdout.strip()

    def migrate(self) -> LiveShow:
        """Make the database; nothing is in it yet."""
        self.data.mkdir(parents=True, exist_ok=True)
        if self.database:
            migrate_postgres(self.database, self.data)
        else:
            put_migrated(self.sqlite_file)
        return self

    def prepare(self) -> LiveShow:
        """Make the database and load the show."""
        self.migrate()
        self.manage("load_demo")
        return self

    @property
    def is_up(self) -> bool:
        """Whether the web server was started and not ended since."""
        return self._web is not None

    @property
    def web_words(self) -> list[str]:
        """What its web server is started with."""
        words = ["showrun.project.wsgi:application", "--bind", f"127.0.0.1:{self.port}"]
        words += ["--worker-class", "gthread", "--workers", "1", "--threads", "8"]
        return [*words, "--no-control-socket"]

    def start_web(self) -> None:
        """Start the web server and wait until it answers."""
        self._start_web()
        self._until_it_answers()

    def _start_web(self) -> None:
        with self.web_log.open("ab") as log:
            self._web = subprocess.Popen(
                [sys.executable, "-m", "gunicorn", *self.web_words],
                env=self.env,
                cwd=ROOT,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def _until_it_answers(self) -> None:
        assert self._web is not None
        until = time.monotonic() + UP_WITHIN_S
        while time.monotonic() < until:
            assert self._web.poll() is None, self.web_log.read_text()[-2000:]
            try:
                if httpx.get(f"{self.url}/healthz", timeout=2).status_code == 200:
                    return
            except httpx.HTTPError:
                time.sleep(0.02)
        raise AssertionError("The web server did not come up.")

    def stop_web(self) -> None:
        """Stop the web server; its port refuses connections from then on."""
        if self._web is not None:
            self._web.terminate()
            self._web.wait(timeout=30)
            self._web = None

    def kill_web(self) -> None:
        """End the web server with all its processes at once, as a power cut would."""
        if self._web is not None:
            os.killpg(self._web.pid, signal.SIGKILL)
            self._web.wait(timeout=30)
            self._web = None

    def sign_in_link(self, email: str) -> str:
        """Return a one-time link for somebody of the show."""
        return self.manage("sign_in_link", "--base", self.url, email)

    @property
    def office(self) -> Person:
        """The show secretary, signed in."""
        if self._office is None:
            self._office = Person(self.url, self.sign_in_link("secretary@showrun.example"))
        return self._office

    @property
    def slug(self) -> str:
        """The show's address."""
        return str(self.office.api("/shows")[0]["slug"])

    def judges(self) -> dict[str, dict[str, Any]]:
        """The show's judges by short name."""
        return {judge["code"]: judge for judge in self.office.api(f"/shows/{self.slug}/judges")}

    def pairing_code(self, judge: str) -> str:
        """Return a new code that pairs a phone with the judge."""
        pairing = self.office.post(f"/judges/{self.judges()[judge]['id']}/pairings", status=201)
        return str(pairing["code"])

    def pairing_link(self, judge: str) -> str:
        """Return the address that pairs whoever opens it, once."""
        return f"{self.url}/round/#pair={self.pairing_code(judge)}"
