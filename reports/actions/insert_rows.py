"""Write an archive's rows into the database: new keys, links led to them, nothing written over."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any
from uuid import UUID, uuid5

from django.core.exceptions import SuspiciousFileOperation, ValidationError
from django.core.files import File
from django.core.files.storage import Storage
from django.core.management.color import no_style
from django.db import connection, models

from judging.models import Season
from reports.actions.check_archive import OpenArchive
from reports.actions.own_ways import (
    KNOWN_OUTSIDE,
    Row,
    copied_reference,
    device_token,
    event_hash,
    namespace_of,
    paper_code,
    posting_key,
    same_season,
    season_slug,
)
from reports.queries.show_tables import PERSON, SHARED, SHOW, Table, table_of
from reports.rules.archive import ArchiveRefused
from reports.rules.archive_links import KEYS, rekeyed
from reports.rules.packing import base_name
from showrun.shows.actions.plan_show import person_for

BATCH = 500
PRINTED = "judging.papercard"


@dataclass
class Insertion:
    """Rows on their way in: which key became which, and which files were written."""

    archive: OpenArchive
    slug: str
    keys: dict[str, dict[Any, Any]] = field(default_factory=lambda: defaultdict(dict))
    # Columns whose values are the show's own here as well, since no row here has any of them.
    free: dict[str, bool] = field(default_factory=dict)
    written: list[tuple[Storage, str]] = field(default_factory=list)
    files_missing: int = 0
    # The key of the next row, where keys are not the database's own to give.
    next_key: int | None = None

    def people(self) -> None:
        """Find every person by e-mail; those who are new are made, those who are not stay."""
        for told in self.archive.people():
            key, email, name = told.get("id"), told.get("email"), told.get("name")
            if not (isinstance(key, int) and isinstance(email, str) and isinstance(name, str)):
                raise ArchiveRefused("A row of people cannot be read.")
            if "@" not in email or len(email) > 254 or len(name) > 120:
                raise ArchiveRefused("A row of people cannot be read.")
            self.keys[PERSON][key] = person_for(email=email, name=name).pk

    def table(self, table: Table) -> None:
        """Write a table."""
        self._look_ahead(table)
        self.next_key = self._first_key(table)
        given = self.next_key is not None or table.name == PRINTED
        batch: list[tuple[Row, models.Model]] = []
        for row in self._rows(table):
            links = [row[name] for name in table.own_links]
            if len(batch) == BATCH or any(
                key is not None and key not in self.keys[table.name] for key in links
            ):
                self._flush(table, batch)
            there = self._shared(table, row) if table.shared else None
            if there is not None:
                self.keys[table.name][row[table.key.attname]] = there
            else:
                batch.append((row, self._made(table, row)))
        self._flush(table, batch)
        if given:
            _count_on(table)

    def _look_ahead(self, table: Table) -> None:
        """Find out whether what is printed or known outside is free here, all of it."""
        known = KNOWN_OUTSIDE.get(table.name)
        for name in (*table.ids, *((known,) if known else ())):
            column = table.model._meta.get_field(name)
            assert isinstance(column, models.Field)
            values = (read_value(table, column, row[name]) for row in self._rows(table))
            self.free[f"{table.name}.{name}"] = not any(
                table.model._base_manager.filter(**{f"{name}__in": some}).exists()
                for some in _batches(values)
            )

    def _first_key(self, table: Table) -> int | None:
        """Return the key to begin with, where the database would give some the archive has.

        No key of the archive's rows is given to another row, so that what still goes by one, such
        as a phone with unsent touches or a link in a mail, leads nowhere and not to another wagon.
        """
        if table.key.attname in table.ids:
            return None
        last = max(
            (read_value(table, table.key, row["id"]) for row in self._rows(table)), default=0
        )
        here = table.model._base_manager.aggregate(last=models.Max("pk"))["last"] or 0
        return last + 1 if here < last else None

    def _rows(self, table: Table) -> Iterator[Row]:
        """Yield the archive's rows of a table, each with its columns and with keys for keys."""
        columns = {column.attname for column in table.columns}
        keys = [table.key.attname, *(link.attname for link in table.links)]
        for row in self.archive.rows(table.name):
            if row.keys() != columns:
                raise ArchiveRefused(f"A row of {table.name} has not the columns it should have.")
            if any(isinstance(row[key], list | dict | bool) for key in keys):
                raise ArchiveRefused(f"A row of {table.name} has something else for a key.")
            yield row

    def _made(self, table: Table, row: Row) -> models.Model:
        """Return the row as it is to be here."""
        new = {one.attname: read_value(table, one, row[one.attname]) for one in table.columns}
        for name in table.documents:
            new[name] = rekeyed(new[name], KEYS[f"{table.name}.{name}"], self._new_key)
        for link in table.links:
            new[link.attname] = self._linked(table, link, row[link.attname])
        for name in table.ids:
            new[name] = self.new_id(f"{table.name}.{name}", new[name])
        if table.key.attname not in table.ids and not self.free.get(f"{table.name}.id"):
            new[table.key.attname] = self.next_key
            self.next_key = self.next_key and self.next_key + 1
        self._own_ways(table, row, new)
        return table.model(**new)

    def _linked(self, table: Table, link: models.ForeignKey[Any, Any], key: Any) -> Any:
        if key is None and link.null:
            return None
        if key not in self.keys[table_of(link)]:
            raise ArchiveRefused(f"A row of {table.name} links to a row that is not there.")
        return self.keys[table_of(link)][key]

    def new_id(self, column: str, old: UUID) -> UUID:
        """Return a UUID as it is where it is free, else the one that stands for it in this show."""
        return old if self.free[column] else uuid5(namespace_of(self.slug), f"{column} {old}")

    def _new_key(self, table: str, key: int | str) -> int | str | None:
        if isinstance(key, int):
            return self.keys[table].get(key)
        if self.free.get(f"{table}.id", True):
            return None
        try:
            return str(self.new_id(f"{table}.id", UUID(key)))
        except ValueError:
            return None

    def _own_ways(self, table: Table, row: Row, new: Row) -> None:
        """Set what is made of keys, or must not be twice, in a way of its own."""
        if table.name == SHOW:
            new["slug"] = self.slug
        elif table.name == "judging.device":
            new["token_hash"] = device_token(row, new, self.slug)
        elif table.name == "judging.roundevent":
            new["body_hash"] = event_hash(row, new)
        elif table.name == "entries.posting":
            new["key"] = posting_key(row, new, self.keys)
        elif table.name == "judging.season":
            new["slug"] = season_slug(new["slug"], self.slug)
        elif table.name == "reports.paper":
            code = new["code"]
            new["code"] = code if self.free["reports.paper.code"] else paper_code(code, self.slug)
        elif table.name == "entries.onlinepayment":
            free, told = self.free["entries.onlinepayment.reference"], new["reference"]
            new["reference"] = told if free else copied_reference(told, self.slug)

    def _shared(self, table: Table, row: Row) -> Any:
        """Return the key of the row several shows share, where it is here already."""
        wanted: Row = {}
        for name in SHARED[table.name]:
            column = table.model._meta.get_field(name)
            if isinstance(column, models.ForeignKey):
                wanted[column.attname] = self._linked(table, column, row[column.attname])
            else:
                wanted[name] = row[name]
        there = table.model._base_manager.filter(**wanted).first()
        first = self.archive.manifest.slug
        if isinstance(there, Season) and not same_season(there, row, first):
            return None
        return None if there is None else there.pk

    def _flush(self, table: Table, batch: list[tuple[Row, models.Model]]) -> None:
        """Write the rows gathered, in their order, and then their files."""
        made = table.model._base_manager.bulk_create([row for _, row in batch])
        for (row, _), one in zip(batch, made, strict=True):
            if row[table.key.attname] in self.keys[table.name]:
                raise ArchiveRefused(f"A row of {table.name} stands in the archive twice.")
            self.keys[table.name][row[table.key.attname]] = one.pk
            for name in table.files:
                self._file(table, one, name, row[name])
        batch.clear()

    def _file(self, table: Table, one: models.Model, column: str, name: str) -> None:
        """Write a row's file where such files lie here, and name it so."""
        if not name:
            return
        where = table.model._meta.get_field(column)
        assert isinstance(where, models.FileField)
        try:
            wanted = where.generate_filename(one, base_name(name))
        except SuspiciousFileOperation as fault:
            raise ArchiveRefused(f"“{name[:80]}” is no name of a file.") from fault
        content = self.archive.manifest.files.get(name)
        if content is None:
            if name not in self.archive.manifest.missing_files:
                raise ArchiveRefused(f"The file “{name[:80]}” is not in the archive.")
            self.files_missing += 1
        else:
            with self.archive.file(content) as data:
                wanted = where.storage.save(wanted, File(data))
            self.written.append((where.storage, wanted))
        table.model._base_manager.filter(pk=one.pk).update(**{column: wanted})

    def take_back_files(self) -> None:
        """Remove what was written, where the rows are not kept."""
        for storage, name in self.written:
            storage.delete(name)


