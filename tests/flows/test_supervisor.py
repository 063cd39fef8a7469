"""The supervisor with real processes: a real broker, a real worker, a real web server.

The application they run is a small one of its own, so that these tests speak of the processes.
"""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from http.client import HTTPConnection
from pathlib import Path

import pytest
import redis
from celery import Celery

from showrun.project import supervisor
from showrun.project.supervisor import PortTaken, Supervisor, SupervisorError, check_port

pytestmark = pytest.mark.services

ROOT = Path(__file__).resolve().parents[2]
PAGES = """
import os

def application(environ, start_response):
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [str(os.getpid()).encode()]
"""
WORK = """
import os, pathlib, time
from celery import Celery

app = Celery("chores", broker=os.environ["BROKER_URL"])
app.conf.task_default_queue = "default"
app.conf.task_ignore_result = True

@app.task(name="note")
def note(path, wait_s=0):
    pathlib.Path(path).with_suffix(".begun").touch()
    time.sleep(wait_s)
    pathlib.Path(path).touch()
"""


def eventually(found: Callable[[], object], limit_s: float = 30.0) -> bool:
    """Wait for something to become true."""
    give_up_at = time.monotonic() + limit_s
    while not found():
        if time.monotonic() > give_up_at:
            return False
        time.sleep(0.05)
    return True


def processes_about(folder: Path) -> list[str]:
    """Return the living processes whose environment or command line speaks of a folder."""
    wanted, found = os.fsencode(folder), []
    for process in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            command = (process / "cmdline").read_bytes()
            if command and wanted in command + (process / "environ").read_bytes():
                found.append(f"{process.name} {command.decode(errors='replace')}")
    return [line for line in found if int(line.split()[0]) != os.getpid()]


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Path]:
    """A folder with the small application, and room for data."""
    if not Path("/proc/self/environ").exists():
        pytest.skip("no /proc on this system to look for leftover processes in")
    (tmp_path / "pages.py").write_text(PAGES)
    (tmp_path / "chores.py").write_text(WORK)
    yield tmp_path
    for left in processes_about(tmp_path):  # none, unless a test has failed
        with contextlib.suppress(OSError):
            os.kill(int(left.split()[0]), signal.SIGKILL)


@pytest.fixture
def said() -> list[str]:
    """What the supervisor told the terminal."""
    return []


@pytest.fixture
def running(place: Path, said: list[str]) -> Iterator[Supervisor]:
    """A supervisor with everything started, stopped at the end whatever happens."""
    made = make(place, said)
    try:
        made.start()
        yield made
    finally:
        made.stop()


def make(place: Path, said: list[str], **changes: object) -> Supervisor:
    """Return a supervisor for the small application."""
    return Supervisor(
        data_dir=place / "data",
        host="127.0.0.1",
        port=0,
        broker_url=None,
        app="chores",
        wsgi="pages:application",
        env={"PYTHONPATH": str(place), "DJANGO_SETTINGS_MODULE": ""},
        say=said.append,
        **changes,  # type: ignore[arg-type]
    )


def client(supervised: Supervisor) -> redis.Redis:
    """Return a client of the embedded broker."""
    assert supervised.broker_url is not None
    return redis.Redis(unix_socket_path=supervised.broker_url.removeprefix("redis+socket://"))


def child(supervised: Supervisor, name: str) -> supervisor.Child:
    """Return one of the supervised children."""
    return next(each for each in supervised._children if each.name == name)


def send(supervised: Supervisor, note: Path, wait_s: float) -> None:
    """Put a task on the queue as any program of the project would."""
    with Celery("sender", broker=supervised.broker_url) as app:
        app.send_task("note", kwargs={"path": str(note), "wait_s": wait_s}, queue="default")


def page(supervised: Supervisor) -> str:
    """Fetch the one page there is."""
    connection = HTTPConnection("127.0.0.1", supervised.port, timeout=20)
    with contextlib.closing(connection):
        connection.request("GET", "/")
        return connection.getresponse().read().decode()


def test_everything_starts_works_and_leaves_nothing(running: Supervisor, place: Path) -> None:
    assert client(running).ping() is True
    assert page(running).isdigit()
    note = place / "a.note"
    send(running, note, 0)
    assert eventually(note.exists), (place / "data/logs/worker.log").read_text()
    socket_path = Path(str(running.broker_url).removeprefix("redis+socket://"))
    assert len(os.fsencode(socket_path)) < 100
    assert client(running).config_get("appendfsync")["appendfsync"] == "everysec"
    assert client(running).config_get("port")["port"] == "0"
    assert socket_path.stat().st_mode & 0o077 == 0
    assert len(processes_about(place)) >= 3
    started = time.monotonic()
    running.stop()
    assert time.monotonic() - started < 15
    assert processes_about(place) == []


