"""SQLite: one file, swapped in one step."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

from django.db import connection

from showrun.project.backup.archive import BackupRefused
from showrun.project.backup.saved import Saved, unlike

OPEN_ELSEWHERE = (
    "Another process has the database open. Stop the web server and the workers first; nothing was "
    "changed."
)


class Sqlite:
    """The database file of this service."""

    @property
    def _file(self) -> Path:
        return Path(connection.settings_dict["NAME"])

    def save(self, to: Path) -> Saved:
        """Write the database into a file, as of one moment."""
        with connection.cursor() as cursor:
            cursor.execute("VACUUM INTO %s", [str(to)])
        tables = self.look_through(to)
        with closing(sqlite3.connect(to)) as copy:
            applied = copy.execute("SELECT app || '.' || name FROM django_migrations").fetchall()
        return Saved(tables, tuple(sorted(name for (name,) in applied)), sqlite3.sqlite_version)

    def look_through(self, saved: Path) -> dict[str, int]:
        """Let SQLite check every page and every link; return the rows of each table."""
        try:
            with closing(sqlite3.connect(saved)) as copy:
                (said,) = copy.execute("PRAGMA integrity_check").fetchone()
                astray = copy.execute("PRAGMA foreign_key_check").fetchall()
                if said != "ok" or astray:
                    raise BackupRefused(
                        f"The database is damaged: {said}"
                        + (f"; {len(astray)} rows point to nothing." if astray else ".")
                    )
                names = copy.execute(
                    "SELECT name FROM sqlite_master WHERE type = 'table' "
                    "AND name NOT LIKE 'sqlite!_%' ESCAPE '!'"
                ).fetchall()
                return {
                    name: copy.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608
                    for (name,) in names
                }
        except sqlite3.DatabaseError as fault:
            raise BackupRefused(f"The database is damaged: {fault}.") from fault

    def demand_nobody_else(self) -> None:
        """Leave the write-ahead log, which SQLite does only for whoever is alone with the file."""
        connection.close()
        if not self._file.exists():
            return
        try:
            with closing(sqlite3.connect(self._file, timeout=1)) as alone:
                (mode,) = alone.execute("PRAGMA journal_mode = DELETE").fetchone()
        except sqlite3.OperationalError as fault:
            raise BackupRefused(OPEN_ELSEWHERE) from fault
        except sqlite3.DatabaseError:
            return  # so damaged that nobody can work with it
        if mode != "delete":
            raise BackupRefused(OPEN_ELSEWHERE)

    def put_back(self, saved: Path, tables: dict[str, int], kept_as: str) -> str:
        """Put the checked copy beside the database, then swap them in one step."""
        beside = self._file.with_name(f"{self._file.name}.restoring")
        kept = self._file.with_name(f"{self._file.name}.{kept_as}")
        try:
            shutil.copyfile(saved, beside)
            if odd := unlike(self.look_through(beside), tables):
                raise BackupRefused(f"The restored database is not that of the backup: {odd}.")
            beside.chmod(0o600)
            _settle(beside)
            self.demand_nobody_else()
            was_there = self._file.exists()
            if was_there:
                _second_name(self._file, kept)
            beside.replace(self._file)
            _settle(self._file.parent)
        finally:
            beside.unlink(missing_ok=True)
        return f"What was there before is kept as {kept}." if was_there else ""


def _second_name(file: Path, name: Path) -> None:
    """Give a file a second name, so that the first one never stands empty."""
    try:
        os.link(file, name)
    except OSError:  # a file system without links
        shutil.copy2(file, name)


def _settle(path: Path) -> None:
    """Wait until the disk has it."""
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
