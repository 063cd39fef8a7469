"""A backup file: how it is laid out, how it is sealed, and what is refused before it is used.

A ZIP file whose comment is the SHA-256 of every byte before it, so that no byte can change unseen.

========================  =====================================================================
member                    what it is
========================  =====================================================================
``database.sqlite3``      the database as of one moment, or
``database.dump``         the same of PostgreSQL, in the custom format of `pg_dump`
``files/<name>``          every paper and photo, under the name that rows have
``manifest.json``         the last member: what made it, rows by table, checksums
========================  =====================================================================
"""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import IO, Any, NamedTuple

from reports.rules.packing import MANIFEST_MAX, RATIO_FREE, RATIO_MAX

FORMAT = "showrun-backup"
VERSION = 1
MANIFEST = "manifest.json"
DATABASES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
FILES = "files/"
CHUNK = 1024 * 1024
SEAL = re.compile(rb"sha256:([0-9a-f]{64})")
SEAL_LENGTH = 71  # bytes
PLAIN = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
ENCRYPTED = 0x1
LONGEST_NAME = 200
# The names this service gives to files; none of them leads out of a folder.
_OURS = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]*(/[A-Za-z0-9_][A-Za-z0-9._-]*)*")
_SHA256 = re.compile(r"[0-9a-f]{64}")
UNREADABLE = (
    *(zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError),
    *(RuntimeError, ValueError, OSError),
)


class BackupRefused(Exception):
    """Something whoever keeps the machine can act on; the sentence says what."""


class Member(NamedTuple):
    """What the manifest says of a member; size in bytes."""

    sha256: str
    size: int


@dataclass(frozen=True)
class Manifest:
    """What a backup says of itself."""

    made_at: str
    engine: str
    engine_version: str
    migrations: tuple[str, ...]
    with_files: bool
    tables: Mapping[str, int] = field(default_factory=dict)
    members: Mapping[str, Member] = field(default_factory=dict)

    @property
    def database(self) -> str:
        """The member that is the database."""
        return DATABASES[self.engine]

    @property
    def rows(self) -> int:
        """How many rows there are in all."""
        return sum(self.tables.values())

    @property
    def files(self) -> list[str]:
        """The names of the files in it, as rows have them."""
        return sorted(name.removeprefix(FILES) for name in self.members if name.startswith(FILES))


def is_ours(name: str) -> bool:
    """Say whether a file's name is one this service could have given it."""
    return len(name) <= LONGEST_NAME and _OURS.fullmatch(name) is not None


class BackupWriter:
    """Writes member after member, then the manifest and the seal."""

    def __init__(self, to: IO[bytes]) -> None:
        self._to = to
        self._packed = zipfile.ZipFile(to, "w")
        self.members: dict[str, Member] = {}

    def __enter__(self) -> BackupWriter:
        return self

    def __exit__(self, *_: object) -> None:
        self._packed.close()

    def add(self, name: str, content: IO[bytes], *, deflate: bool = False) -> None:
        """Write a member; what papers and photos hold is packed already."""
        info = zipfile.ZipInfo(name)
        info.compress_type = zipfile.ZIP_DEFLATED if deflate else zipfile.ZIP_STORED
        info.external_attr = 0o600 << 16
        digest, size = hashlib.sha256(), 0
        with self._packed.open(info, "w", force_zip64=True) as out:
            while chunk := content.read(CHUNK):
                out.write(chunk)
                digest.update(chunk)
                size += len(chunk)
        self.members[name] = Member(digest.hexdigest(), size)

    def seal(self, manifest: Manifest) -> None:
        """Write what the backup says of itself, and the checksum over every byte of it."""
        body = {"format": FORMAT, "version": VERSION, **asdict(manifest)}
        body["members"] = {name: one._asdict() for name, one in manifest.members.items()}
        self._packed.writestr(zipfile.ZipInfo(MANIFEST), json.dumps(body, indent=1) + "\n")
        self._packed.comment = b"-" * SEAL_LENGTH
        self._packed.close()
        size = self._to.seek(0, 2)
        digest = _digest_of(self._to, size - SEAL_LENGTH)
        self._to.seek(size - SEAL_LENGTH)
        self._to.write(b"sha256:" + digest.encode())


@dataclass(frozen=True)
class OpenBackup:
    """A backup whose seal, list, manifest and every checksum are right."""

    packed: zipfile.ZipFile
    manifest: Manifest
    seal: str

    def copy(self, name: str, to: Path) -> None:
        """Unpack a member to a place of our choosing, held against its checksum once more."""
        with self.packed.open(name) as member, to.open("wb") as out:
            for chunk in _bounded(member, name, self.manifest.members[name]):
                out.write(chunk)

    def open(self, name: str) -> IO[bytes]:
        """Open a member that was checked when the backup was opened."""
        return self.packed.open(name)


@contextmanager
def open_backup(path: Path) -> Iterator[OpenBackup]:
    """Open a backup that is right from end to end, or refuse it with a sentence."""
    if not path.is_file():
        raise BackupRefused(f"There is no file {path}.")
    try:
        with path.open("rb") as raw:
            seal = _demand_seal(raw)
            with zipfile.ZipFile(raw) as packed:
                opened = OpenBackup(packed, _checked(packed), seal)
                yield opened
    except UNREADABLE as fault:
        raise BackupRefused(f"{path.name} cannot be read to its end: {fault}") from fault


