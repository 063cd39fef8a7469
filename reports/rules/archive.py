"""The archive of a whole show: its members, its manifest, and what is refused unread.

An archive is a ZIP file (stored or deflated, not encrypted, every time stamp 1 January 1980).

=====================  ==========================================================================
member                 what it is
=====================  ==========================================================================
``rows/<table>.jsonl`` one table; a line is one row, a JSON object in UTF-8; ascending by key, a
                       row after those it links to. ``<table>`` is app and row name, such as
                       ``entries.entry``. A link is the key of the row it leads to, under a name
                       that ends in ``_id``. Instants are RFC 3339 in UTC, money is whole cents,
                       decimals and UUIDs are strings, a file is its name.
``people.jsonl``       the persons those rows link to: ``id``, ``email``, ``name``
``files/<sha256>``     the content of a file, once, named by its hash
``manifest.json``      the last member, a JSON object (below)
=====================  ==========================================================================

The manifest:

================  ===============================================================================
key               value
================  ===============================================================================
``format``        always ``showrun-show-archive``
``version``       1
``made_at``       RFC 3339 in UTC; the only bytes that differ between archives of the same rows
``show``          ``{"slug", "name"}``
``program``       ``{"migrations": {app: name}, "rule_version"}``: what wrote it
``tables``        table to number of rows, in the order to read them: links point back
``members``       member to ``{"sha256", "bytes"}``, the manifest itself left out
``files``         name of a file, as rows have it, to its SHA-256
``missing_files`` names of files that rows have and the disk had lost
================  ===============================================================================
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

FORMAT = "showrun-show-archive"
VERSION = 1
MANIFEST = "manifest.json"
PEOPLE = "people.jsonl"
_SHA256 = re.compile(r"[0-9a-f]{64}")


class ArchiveRefused(ValueError):
    """An archive that is not restored; the sentence says why."""


class Member(NamedTuple):
    """What the manifest says of a member."""

    sha256: str
    size: int


@dataclass(frozen=True)
class Manifest:
    """What an archive says of itself; see the top of this file."""

    slug: str
    name: str
    made_at: str
    migrations: Mapping[str, str]
    rule_version: str
    tables: Mapping[str, int] = field(default_factory=dict)
    members: Mapping[str, Member] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    missing_files: tuple[str, ...] = ()

    @property
    def rows(self) -> int:
        """How many rows there are in all."""
        return sum(self.tables.values())


def rows_member(table: str) -> str:
    """Name the member of a table.

    Examples
    --------
    >>> rows_member("entries.entry")
    'rows/entries.entry.jsonl'
    """
    return f"rows/{table}.jsonl"


def file_member(sha256: str) -> str:
    """Name the member of a file's content."""
    return f"files/{sha256}"


def write_manifest(manifest: Manifest) -> bytes:
    """Write the manifest; the same manifest gives the same bytes.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> told = Manifest("trail-days", "Trail Days", "2027-05-17T08:00:00Z", {}, "1")
    >>> read_manifest(write_manifest(told)) == told
    True
    """
    body = {
        "format": FORMAT,
        "version": VERSION,
        "made_at": manifest.made_at,
        "show": {"slug": manifest.slug, "name": manifest.name},
        "program": {
            "migrations": dict(sorted(manifest.migrations.items())),
            "rule_version": manifest.rule_version,
        },
        "tables": dict(manifest.tables),
        "members": {
            name: {"sha256": one.sha256, "bytes": one.size}
            for name, one in sorted(manifest.members.items())
        },
        "files": dict(sorted(manifest.files.items())),
        "missing_files": sorted(manifest.missing_files),
    }
    return json.dumps(body, ensure_ascii=False, indent=1).encode() + b"\n"


def read_manifest(data: bytes) -> Manifest:
    """Read a manifest, and refuse what this program does not know.

    Parameters
    ----------
    data : bytes
        The member `manifest.json`.

    Raises
    ------
    ArchiveRefused
        With a sentence: not ours, of another version, or not whole.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> read_manifest(b'{"format": "holiday-photos"}')
    Traceback (most recent call last):
    ...
    reports.rules.archive.ArchiveRefused: This is no archive of a show.
    """
    try:
        body = json.loads(data)
    except (ValueError, RecursionError) as fault:
        raise ArchiveRefused("The archive's manifest cannot be read.") from fault
    if not isinstance(body, dict) or body.get("format") != FORMAT:
        raise ArchiveRefused("This is no archive of a show.")
    if body.get("version") != VERSION:
        raise ArchiveRefused(
            f"The archive is of version {str(body.get('version'))[:20]} of the format; this "
            f"program reads version {VERSION}."
        )
    try:
        return Manifest(
            slug=_text(body["show"]["slug"]),
            name=_text(body["show"]["name"]),
            made_at=_text(body["made_at"]),
            migrations={_text(k): _text(v) for k, v in body["program"]["migrations"].items()},
            rule_version=_text(body["program"]["rule_version"]),
            tables={_text(k): _count(v) for k, v in body["tables"].items()},
            members={
                _text(k): Member(_sha256(v["sha256"]), _count(v["bytes"]))
                for k, v in body["members"].items()
            },
            files={_text(k): _sha256(v) for k, v in body["files"].items()},
            missing_files=tuple(_text(name) for name in body["missing_files"]),
        )
    except (KeyError, TypeError, AttributeError, ValueError) as fault:
        raise ArchiveRefused("The archive's manifest is not whole.") from fault


def demand_fits(manifest: Manifest, migrations: Mapping[str, str], tables: Iterable[str]) -> None:
    """Refuse an archive whose tables are not those of this program.

    Parameters
    ----------
    manifest : Manifest
    migrations : mapping of str to str
        The last migration of each app here.
    tables : iterable of str
        The tables a show has here, in order.

    Raises
    ------
    ArchiveRefused
        Naming the app that is of another state, so that a program of that state can be taken.

    Source
    ------
    Our own rule.

    Examples
    --------
    >>> old = Manifest("d", "D", "", {"entries": "0003_a"}, "1")
    >>> demand_fits(old, {"entries": "0004_b"}, [])
    Traceback (most recent call last):
    ...
    reports.rules.archive.ArchiveRefused: The archive was written at entries 0003_a; this program
    is at 0004_b. Restore it with a program of that state, and bring that one up to date.
    """
    for app in sorted({*migrations, *manifest.migrations}):
        there, here = manifest.migrations.get(app, "nothing"), migrations.get(app, "nothing")
        if there != here:
            raise ArchiveRefused(
                f"The archive was written at {app} {there}; this program is at {here}. Restore it "
                "with a program of that state, and bring that one up to date."
            )
    if list(manifest.tables) != list(tables):
        raise ArchiveRefused("The archive's tables are not those of this program.")


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(value)
    return value


def _count(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or value < 0:
        raise ValueError(value)
    return value


def _sha256(value: Any) -> str:
    if not isinstance(value, str) or not _SHA256.fullmatch(value):
        raise ValueError(value)
    return value