def read_value(table: Table, column: models.Field[Any, Any], value: Any) -> Any:
    """Return a column's value as its model wants it, or refuse the archive."""
    if isinstance(column, models.JSONField) or (value is None and column.null):
        return value
    wanted: tuple[type, ...] = (str,)
    if isinstance(column, models.BooleanField):
        wanted = (bool,)
    elif isinstance(column, models.FloatField):
        wanted = (int, float)
    elif isinstance(column, models.IntegerField):
        wanted = (int,)
    if isinstance(column, models.ForeignKey):
        return value  # looked up among the rows there are
    right = isinstance(value, wanted) and (isinstance(value, bool) is (wanted == (bool,)))
    try:
        read = column.to_python(value) if right else None
    except ValidationError:
        right = False
    else:
        right = right and not (isinstance(read, datetime) and read.tzinfo is None)
        longest = None if isinstance(column, models.UUIDField) else column.max_length
        right = right and not (longest and len(str(value)) > longest)
    if not right:
        raise ArchiveRefused(f"A row of {table.name} has no {column.attname} that can be read.")
    return read


def _batches(values: Iterable[Any]) -> Iterator[list[Any]]:
    every = iter(values)
    while some := list(islice(every, BATCH)):
        yield some


def _count_on(table: Table) -> None:
    """Let the table's own count go on after the keys that were given to it."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [table.model]):
            cursor.execute(statement)
