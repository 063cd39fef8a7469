"""The service for the soak: its own database, a web server that can be killed and comes back."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import httpx

ROOT = Path(__file__).resolve().parents[2]
UP_WITHIN_S = 20.0


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


@dataclass
class Ground:
    """A web server on a port of its own, over the database this process uses too."""

    folder: Path
    port: int = field(default_factory=_free_port)
    kills: int = 0
    _web: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """Where it is served."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start the server and wait until it answers."""
        command = [sys.executable, "-m", "gunicorn", "showrun.project.wsgi:application"]
        command += ["--bind", f"127.0.0.1:{self.port}", "--worker-class", "gthread"]
        command += ["--workers", "2", "--threads", "4", "--no-control-socket"]
        env = {**os.environ, "LOG_LEVEL": "ERROR"}
        with (self.folder / "web.log").open("ab") as log:
            self._web = subprocess.Popen(
                command,
                cwd=ROOT,
                env=env,
                stdout=log,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        until = time.monotonic() + UP_WITHIN_S
        while time.monotonic() < until:
            if self._web.poll() is not None:
                raise RuntimeError((self.folder / "web.log").read_text()[-1500:])
            try:
                if httpx.get(f"{self.url}/healthz", timeout=2).status_code == 200:
                    return
            except httpx.HTTPError:
                time.sleep(0.05)
        last = (self.folder / "web.log").read_text()[-1500:]
        raise RuntimeError(f"The web server did not come up. {last}")

    def kill(self) -> None:
        """End the server with all its processes at once, as a power cut would."""
        if self._web is not None:
            os.killpg(self._web.pid, signal.SIGKILL)
            self._web.wait(timeout=30)
            self._web = None
            self.kills += 1

    def stop(self) -> None:
        """Stop the server in an orderly way."""
        if self._web is not None:
            self._web.terminate()
            self._web.wait(timeout=30)
            self._web = None