def _digest_of(file: IO[bytes], length: int) -> str:
    digest, left = hashlib.sha256(), length
    file.seek(0)
    while left > 0 and (chunk := file.read(min(CHUNK, left))):
        digest.update(chunk)
        left -= len(chunk)
    return digest.hexdigest()


def _demand_seal(raw: IO[bytes]) -> str:
    size = raw.seek(0, 2)
    raw.seek(max(size - SEAL_LENGTH, 0))
    found = SEAL.fullmatch(raw.read())
    if found is None:
        raise BackupRefused("This is no backup, or its end is cut off: it has no seal.")
    if _digest_of(raw, size - SEAL_LENGTH) != found[1].decode():
        raise BackupRefused("The backup was damaged or altered: its seal is not that of its bytes.")
    return found[1].decode()


def _checked(packed: zipfile.ZipFile) -> Manifest:
    found = packed.infolist()
    _demand_packing(found)
    with packed.open(MANIFEST) as told:
        manifest = _manifest_of(told.read(MANIFEST_MAX))
    sizes = {one.filename: one.file_size for one in found if one.filename != MANIFEST}
    for name in sorted(sizes.keys() ^ manifest.members.keys()):
        raise BackupRefused(f"“{name}” is missing in the backup or in its manifest.")
    if {name for name in sizes if not name.startswith(FILES)} != {manifest.database}:
        raise BackupRefused("The backup does not hold the one database its manifest names.")
    for name, wanted in manifest.members.items():
        with packed.open(name) as member:
            for _ in _bounded(member, name, wanted):
                pass
    return manifest


def _demand_packing(found: Iterable[zipfile.ZipInfo]) -> None:
    """Refuse by the ZIP's own list what must not be unpacked."""
    names: set[str] = set()
    size = packed = 0
    for one in found:
        # As it stands in the file: the library cuts a name at a NUL and turns separators.
        name = one.orig_filename
        known = name in {MANIFEST, *DATABASES.values()}
        if not known and not (name.startswith(FILES) and is_ours(name.removeprefix(FILES))):
            raise BackupRefused(f"“{name[:80]}” does not belong into a backup.")
        if name in names:
            raise BackupRefused(f"“{name}” stands in the backup twice.")
        if one.compress_type not in PLAIN or one.flag_bits & ENCRYPTED:
            raise BackupRefused(f"“{name}” is encrypted or packed in a way unknown here.")
        if name == MANIFEST and one.file_size > MANIFEST_MAX:
            raise BackupRefused("The backup's manifest is too large.")
        names.add(name)
        size, packed = size + one.file_size, packed + one.compress_size
    if MANIFEST not in names:
        raise BackupRefused("This is no backup: it has no manifest.")
    if size > RATIO_FREE + RATIO_MAX * packed:
        raise BackupRefused("The backup would unpack to far more than a database can be.")


def _bounded(member: IO[bytes], name: str, wanted: Member) -> Iterator[bytes]:
    """Read no more of a member than its manifest says, and hold it against its checksum."""
    digest, size = hashlib.sha256(), 0
    while chunk := member.read(CHUNK):
        digest.update(chunk)
        size += len(chunk)
        if size > wanted.size:
            raise BackupRefused(f"“{name}” is longer than the manifest says.")
        yield chunk
    if size != wanted.size or digest.hexdigest() != wanted.sha256:
        raise BackupRefused(f"“{name}” is not what was written: its checksum differs.")


def _manifest_of(data: bytes) -> Manifest:
    try:
        body = json.loads(data)
    except (ValueError, RecursionError) as fault:
        raise BackupRefused("The backup's manifest cannot be read.") from fault
    if not isinstance(body, dict) or body.pop("format", None) != FORMAT:
        raise BackupRefused("This is no backup of this service.")
    if (version := body.pop("version", None)) != VERSION:
        raise BackupRefused(
            f"The backup is of version {str(version)[:20]} of the format; this program reads "
            f"version {VERSION}."
        )
    try:
        return Manifest(
            made_at=_text(body["made_at"]),
            engine=_of(body["engine"], DATABASES),
            engine_version=_text(body["engine_version"]),
            migrations=tuple(map(_text, body["migrations"])),
            with_files=bool(body["with_files"]),
            tables={_text(name): _count(rows) for name, rows in body["tables"].items()},
            members={
                _text(name): Member(_sha256(one["sha256"]), _count(one["size"]))
                for name, one in body["members"].items()
            },
        )
    except (AttributeError, KeyError, TypeError, ValueError) as fault:
        raise BackupRefused("The backup's manifest is not whole.") from fault


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(value)
    return value


def _of(value: Any, known: Iterable[str]) -> str:
    if value not in known:
        raise ValueError(value)
    return str(value)


def _count(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise ValueError(value)
    return value


def _sha256(value: Any) -> str:
    if not _SHA256.fullmatch(_text(value)):
        raise ValueError(value)
    return str(value)