def test_a_running_job_is_finished_before_the_worker_stops(
    running: Supervisor, place: Path
) -> None:
    note = place / "long.note"
    send(running, note, 2)
    assert eventually(note.with_suffix(".begun").exists)
    assert not note.exists()
    running.stop()
    assert note.exists()


def test_a_dead_web_server_is_started_again_on_the_same_port(
    running: Supervisor, said: list[str]
) -> None:
    web = child(running, "web")
    assert web.process is not None
    before, port = web.process.pid, running.port
    os.kill(before, signal.SIGKILL)

    def back() -> bool:
        running._look_after(web)
        return web.process is not None and web.process.pid != before

    assert eventually(back)
    assert page(running).isdigit()
    assert running.port == port
    assert len(said) == 1
    assert "web stopped (exit code -9); starting it again in 0.5 s" in said[0]


def test_a_child_that_keeps_dying_is_given_up_with_its_log_named(
    place: Path, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(supervisor, "LONGEST_PAUSE_S", 0.05)
    supervised = make(place, said)
    fails = [sys.executable, "-c", "raise SystemExit('no harness today')"]
    monkeypatch.setattr(supervised, "_worker_command", lambda: fails)
    with supervised, pytest.raises(SupervisorError) as refused:
        supervised.wait()
    assert "worker stopped 5 times in a row" in str(refused.value)
    assert "no harness today" in str(refused.value)
    assert str(place / "data/logs/worker.log") in str(refused.value)
    assert len([line for line in said if line.startswith("worker stopped")]) == 4
    assert processes_about(place) == []


def test_a_web_server_that_cannot_start_says_why(place: Path, said: list[str]) -> None:
    (place / "pages.py").write_text("raise RuntimeError('the stove is cold')")
    with pytest.raises(SupervisorError, match=r"web stopped while starting.*web\.log"):
        make(place, said).start()
    assert processes_about(place) == []


def test_a_taken_port_is_named(place: Path, said: list[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        with pytest.raises(PortTaken, match=rf"Port {port} .* --port"):
            check_port("127.0.0.1", port)
        supervised = make(place, said)
        supervised.port = port
        with pytest.raises(PortTaken):
            supervised.start()
    check_port("127.0.0.1", port)
    assert processes_about(place) == []


def test_the_same_data_is_not_served_twice(
    running: Supervisor, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(supervisor, "SETTLE_S", 0.3)
    with pytest.raises(SupervisorError, match="Already running"):
        make(place, []).start()
    assert client(running).ping() is True


def test_a_long_data_path_gets_a_short_socket(place: Path, said: list[str]) -> None:
    supervised = make(place, said)
    supervised.data_dir = place / ("a" * 60) / ("b" * 60)
    with supervised:
        short = Path(str(supervised.broker_url).removeprefix("redis+socket://"))
        assert len(os.fsencode(short)) < 100
        assert client(supervised).ping() is True
    assert not short.parent.exists()
    assert supervised.broker_url is None


def test_an_outside_broker_is_used_as_it_is(place: Path, said: list[str]) -> None:
    supervised = make(place, said)
    supervised.broker_url = "redis://127.0.0.1:1/0"
    with supervised:
        assert [each.name for each in supervised._children] == ["worker", "web"]
        assert supervised.broker_url == "redis://127.0.0.1:1/0"
    assert processes_about(place) == []


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_no_child_outlives_the_supervisor(place: Path, number: signal.Signals) -> None:
    program = (
        "import pathlib, sys\n"
        "from showrun.project.supervisor import Supervisor\n"
        "place = pathlib.Path(sys.argv[1])\n"
        "with Supervisor(data_dir=place / 'data', host='127.0.0.1', port=0, broker_url=None,\n"
        "    app='chores', wsgi='pages:application',\n"
        "    env={'PYTHONPATH': str(place), 'DJANGO_SETTINGS_MODULE': ''}) as all_up:\n"
        "    print('up', flush=True)\n"
        "    all_up.wait()\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", program, str(place)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        start_new_session=True,
    )
    assert process.stdout is not None
    with process.stdout as out:
        assert out.readline() == b"up\n"
        assert eventually(lambda: b"ready." in (place / "data/logs/worker.log").read_bytes())
        note = place / "kept.note"
        assert len(processes_about(place)) >= 6
        assert not note.exists()
        process.send_signal(number)
        assert process.wait(40) == (-9 if number == signal.SIGKILL else 0)
        assert eventually(lambda: not processes_about(place), 15), processes_about(place)
    again = make(place, [])
    with again:
        assert page(again).isdigit()
