"""Write a whole show into an archive; `reports/rules/archive.py` says what is in it."""

from __future__ import annotations

import hashlib
import tempfile
import zipfile
from collections import defaultdict
from collections.abc import Generator, Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import IO, Any, cast

from django.core.files.storage import Storage
from django.db import connection, transaction

from judging.models import FoodRound
from judging.models.device import PAPER_TOKEN
from judging.rules.results.class_result import RULE_VERSION
from reports.actions.zip_member import zip_member
from reports.queries.show_tables import (
    BLANKED,
    PERSON,
    Table,
    migrations_here,
    people,
    rows_of,
    show_tables,
    table_of,
)
from reports.rules.archive import (
    MANIFEST,
    PEOPLE,
    Manifest,
    Member,
    file_member,
    rows_member,
    write_manifest,
)
from reports.rules.archive_rows import plain_value, write_line
from showrun.errors import Conflict, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

CHUNK = 1024 * 1024
READ_AHEAD = 500  # rows


@dataclass(frozen=True)
class Written:
    """An archive that was written: what it says of itself, and its own fingerprint."""

    manifest: Manifest
    sha256: str
    size_bytes: int


def write_archive(*, show: Show, to: IO[bytes], at: datetime) -> Written:
    """Write the show's archive into a file that can be read again; changes no row.

    Rows are read as of one moment. A file that is gone from the disk is named as missing.
    """
    with zipfile.ZipFile(to, "w") as packed:
        writer = _Writer(packed)
        with _one_moment():
            show = Show.objects.get(pk=show.pk)
            tables = {table.name: writer.table(table, show) for table in show_tables()}
            writer.lines(PEOPLE, map(write_line, people(writer.keys[PERSON])))
            migrations = migrations_here()
        for name, storage in sorted(writer.named.items()):
            writer.file(name, storage)
        manifest = Manifest(
            slug=show.slug,
            name=show.name,
            made_at=plain_value(at.replace(microsecond=0)),
            migrations=migrations,
            rule_version=RULE_VERSION,
            tables=tables,
            members=writer.members,
            files=writer.files,
            missing_files=tuple(writer.missing),
        )
        packed.writestr(zip_member(MANIFEST, zipfile.ZIP_STORED), write_manifest(manifest))
    return Written(manifest, *_measured(to))


def hand_out_archive(*, show: Show, by: Person, at: datetime) -> tuple[IO[bytes], Written]:
    """Write the archive into a file of its own, which is gone when closed, and record it.

    Refused while the key of a food round is closed: the archive would tell it.
    """
    if keys_closed(show):
        raise NotYet(
            _(
                "The archive tells which wagon a code of the food tables stands for. It can be "
                "taken out here once the key of every round that is drawn has been opened."
            ),
            code="key-closed",
        )
    with _kept_open(tempfile.TemporaryFile()) as out:
        written = write_archive(show=show, to=out, at=at)
        out.seek(0)
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="took out",
            subject="the whole show as an archive",
            after={"sha256": written.sha256, "rows": written.manifest.rows},
        )
    return out, written


def keys_closed(show: Show) -> int:
    """Count the food rounds drawn whose key nobody has opened."""
    return FoodRound.objects.filter(
        show=show, drawn_at__isnull=False, revealed_at__isnull=True
    ).count()


@contextmanager
def _kept_open(out: IO[bytes]) -> Iterator[IO[bytes]]:
    """Close the file only where its writing fails."""
    try:
        yield out
    except BaseException:
        out.close()
        raise


@contextmanager
def _one_moment() -> Iterator[None]:
    """Read everything as of one moment, while phones go on writing."""
    own = not connection.in_atomic_block
    with transaction.atomic():
        if own and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        yield


def _measured(out: IO[bytes]) -> tuple[str, int]:
    digest = hashlib.sha256()
    out.seek(0)
    while chunk := out.read(CHUNK):
        digest.update(chunk)
    return digest.hexdigest(), out.tell()


