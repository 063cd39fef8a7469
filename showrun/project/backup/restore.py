"""Bring a backup back: all of it is looked through first, then it is there whole or not at all."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from django.apps import apps
from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from judging.queries.verified import differences, results_of
from showrun.project.backup import stored_files
from showrun.project.backup.archive import BackupRefused, OpenBackup
from showrun.project.backup.databases import engine
from showrun.project.backup.saved import unlike
from showrun.project.claims import data_in_use
from showrun.shows.actions.record import record_change
from showrun.shows.models import Show

OWN_APPS = ("shows", "entries", "judging", "reports")
MIB = 1024 * 1024


class Restored(NamedTuple):
    """What was brought back, and what waits still."""

    files: stored_files.PutBack
    files_missing: int
    kept: str
    migrations_waiting: int


class Verified(NamedTuple):
    """The results computed again from the touches, and every difference, a line each."""

    classes: int
    differences: list[str]


@contextmanager
def looked_through(backup: OpenBackup) -> Iterator[Path]:
    """Unpack the database and let its own engine read all of it; refuse it where that fails."""
    manifest = backup.manifest
    if manifest.engine != connection.vendor:
        raise BackupRefused(
            f"The backup is of {manifest.engine}; this service uses {connection.vendor}. Set "
            "DATABASE_URL to the same kind, or move shows one by one with export_show."
        )
    there = {".".join(key) for key in MigrationLoader(None).disk_migrations}
    if newer := sorted(set(manifest.migrations) - there):
        raise BackupRefused(
            f"The backup is of a newer version of this program: it has had {newer[-1]}, which is "
            "unknown here. Restore it with that version."
        )
    with TemporaryDirectory(prefix="restore-", dir=settings.DATA) as folder:
        _demand_room(Path(folder), manifest.members[manifest.database].size)
        database = Path(folder) / "database"
        backup.copy(manifest.database, database)
        database.chmod(0o600)
        if odd := unlike(engine().look_through(database), dict(manifest.tables)):
            raise BackupRefused(f"The database in the backup is not what was written: {odd}.")
        yield database


def demand_target(backup: OpenBackup, *, replace: bool) -> None:
    """Refuse a target that is in use, or that holds something nobody said may be replaced."""
    if data_in_use(settings.DATA):
        raise BackupRefused(
            f"The service is running with the data in {settings.DATA}. Stop it first; nothing was "
            "changed."
        )
    if replace:
        return
    if holds_rows():
        raise BackupRefused(
            "The database here is not empty. Add --replace if the backup should take its place; "
            "nothing was changed."
        )
    if other := stored_files.unlike_stored(backup):
        raise BackupRefused(
            f"{len(other)} files here have another content than in the backup, such as {other[0]}. "
            "Add --replace if the backup's should take their place; nothing was changed."
        )


def holds_rows() -> bool:
    """Say whether the database has rows of the project's own, or cannot even tell."""
    try:
        there = set(connection.introspection.table_names())
        return any(
            model._base_manager.exists()
            for label in OWN_APPS
            for model in apps.get_app_config(label).get_models()
            if model._meta.db_table in there
        )
    except DatabaseError:
        return True


def put_back(backup: OpenBackup, database: Path, *, at: datetime) -> Restored:
    """Write the files, which harm nobody without their rows, then swap the database in one step."""
    base = engine()
    base.demand_nobody_else()
    written = stored_files.put_back(backup)
    tables = dict(backup.manifest.tables)
    kept = base.put_back(database, tables, f"before-restore-{at:%Y%m%dT%H%M%SZ}")
    executor = MigrationExecutor(connection)
    waiting = len(executor.migration_plan(executor.loader.graph.leaf_nodes()))
    return Restored(written, 0 if waiting else _missing(backup), kept, waiting)


def _missing(backup: OpenBackup) -> int:
    """Count the files that rows name and the storage has not."""
    lacking = stored_files.named_by_rows() - set(backup.manifest.files)
    return len(lacking - set(stored_files.stored_names()))


def note_in_record(backup: OpenBackup, *, at: datetime) -> None:
    """Add a line to every show's record: what came after the backup is not in it."""
    for show in Show.objects.order_by("pk"):
        record_change(
            show=show,
            actor=None,
            at=at,
            verb="restored",
            subject="the whole service from a backup",
            after={"made_at": backup.manifest.made_at, "seal": backup.seal},
        )


def verified() -> Verified:
    """Tell every round again from its touches, and hold every result kept against it."""
    shows = list(Show.objects.order_by("pk"))
    found = [f"{show}: {line}" for show in shows for line in differences(show)]
    return Verified(sum(map(results_of, shows)), found)


def _demand_room(folder: Path, size: int) -> None:
    free = shutil.disk_usage(folder).free
    if free < 2 * size:
        raise BackupRefused(
            f"The disk of {folder.parent} has {free // MIB} MiB left; unpacking needs "
            f"{2 * size // MIB + 1}."
        )
