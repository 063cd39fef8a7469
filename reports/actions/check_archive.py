"""Open an archive and look at all of it before anything is written anywhere."""

from __future__ import annotations

import hashlib
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from reports.queries.show_tables import SHOW, migrations_here, show_tables
from reports.rules.archive import (
    MANIFEST,
    PEOPLE,
    ArchiveRefused,
    Manifest,
    demand_fits,
    read_manifest,
    rows_member,
)
from reports.rules.archive_rows import read_line
from reports.rules.packing import (
    LINE_MAX,
    MANIFEST_MAX,
    Packed,
    base_name,
    demand_packing,
    demand_whole,
)
from showrun.errors import InvalidInput
from showrun.language import gettext as _

CHUNK = 1024 * 1024
PLAIN = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
ENCRYPTED = 0x1
REFUSED = "archive-refused"
# What reading a ZIP raises whose content is broken, and what its list may raise besides.
BROKEN = (zipfile.BadZipFile, zlib.error, EOFError)
UNREADABLE = (*BROKEN, NotImplementedError, RuntimeError, ValueError, OSError)
NOT_WHOLE = "The archive is broken or cut off; it cannot be read to its end."


@dataclass(frozen=True)
class OpenArchive:
    """An archive whose list, manifest and every checksum are right."""

    packed: zipfile.ZipFile
    manifest: Manifest

    def rows(self, table: str) -> Iterator[dict[str, Any]]:
        """Yield the rows of a table in their order."""
        yield from self._read(rows_member(table), table)

    def people(self) -> Iterator[dict[str, Any]]:
        """Yield who the persons linked to are."""
        yield from self._read(PEOPLE, "people")

    def file(self, sha256: str) -> IO[bytes]:
        """Open the content of a file."""
        return self.packed.open(f"files/{sha256}")

    def _read(self, member: str, table: str) -> Iterator[dict[str, Any]]:
        with self.packed.open(member) as lines:
            while line := lines.readline(LINE_MAX + 1):
                yield read_line(line, table)


@contextmanager
def open_archive(path: Path) -> Iterator[OpenArchive]:
    """Open an archive that is right from end to end, or refuse it with a sentence.

    What is done with it inside is refused in the same way where it turns out to be broken.
    """
    if not path.is_file():
        raise InvalidInput(_("There is no file {path}.").format(path=path), code=REFUSED)
    with ExitStack() as until:
        try:
            packed = until.enter_context(zipfile.ZipFile(path))
            manifest = _checked(packed)
        except ArchiveRefused as fault:
            raise InvalidInput(str(fault), code=REFUSED) from fault
        except UNREADABLE as fault:
            raise InvalidInput(NOT_WHOLE, code=REFUSED) from fault
        try:
            yield OpenArchive(packed, manifest)
        except ArchiveRefused as fault:
            raise InvalidInput(str(fault), code=REFUSED) from fault
        except BROKEN as fault:
            raise InvalidInput(NOT_WHOLE, code=REFUSED) from fault


def _checked(packed: zipfile.ZipFile) -> Manifest:
    found = [
        Packed(
            one.filename,
            one.file_size,
            one.compress_size,
            one.compress_type in PLAIN and not one.flag_bits & ENCRYPTED,
        )
        for one in packed.infolist()
    ]
    demand_packing(found)
    with packed.open(MANIFEST) as told:
        manifest = read_manifest(told.read(MANIFEST_MAX))
    demand_whole(found, manifest)
    demand_fits(manifest, migrations_here(), [table.name for table in show_tables()])
    for name in (*manifest.files, *manifest.missing_files):
        base_name(name)
    counted = {name: _measured(packed, name, manifest) for name in sorted(manifest.members)}
    for table, rows in manifest.tables.items():
        if counted[rows_member(table)] != rows:
            raise ArchiveRefused(f"The archive has not as many rows of {table} as it says.")
    if manifest.tables[SHOW] != 1:
        raise ArchiveRefused("The archive is not of one show.")
    return manifest


def _measured(packed: zipfile.ZipFile, name: str, manifest: Manifest) -> int:
    """Hold a member against its checksum and return how many lines it has."""
    wanted, digest, size, lines, longest = manifest.members[name], hashlib.sha256(), 0, 0, 0
    with packed.open(name) as member:
        while chunk := member.read(CHUNK):
            digest.update(chunk)
            size, lines = size + len(chunk), lines + chunk.count(b"\n")
            if size > wanted.size:
                break
            longest = longest + len(chunk) if b"\n" not in chunk else len(chunk)
            if longest > LINE_MAX and not name.startswith("files/"):
                raise ArchiveRefused(f"“{name}” has a row that is too long.")
    if size != wanted.size or digest.hexdigest() != wanted.sha256:
        raise ArchiveRefused(f"“{name}” is not what was written: its checksum differs.")
    if name.startswith("files/") and name != f"files/{wanted.sha256}":
        raise ArchiveRefused(f"“{name}” does not bear the name of its content.")
    return lines
