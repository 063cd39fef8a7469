#!/usr/bin/env python3
"""Start any command on a bare Python: make `.venv` from the pinned lists, then run Django."""
# ruff: noqa: E402, S606

import sys

MINIMUM = (3, 11)


def old_python_message(version: "tuple[object, ...]") -> "str | None":
    """Say what to do on a Python this project can't run on; None when it can."""
    if version >= MINIMUM:
        return None
    found = ".".join(str(part) for part in version[:3])
    return f"This needs Python 3.11 or newer; this one is {found}. Try: python3.11 manage.py ..."


# Before anything else, and in words any Python 3.6 can read: newer imports and names come after.
if old_python_message(sys.version_info):
    sys.exit(old_python_message(sys.version_info))

import contextlib
import ctypes
import ctypes.util
import hashlib
import importlib.util
import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows: no file lock, so two first starts at once are on their own.
    fcntl = None  # type: ignore[assignment]

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
RUNTIME_LOCK = ROOT / "requirements.lock"
TESTS_LOCK = ROOT / "tests" / "requirements.lock"  # everything in RUNTIME_LOCK, and the test tools
DEVELOPER_COMMANDS = {"test", "bench"}
PAPER_COMMANDS = {"demo", "up", "papers"}
# What WeasyPrint loads when it is imported, with the number in the file's name.
LIBRARIES = {"gobject-2.0": 0, "pango-1.0": 0, "pangoft2-1.0": 0, "harfbuzz": 0, "fontconfig": 1}


def say(line: str) -> None:
    """Print one line of progress, away from what a command itself prints."""
    print(line, file=sys.stderr, flush=True)


def lock_for(argv: list[str]) -> Path:
    """Return the pinned list a command line needs."""
    return TESTS_LOCK if len(argv) > 1 and argv[1] in DEVELOPER_COMMANDS else RUNTIME_LOCK


def stamp_of(lock: Path) -> str:
    """Return what the stamp says once `lock` is installed for this Python."""
    digest = hashlib.sha256(lock.read_bytes()).hexdigest() if lock.exists() else "none"
    return f"{digest} python{sys.version_info[0]}.{sys.version_info[1]}"


def python_in(venv: Path) -> Path:
    """Return the interpreter inside a virtual environment."""
    return venv / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def installed(venv: Path, lock: Path, *, inside: bool) -> bool:
    """Say whether `venv` is whole and holds `lock`, or the tests' list, which holds everything."""
    try:
        stamp = (venv / ".stamp").read_text().split()
    except OSError:
        return False
    if len(stamp) != 2 or (venv / ".installing").exists() or not python_in(venv).exists():
        return False
    # Only from inside is it known that the system's Python has not moved on under the links.
    wanted = [stamp_of(each).split() for each in (lock, TESTS_LOCK)]
    return any(stamp == each if inside else stamp[0] == each[0] for each in wanted)


