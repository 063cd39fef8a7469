"""The service for real: own database file, migrations, the invented show, a web server.

For tests that need a browser or plain HTTP. The server can be stopped and started again on
the same port, as when a field loses its signal.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import httpx

from showrun.project.demo.drive import Person

ROOT = Path(__file__).resolve().parents[1]
UP_WITHIN_S = 60


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


@dataclass
class LiveShow:
    """The invented show on the morning of judging, served on a port of its own."""

    data: Path
    port: int = field(default_factory=_free_port)
    _web: subprocess.Popen[bytes] | None = None
    _office: Person | None = None

    @property
    def url(self) -> str:
        """Where it is served."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def env(self) -> dict[str, str]:
        """What its processes are told; the test settings do not reach them."""
        return {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
            "SHOWRUN_DATA": str(self.data),
            "DATABASE_URL": f"sqlite:///{self.data}/show.sqlite3",
            "BROKER_URL": "memory://",
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

    def prepare(self) -> LiveShow:
        """Make the database and load the show."""
        self.data.mkdir(parents=True, exist_ok=True)
        self.manage("migrate", "--verbosity", "0")
        self.manage("load_demo")
        return self

    def start_web(self) -> None:
        """Start the web server and wait until it answers."""
        command = [sys.executable, "-m", "gunicorn", "showrun.project.wsgi:application"]
        command += ["--bind", f"127.0.0.1:{self.port}", "--worker-class", "gthread"]
        command += ["--workers", "1", "--threads", "8", "--no-control-socket"]
        with (self.data / "web.log").open("ab") as log:
            self._web = subprocess.Popen(
                command, env=self.env, cwd=ROOT, stdout=log, stderr=subprocess.STDOUT
            )
        until = time.monotonic() + UP_WITHIN_S
        while time.monotonic() < until:
            assert self._web.poll() is None, (self.data / "web.log").read_text()[-2000:]
            try:
                if httpx.get(f"{self.url}/healthz", timeout=2).status_code == 200:
                    return
            except httpx.HTTPError:
                time.sleep(0.1)
        raise AssertionError("The web server did not come up.")

    def stop_web(self) -> None:
        """Stop the web server; its port refuses connections from then on."""
        if self._web is not None:
            self._web.terminate()
            self._web.wait(timeout=30)
            self._web = None

    def kill_web(self) -> None:
        """End the web server as a power cut would."""
        if self._web is not None:
            self._web.kill()
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
