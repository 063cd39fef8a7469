"""Papers and photos, wherever Django's storage keeps them: a folder or a bucket."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import IO, NamedTuple

from django.apps import apps
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db.models import FileField

from showrun.project.backup.archive import CHUNK, FILES, BackupRefused, OpenBackup


class PutBack(NamedTuple):
    """How many files were written, and how many were there already."""

    written: int
    there: int


def stored_names(folder: str = "") -> Iterator[str]:
    """Yield the name of every file the storage has."""
    try:
        folders, files = default_storage.listdir(folder)
    except FileNotFoundError:
        return
    lead = f"{folder}/" if folder else ""
    for name in sorted(files):
        if name:  # a bucket lists a folder itself by an empty name
            yield f"{lead}{name}"
    for name in sorted(folders):
        yield from stored_names(f"{lead}{name}")


def named_by_rows() -> set[str]:
    """Return every file that a row has."""
    found: set[str] = set()
    for model in apps.get_models():
        for column in model._meta.concrete_fields:
            if isinstance(column, FileField):
                having = model._base_manager.exclude(**{column.attname: ""})
                found |= set(having.values_list(column.attname, flat=True))
    return found


def unlike_stored(backup: OpenBackup) -> list[str]:
    """Name the files that the storage has with another content than the backup."""
    there = set(stored_names())
    return [
        name
        for name in backup.manifest.files
        if name in there and _sha256(name) != backup.manifest.members[FILES + name].sha256
    ]


def put_back(backup: OpenBackup) -> PutBack:
    """Write every file that is not there as the backup has it; none is taken away."""
    there, other = set(stored_names()), set(unlike_stored(backup))
    written = 0
    for name in backup.manifest.files:
        if name in there and name not in other:
            continue
        if name in other:
            default_storage.delete(name)
        with backup.open(FILES + name) as content:
            kept = default_storage.save(name, File(content))
        if kept != name:
            raise BackupRefused(f"The storage keeps {name} under another name, {kept}.")
        written += 1
    return PutBack(written, len(backup.manifest.files) - written)


def _sha256(name: str) -> str:
    digest = hashlib.sha256()
    with default_storage.open(name) as kept:
        while chunk := kept.read(CHUNK):
            digest.update(chunk)
    return digest.hexdigest()


def opened(name: str) -> IO[bytes] | None:
    """Open a file of the storage; None when it went away since it was listed."""
    try:
        return default_storage.open(name)
    except FileNotFoundError:
        return None
