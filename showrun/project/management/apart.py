"""Run a command again on a service of its own: a database and files that are gone afterwards."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

from showrun.project.management.services_for_tests import fresh_database

ROOT = Path(__file__).resolve().parents[3]
INSIDE = "SHOWRUN_APART"


def is_apart() -> bool:
    """Say whether this process is the one started by `run_apart`."""
    return os.environ.get(INSIDE) == "1"


def run_apart(words: Sequence[str], *, postgres: str | None, broker: str = "memory://") -> int:
    """Run `manage.py` with these words on an empty database; return its exit code.

    The database is a file in a temporary folder, or one made on the PostgreSQL server at
    `postgres` (an address that ends in a database which is there) and dropped at the end.
    """
    with ExitStack() as until:
        folder = until.enter_context(tempfile.TemporaryDirectory(prefix="showrun-apart-"))
        (Path(folder) / "static").mkdir()
        database = f"sqlite:///{folder}/apart.sqlite3"
        if postgres:
            server = postgres.rsplit("/", 1)[0]
            database = until.enter_context(fresh_database(server, f"showrun_apart_{os.getpid()}"))
        env = {
            **os.environ,
            INSIDE: "1",
            "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
            "SHOWRUN_DATA": folder,
            "DATABASE_URL": database,
            "BROKER_URL": broker,
            "LOG_LEVEL": "ERROR",
            "DEBUG": "0",
        }
        command = [sys.executable, str(ROOT / "manage.py"), *words]
        return subprocess.run(command, env=env, cwd=ROOT, check=False).returncode
