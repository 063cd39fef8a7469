"""What of an archive is refused by the ZIP's own list, before anything of it is unpacked."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import NamedTuple

from reports.rules.archive import (
    MANIFEST,
    PEOPLE,
    ArchiveRefused,
    Manifest,
    file_member,
    rows_member,
)

MIB = 1024 * 1024
MANIFEST_MAX = 32 * MIB  # bytes
LINE_MAX = 32 * MIB  # bytes; the longest rows are plans with all that was found on the way
UNPACKED_MAX = 64 * 1024 * MIB  # bytes
# Rows of a real show shrink to a tenth; more than this is made to fill a disk.
RATIO_MAX = 200
RATIO_FREE = 16 * MIB  # bytes that may come of any ratio
_MEMBER = re.compile(r"people\.jsonl|rows/[a-z]+\.[a-z0-9_]+\.jsonl|files/[0-9a-f]{64}")
_BASE = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,119}")


class Packed(NamedTuple):
    """A member as the ZIP's own list has it, sizes in bytes."""

    name: str
    size: int
    packed: int
    plain: bool = True  # stored or deflated, and not encrypted


def demand_packing(found: Iterable[Packed]) -> None:
    """Refuse by its list alone what must not be unpacked.

    Parameters
    ----------
    found : iterable of Packed
        Every entry of the ZIP's list.

    Raises
    ------
    ArchiveRefused
        For names that are none of ours (a way out of the folder among them), a name twice, a
        method that is not plain, and sizes beyond reason.

    Source
    ------
    Common practice, no source (the limits).

    Examples
    --------
    >>> demand_packing([Packed("manifest.json", 90, 90), Packed("../../etc/passwd", 9, 9)])
    Traceback (most recent call last):
    ...
    reports.rules.archive.ArchiveRefused: “../../etc/passwd” does not belong into an archive.
    """
    names: set[str] = set()
    size = packed = 0
    for one in found:
        if one.name != MANIFEST and not _MEMBER.fullmatch(one.name):
            raise ArchiveRefused(f"“{one.name[:80]}” does not belong into an archive.")
        if one.name in names:
            raise ArchiveRefused(f"“{one.name}” stands in the archive twice.")
        if not one.plain:
            raise ArchiveRefused(f"“{one.name}” is encrypted or packed in a way unknown here.")
        if one.name == MANIFEST and one.size > MANIFEST_MAX:
            raise ArchiveRefused("The archive's manifest is too large.")
        names.add(one.name)
        size, packed = size + one.size, packed + one.packed
    if MANIFEST not in names:
        raise ArchiveRefused("This is no archive of a show: it has no manifest.")
    if size > UNPACKED_MAX or size > RATIO_FREE + RATIO_MAX * packed:
        raise ArchiveRefused("The archive would unpack to far more than a show can be.")


def demand_whole(found: Iterable[Packed], manifest: Manifest) -> None:
    """Refuse an archive that lacks what its manifest names, or holds more.

    Raises
    ------
    ArchiveRefused

    Source
    ------
    Our own rule.
    """
    sizes = {one.name: one.size for one in found if one.name != MANIFEST}
    wanted = {rows_member(table) for table in manifest.tables} | {PEOPLE}
    wanted |= {file_member(sha256) for sha256 in manifest.files.values()}
    for name in sorted(wanted | manifest.members.keys() | sizes.keys()):
        if name not in sizes or name not in manifest.members:
            raise ArchiveRefused(f"“{name}” is missing in the archive or in its manifest.")
        if name not in wanted:
            raise ArchiveRefused(f"“{name}” belongs to nothing in the archive.")
        if sizes[name] != manifest.members[name].size:
            raise ArchiveRefused(f"“{name}” is not as long as the manifest says.")


def base_name(name: str) -> str:
    """Return the last part of a file's name; where it is kept is never taken from an archive.

    Raises
    ------
    ArchiveRefused

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> base_name("papers/3/award-7-0af3.pdf"), base_name("../../etc/cron.d/x")
    ('award-7-0af3.pdf', 'x')
    """
    base = name.rpartition("/")[2]
    if not _BASE.fullmatch(base):
        raise ArchiveRefused(f"“{name[:80]}” is no name of a file.")
    return base
