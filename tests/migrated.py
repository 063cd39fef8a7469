"""A migrated SQLite file, made once for all the databases of their own that tests start from."""

from __future__ import annotations

import fcntl
import os
import shutil
import subprocess
import sys
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
        _migrate(to)
        return
    made = Path(kept) / "migrated.sqlite3"
    with (Path(kept) / "migrated.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            _migrate(half := made.with_suffix(".half"))
            half.rename(made)
    shutil.copyfile(made, to)


def _migrate(database: Path) -> None:
    env = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "showrun.project.settings",
        "SHOWRUN_DATA": str(database.parent),
        "DATABASE_URL": f"sqlite:///{database}",
        "BROKER_URL": "memory://",
    }
    command = [sys.executable, str(ROOT / "manage.py"), "migrate", "--verbosity", "0"]
    subprocess.run(command, env=env, check=True, timeout=300)