@contextlib.contextmanager
def only_one() -> Iterator[int | None]:
    """Let one run at a time touch `.venv`; gives the lock's number, for children to hold too."""
    if fcntl is None:
        yield None
        return
    with Path(__file__).open("rb") as me:
        try:
            fcntl.flock(me, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            say("Another run is preparing .venv; waiting for it ...")
            fcntl.flock(me, fcntl.LOCK_EX)
        yield me.fileno()


def run(command: list[str], lock_fd: int | None) -> int:
    """Run one installing step and return its exit code."""
    # The child holds the lock too: should this process be killed, the next run waits for it.
    kept = () if lock_fd is None else (lock_fd,)
    code = subprocess.run(command, check=False, pass_fds=kept).returncode
    return code if code >= 0 else sys.exit("Installing was cut short; run the command again.")


def make_venv(lock: Path, lock_fd: int | None) -> None:
    """Make or mend `.venv` so that it holds what `lock` pins."""
    started = time.monotonic()
    marker, stamp, python = VENV / ".installing", VENV / ".stamp", python_in(VENV)
    moved_on = stamp.exists() and inside_venv() and stamp.read_text()[64:] != stamp_of(lock)[64:]
    if VENV.exists() and (marker.exists() or not python.exists() or moved_on):
        say("The last start was cut short or Python has changed: making .venv afresh.")
        shutil.rmtree(VENV)
    VENV.mkdir(exist_ok=True)
    marker.touch()
    stamp.unlink(missing_ok=True)
    base = str(getattr(sys, "_base_executable", "") or sys.executable)
    if not python.exists():
        if not all(map(importlib.util.find_spec, ("venv", "ensurepip"))):
            shutil.rmtree(VENV)
            sys.exit("Python's venv module is missing. Debian/Ubuntu: apt install python3-venv")
        say(f"Making .venv with Python {sys.version.split()[0]} ...")
        if run([base, "-m", "venv", str(VENV)], lock_fd):
            sys.exit("Making .venv failed; the reason is above.")
    pins = sum("==" in line for line in lock.read_text().splitlines())
    say(f"Installing {pins} pinned packages from {lock.relative_to(ROOT)} (a minute or two) ...")
    pinned = ["--require-hashes", "--only-binary", ":all:", "-r", str(lock)]
    uv = shutil.which("uv")
    installers = [[uv, "pip", "install", "--quiet", "--python", str(python)]] if uv else []
    pip = [str(python), "-m", "pip", "install", "-qq", "--disable-pip-version-check", "--no-input"]
    if lock == TESTS_LOCK:  # much of it no test imports: what one does is compiled then
        pip.append("--no-compile")
    # The first to succeed ends it: pip has its turn when uv is absent or fails.
    failed = all(run([*installer, *pinned], lock_fd) for installer in [*installers, pip])
    marker.unlink()  # A step that ended by itself, well or badly, leaves nothing half-written.
    if failed:
        sys.exit("Installing failed; the reason is above. Run the same command again to retry.")
    stamp.with_suffix(".new").write_text(stamp_of(lock))
    stamp.with_suffix(".new").replace(stamp)
    say(f"Ready after {time.monotonic() - started:.0f} s.")


def inside_venv() -> bool:
    """Say whether this process runs on `.venv`'s interpreter."""
    return Path(sys.prefix).resolve() == VENV.resolve()


def enter_venv(argv: list[str]) -> None:
    """Return when inside a complete `.venv`; else prepare it and start again inside it."""
    lock = lock_for(argv)
    if inside_venv() and installed(VENV, lock, inside=True):
        return
    if not installed(VENV, lock, inside=inside_venv()):
        with only_one() as lock_fd:
            if not installed(VENV, lock, inside=inside_venv()):
                make_venv(lock, lock_fd)
    # exec keeps the process number, so finding it here means the last exec changed nothing.
    if os.environ.get("SHOWRUN_ENTERED") == str(os.getpid()):
        sys.exit(f"{python_in(VENV)} does not run as its own environment; delete .venv and retry.")
    os.environ["SHOWRUN_ENTERED"] = str(os.getpid())
    os.execv(python_in(VENV), [str(python_in(VENV)), str(ROOT / "manage.py"), *argv[1:]])


def loads(name: str, number: int) -> bool:
    """Say whether the system's loader finds a shared library."""
    for file in (f"lib{name}.so.{number}", f"lib{name}.dylib", f"lib{name}-{number}.dll"):
        with contextlib.suppress(OSError):
            ctypes.CDLL(file)
            return True
    return ctypes.util.find_library(name) is not None


def missing_paper_message(missing: list[str]) -> str:
    """Name the packages that bring the libraries PDFs are drawn with."""
    return (
        f"The papers are drawn with Pango, which is not on this system ({', '.join(missing)}). "
        "Debian/Ubuntu: apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 - "
        "Fedora: dnf install pango - macOS: brew install pango"
    )


def main(argv: list[str]) -> None:
    """Prepare what the command line needs, then run it."""
    if len(argv) > 1 and argv[1] in PAPER_COMMANDS:
        missing = [name for name, number in LIBRARIES.items() if not loads(name, number)]
        if missing:
            sys.exit(missing_paper_message(missing))
    if os.environ.get("SHOWRUN_NO_VENV") != "1":
        enter_venv(argv)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "showrun.project.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit(f"Django is not installed for {sys.executable}: unset SHOWRUN_NO_VENV and retry.")
    execute_from_command_line(argv)


if __name__ == "__main__":
    try:
        main(sys.argv)
    except KeyboardInterrupt:
        sys.exit(130)
