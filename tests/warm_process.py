"""A process that has the project loaded, and forks for every command and every web server.

Loading the project takes longer than nearly everything the tests ask of it. Whoever starts this
(`tests/warm_show.py`) tells it what to do and hears of it in lines of JSON. When it is
told nothing more, its web servers end with it.
"""

from __future__ import annotations

import gc
import json
import os
import signal
import sys
import tempfile
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, NoReturn, TextIO

# A command that takes longer hangs.
COMMAND_WITHIN_S = 180


def load() -> None:
    """Load what a command or the web server would load first; nothing opens the database."""
    import django

    django.setup()
    from django.urls import get_resolver

    import showrun.project.wsgi  # noqa: F401

    assert web_application() and get_resolver().url_patterns
    gc.collect()
    gc.freeze()


class Warm:
    """What it can be told; each answer is one line."""

    def __init__(self, answers: TextIO) -> None:
        self.answers = answers
        self.webs: set[int] = set()

    def manage(self, words: list[str]) -> dict[str, Any]:
        """Run a command of the project to its end."""
        with tempfile.TemporaryDirectory() as folder:
            out, err = Path(folder, "out"), Path(folder, "err")
            child = self._fork(lambda: command(words), out, err)
            code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
            return {"code": code, "out": out.read_text(), "err": err.read_text()}

    def web(self, words: list[str], log: str) -> dict[str, Any]:
        """Start a web server, in a session of its own."""
        child = self._fork(lambda: web(words), Path(log), Path(log))
        self.webs.add(child)
        return {"pid": child}

    def poll(self, pid: int) -> dict[str, Any]:
        """Tell what a web server ended with, if it has ended."""
        ended, status = os.waitpid(pid, os.WNOHANG)
        if not ended:
            return {"code": None}
        self.webs.discard(pid)
        return {"code": os.waitstatus_to_exitcode(status)}

    def end(self) -> None:
        """End the web servers that still run."""
        for pid in self.webs:
            with suppress(ProcessLookupError, ChildProcessError):
                os.kill(pid, signal.SIGTERM)
                os.waitpid(pid, 0)

    def _fork(self, work: Callable[[], None], out: Path, err: Path) -> int:
        if child := os.fork():
            return child
        self._be_child(work, out, err)

    def _be_child(self, work: Callable[[], None], out: Path, err: Path) -> NoReturn:
        code = 1
        try:
            self.answers.close()
            for number, path in ((0, Path(os.devnull)), (1, out), (2, err)):
                os.dup2(os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND), number)
            work()
            code = 0
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else int(ended.code is not None)
        except BaseException:
            traceback.print_exc()
        finally:
            # Not to the end of a process of its own: what waits there belongs to the parent.
            with suppress(ValueError, OSError):
                sys.stdout.flush()
                sys.stderr.flush()
            os._exit(code)


def command(words: list[str]) -> None:
    """Run a command of the project, in the child."""
    from django.core.management import call_command

    signal.alarm(COMMAND_WITHIN_S)
    call_command(*words)


def web(words: list[str]) -> None:
    """Run the web server, in the child."""
    os.setsid()
    sys.argv = ["gunicorn", *words]
    web_application()("%(prog)s [OPTIONS] [APP_MODULE]").run()


def web_application() -> Any:
    """Return what gunicorn's own command runs."""
    from gunicorn.app.wsgiapp import WSGIApplication  # type: ignore[import-untyped]

    return WSGIApplication


def main() -> None:
    """Load the project, then do what is told until nobody tells any more."""
    with os.fdopen(os.dup(1), "w") as answers:
        os.dup2(2, 1)  # nothing else may write among the answers
        load()
        warm = Warm(answers)
        try:
            for line in sys.stdin:
                told = json.loads(line)
                answer = getattr(warm, told.pop("do"))(**told)
                print(json.dumps(answer), file=answers, flush=True)
        finally:
            warm.end()


if __name__ == "__main__":
    main()
