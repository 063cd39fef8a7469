"""See to it that no supervised process outlives the supervisor, even one ended by SIGKILL.

Every child starts through a short wrapper (this file run as a script) that is the head of a session
of its own, writes the session's number into a pipe and becomes the real program. A guard process
reads that pipe. When the last writer is gone - the supervisor, however it ended - the guard ends
every session still registered: SIGTERM, a grace, then SIGKILL.

This holds on Linux and macOS, reaches grandchildren, and leaves no gap between starting a child and
knowing of it. `prctl(PR_SET_PDEATHSIG)` offers none of the three, and is tied to the thread that
started the child.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

SETTLE_S = 15.0  # at most how long a new start waits for the last run's guard
GRACE_S = 5.0
SCRIPT = [sys.executable, "-I", "-S", __file__]  # -S: neither role needs any package
WRAPPER = [*SCRIPT, "child"]


def signal_group(group: int, number: int) -> bool:
    """Send a signal to a whole session; False when nobody is left in it."""
    try:
        os.killpg(group, number)
    except ProcessLookupError:
        return False
    except PermissionError:  # macOS, for a session of which only a zombie is left
        return False
    return True


@dataclass
class Guard:
    """The process that ends every child once the supervisor is gone, and the pipe to it."""

    process: subprocess.Popen[bytes]
    pipe: int

    @classmethod
    def start(cls, holds: int, removes: Path | None) -> Guard:
        """Start a guard that keeps `holds` open and at the end removes a folder."""
        reading, writing = os.pipe()
        command = [*SCRIPT, "guard", str(reading), str(removes or "")]
        try:
            process = subprocess.Popen(
                command,
                pass_fds=(reading, holds),
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
                cwd="/",
            )
        except BaseException:
            os.close(writing)
            raise
        finally:
            os.close(reading)
        return cls(process, writing)

    def forget(self, group: int) -> None:
        """Tell the guard that a session has ended."""
        with contextlib.suppress(OSError):
            os.write(self.pipe, f"-{group}\n".encode())

    def end(self) -> None:
        """Close the pipe, which lets the guard end whatever is still registered."""
        os.close(self.pipe)
        self.process.wait(SETTLE_S)


# -- this file as a script: the wrapper and the guard ----------------------------------


def become_child(pipe: int, command: list[str]) -> None:
    """Register this session with the guard, then become the real program."""
    os.write(pipe, f"+{os.getpid()}\n".encode())
    os.set_inheritable(pipe, False)
    os.execv(command[0], command)  # noqa: S606 - a program of ours, by its path


def keep_guard(pipe: int, removes: str) -> None:
    """Follow who starts and ends; once nobody can write any more, end who is left."""
    for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(number, signal.SIG_IGN)
    groups: list[int] = []
    with os.fdopen(pipe) as lines:
        for line in lines:
            if line.startswith("+"):
                groups.append(int(line))
            elif -int(line) in groups:
                groups.remove(-int(line))
    for group in reversed(groups):
        signal_group(group, signal.SIGTERM)
    give_up_at = time.monotonic() + GRACE_S
    while time.monotonic() < give_up_at and any(signal_group(group, 0) for group in groups):
        time.sleep(0.05)
    for group in groups:
        signal_group(group, signal.SIGKILL)
    if removes:
        shutil.rmtree(removes, ignore_errors=True)


if __name__ == "__main__":
    if sys.argv[1] == "child":
        become_child(int(sys.argv[2]), sys.argv[3:])
    else:
        keep_guard(int(sys.argv[2]), sys.argv[3])
