"""The service for real, by a process that has the project loaded already.

As `LiveShow` in all that a test sees; a command or a restart of the web server takes a tenth.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from typing import Any

from tests.live import ROOT, LiveShow


class Web:
    """The web server as `LiveShow` handles it; the other process is its parent."""

    def __init__(self, show: WarmShow, pid: int) -> None:
        self.show, self.pid = show, pid
        self.code: int | None = None

    def poll(self) -> int | None:
        """What it ended with, if it has ended."""
        if self.code is None:
            self.code = self.show.ask("poll", pid=self.pid)["code"]
        return self.code

    def terminate(self) -> None:
        """Ask it to end."""
        if self.poll() is None:
            os.kill(self.pid, signal.SIGTERM)

    def wait(self, timeout: float) -> int:
        """Wait until it has ended."""
        until = time.monotonic() + timeout
        while (code := self.poll()) is None:
            if time.monotonic() > until:
                raise subprocess.TimeoutExpired("gunicorn", timeout)
            time.sleep(0.01)
        return code


@dataclass
class WarmShow(LiveShow):
    """The invented show; `close` ends the process behind it."""

    _warm: subprocess.Popen[str] | None = None

    def ask(self, do: str, **told: Any) -> dict[str, Any]:
        """Tell the process what to do, and hear what came of it."""
        if self._warm is None:
            self._warm = subprocess.Popen(
                [sys.executable, "-m", "tests.warm_process"],
                env=self.env,
                cwd=ROOT,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                text=True,
            )
        assert self._warm.stdin and self._warm.stdout
        print(json.dumps({"do": do, **told}), file=self._warm.stdin, flush=True)
        answer = self._warm.stdout.readline()
        assert answer, "The process with the project loaded has ended; it says why above."
        return dict(json.loads(answer))

    def manage(self, *words: str) -> str:
        """Run a command of the project on this show."""
        done = self.ask("manage", words=words)
        assert done["code"] == 0, f"{words}: {done['err'][-2000:]}"
        return str(done["out"]).strip()

    def _start_web(self) -> None:
        pid = self.ask("web", words=self.web_words, log=str(self.web_log))["pid"]
        self._web = Web(self, pid)  # type: ignore[assignment]  # all that is asked of it

    def close(self) -> None:
        """End the process, and the web server if it still runs."""
        if self._warm is not None:
            assert self._warm.stdin
            self._warm.stdin.close()
            self._warm.wait(timeout=30)
            self._warm = None