@dataclass
class _Writer:
    """Writes member after member and keeps what the manifest says of them."""

    packed: zipfile.ZipFile
    members: dict[str, Member] = field(default_factory=dict)
    # The keys written, by table; of persons those linked to.
    keys: dict[str, set[Any]] = field(default_factory=lambda: defaultdict(set))
    named: dict[str, Storage] = field(default_factory=dict)
    files: dict[str, str] = field(default_factory=dict)
    missing: list[str] = field(default_factory=list)

    def lines(self, name: str, lines: Iterable[bytes]) -> int:
        """Write a member of lines and return how many they are."""
        digest, size, count = hashlib.sha256(), 0, 0
        with self.packed.open(zip_member(name), "w") as out:
            for line in lines:
                out.write(line)
                digest.update(line)
                size, count = size + len(line), count + 1
        self.members[name] = Member(digest.hexdigest(), size)
        return count

    def table(self, table: Table, show: Show) -> int:
        """Write the show's rows of a table and return how many they are."""
        names = [column.attname for column in table.columns]
        # Closed before the transaction ends, also where a row is refused.
        found = rows_of(table, show).values(*names).iterator(READ_AHEAD)
        with closing(cast(Generator[dict[str, Any], None, None], found)) as rows:
            told = (write_line(self._row(table, row)) for row in parents_first(table, rows))
            return self.lines(rows_member(table.name), told)

    def _row(self, table: Table, row: dict[str, Any]) -> dict[str, Any]:
        for name in table.files:
            if row[name]:
                self.named[row[name]] = table.model._meta.get_field(name).storage  # type: ignore[union-attr]
        self.keys[table.name].add(row[table.key.attname])
        for link in table.links:
            self._follow(table, table_of(link), row[link.attname])
        told = {name: plain_value(value) for name, value in row.items()}
        for blank in BLANKED:
            where, _dot, name = blank.rpartition(".")
            if where == table.name:
                told[name] = told_of_token(told[name])
        return told

    def _follow(self, table: Table, to: str, key: Any) -> None:
        """Note a person, and refuse a link that leads out of the show.

        Persons are those of columns: in what a phone sent any number may stand.
        """
        if key is None:
            return
        if to == PERSON:
            self.keys[PERSON].add(key)
        elif key not in self.keys[to]:
            raise Conflict(
                _(
                    "A row of {name} links to a row of {to} that is not of this show; the archive "
                    "could not be restored."
                ).format(name=table.name, to=to),
                code="link-leads-out",
            )

    def file(self, name: str, storage: Storage) -> None:
        """Write the content of a file, once whatever it is called."""
        with suppress(FileNotFoundError), storage.open(name) as kept:
            sha256, size = _measured(kept)
            member = file_member(sha256)
            if member not in self.members:
                kept.seek(0)
                info = zip_member(member, zipfile.ZIP_STORED)
                info.file_size = size
                with self.packed.open(info, "w") as out:
                    while chunk := kept.read(CHUNK):
                        out.write(chunk)
                self.members[member] = Member(sha256, size)
            self.files[name] = sha256
            return
        self.missing.append(name)


def told_of_token(kept: str) -> str:
    """Say of a device's token only whether it is a judge's paper, which has none."""
    return "paper" if kept.startswith(PAPER_TOKEN) else ""


def parents_first(table: Table, rows: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield rows by key, each after those of its own table that it links to."""
    if not table.own_links:
        yield from rows
        return
    seen: set[Any] = set()
    held: dict[Any, list[dict[str, Any]]] = defaultdict(list)

    def ready(row: dict[str, Any]) -> Iterator[dict[str, Any]]:
        waits = [row[n] for n in table.own_links if row[n] is not None and row[n] not in seen]
        if waits:
            held[waits[0]].append(row)
            return
        key = row[table.key.attname]
        seen.add(key)
        yield row
        for one in held.pop(key, ()):
            yield from ready(one)

    for row in rows:
        yield from ready(row)
    if held:
        raise Conflict(
            _("Rows of {name} link to each other in a circle, or out of the show.").format(
                name=table.name
            ),
            code="link-leads-out",
        )
