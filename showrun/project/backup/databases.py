"""The two databases: saved as of one moment on a running service, looked through, put back whole.

SQLite is copied by `VACUUM INTO`, which reads one moment while phones go on writing; a copy by the
backup interface in steps would begin again at every foreign write. PostgreSQL is dumped by its own
`pg_dump` from a snapshot that rows are counted in as well.
"""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from django.db import connection

from showrun.project.backup.archive import BackupRefused
from showrun.project.backup.postgres import Postgres
from showrun.project.backup.saved import Saved
from showrun.project.backup.sqlite import Sqlite


class Engine(Protocol):
    """What a backup asks of a database."""

    def save(self, to: Path) -> Saved:
        """Write the database into a file, as of one moment."""

    def look_through(self, saved: Path) -> dict[str, int]:
        """Read such a file to its end; return the rows of each table."""

    def demand_nobody_else(self) -> None:
        """Refuse while another process has the database open."""

    def put_back(self, saved: Path, tables: dict[str, int], kept_as: str) -> str:
        """Make it the database, whole or not at all; say where what was there before is kept."""


def engine() -> Engine:
    """Return the database this service uses."""
    known: dict[str, Engine] = {"sqlite": Sqlite(), "postgresql": Postgres()}
    if connection.vendor not in known:
        raise BackupRefused(f"There is no backup of {connection.vendor} here.")
    return known[connection.vendor]
