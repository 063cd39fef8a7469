"""Write a backup of the running service: the database first, then the files its rows name."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from django.db import connection

from showrun.project.backup.archive import (
    FILES,
    BackupRefused,
    BackupWriter,
    Manifest,
    is_ours,
    open_backup,
)
from showrun.project.backup.databases import engine
from showrun.project.backup.stored_files import opened, stored_names


class Taken(NamedTuple):
    """A backup that was written and read again, and the names of files it leaves out."""

    file: Path
    seal: str
    manifest: Manifest
    left_out: list[str]


def name_at(out: Path, at: datetime) -> Path:
    """Return the file to write: `out` itself, or one named by the moment where it is a folder."""
    return out / f"showrun-{at:%Y%m%dT%H%M%SZ}.backup.zip" if out.is_dir() else out


def take_backup(*, out: Path, at: datetime, with_files: bool = True) -> Taken:
    """Write the backup under a name of its own, read it again from end to end, then rename it.

    A file written after the database's moment may be in it too; one that rows name is written
    before them, so that none of those is missing.
    """
    if out.exists():
        raise BackupRefused(f"{out} is there already; nothing is written over.")
    with _work_folder(out.parent) as work:
        saved, half = work / "database", work / "backup"
        found = engine().save(saved)
        left_out: list[str] = []
        with half.open("w+b") as to:
            half.chmod(0o600)
            with BackupWriter(to) as writer:
                manifest = Manifest(
                    made_at=f"{at:%Y-%m-%dT%H:%M:%SZ}",
                    engine=connection.vendor,
                    engine_version=found.version,
                    migrations=found.migrations,
                    with_files=with_files,
                    tables=found.tables,
                    members=writer.members,
                )
                with saved.open("rb") as content:
                    writer.add(manifest.database, content, deflate=connection.vendor == "sqlite")
                if with_files:
                    left_out = _add_files(writer)
                writer.seal(manifest)
            to.flush()
            os.fsync(to.fileno())
        with open_backup(half) as again:
            seal = again.seal
        os.link(half, out)  # unlike a renaming, it never takes another file's place
        _settle(out.parent)
    return Taken(out, seal, manifest, left_out)


def _add_files(writer: BackupWriter) -> list[str]:
    """Write what the storage has; return what is none of ours."""
    left_out = []
    for name in stored_names():
        if not is_ours(name):
            left_out.append(name)
        elif kept := opened(name):
            with kept:
                writer.add(FILES + name, kept)
    return left_out


@contextmanager
def _work_folder(beside: Path) -> Iterator[Path]:
    """Give a folder nobody else may read, on the same disk; it is gone whatever happens."""
    try:
        with TemporaryDirectory(prefix=".backup-", dir=beside) as work:
            yield Path(work)
    except OSError as fault:
        if fault.errno == errno.ENOSPC:
            raise BackupRefused(f"The disk of {beside} is full; no backup was written.") from fault
        raise BackupRefused(f"No backup was written in {beside}: {fault.strerror}.") from fault


def _settle(folder: Path) -> None:
    """Wait until the disk has the name."""
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
