"""Migrated databases, made once for all those of their own that tests start from."""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def put_migrated(to: Path) -> None:
    """Put a migrated and empty database at `to`.

    The `test` command names a folder in TEST_KEPT: whoever comes first makes the file there, the
    others copy it. Without one it is made where it is wanted.
    """
    to.parent.mkdir(parents=True, exist_ok=True)
    kept = os.environ.get("TEST_KEPT")
    if not kept:
        _migrate(f"sqlite:///{to}", to.parent)
        return
    made = Path(kept) / "migrated.sqlite3"
    with _alone(made):
        if not made.exists():
            half = made.with_suffix(".half")
            _migrate(f"sqlite:///{half}", half.parent)
            half.rename(made)
    shutil.copyfile(made, to)


def migrate_postgres(database: str, data: Path) -> None:
    """Migrate an empty PostgreSQL database, or read in what was kept of one that was migrated.

    A test's server may be its own, so it is kept as a file and not as a database to copy.
    """
    kept, programs = os.environ.get("TEST_KEPT"), [shutil.which("pg_dump"), shutil.which("psql")]
    if not kept or not all(programs):
        _migrate(database, data)
        return
    made, (dump, read) = Path(kept) / "migrated.sql", map(str, programs)
    with _alone(made):
        if not made.exists():
            _migrate(database, data)
            half = made.with_suffix(".half")
            _run([dump, "--no-owner", f"--file={half}", database])
            half.rename(made)
            return
    _run([read, "--quiet", "--no-psqlrc", "--set=ON_ERROR_STOP=1", f"--file={made}", database])


@contextmanager
def _alone(made: Path) -> Iterator[None]:
    with made.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _migrate(database: str, data: Path) -> None:
    env = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
        "SHOWRUN_DATA": str(data),
        "DATABASE_URL": database,
        "BROKER_URL": "memory://",
    }
    _run([sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"], env)


def _run(command: list[str], env: dict[str, str] | None = None) -> None:
    subprocess.run(command, env=env, check=True, timeout=300, stdout=subprocess.DEVNULL)
