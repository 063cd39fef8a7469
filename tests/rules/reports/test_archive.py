"""The format of an archive: what is written is read back, and what is none of ours is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta, timezone
from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.rules.archive import (
    PEOPLE,
    ArchiveRefused,
    Manifest,
    Member,
    demand_fits,
    file_member,
    read_manifest,
    rows_member,
    write_manifest,
)
from reports.rules.archive_rows import plain_value, read_line, write_line
from reports.rules.packing import MIB, Packed, base_name, demand_packing, demand_whole

SHA = "ab" * 32
MANIFEST = Manifest(
    slug="trail-days",
    name="Trail “Days”",
    made_at="2027-05-17T08:00:00Z",
    migrations={"shows": "0003_a", "entries": "0003_b"},
    rule_version="4",
    tables={"shows.show": 1, "entries.entry": 2},
    members={
        rows_member("shows.show"): Member(SHA, 90),
        rows_member("entries.entry"): Member(SHA, 180),
        PEOPLE: Member(SHA, 40),
        file_member(SHA): Member(SHA, 7),
    },
    files={"papers/1/a.pdf": SHA},
    missing_files=("papers/1/b.pdf",),
)
FOUND = [Packed(name, one.size, one.size) for name, one in MANIFEST.members.items()]
WHOLE = [*FOUND, Packed("manifest.json", 500, 500)]


# -- rows ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (None, None),
        (7, 7),
        (True, True),
        ("Tin Sparrow", "Tin Sparrow"),
        (Decimal("1E+2"), "100"),
        (Decimal("7.50"), "7.50"),
        (date(2027, 5, 15), "2027-05-15"),
        (time(9, 30), "09:30:00"),
        (datetime(2027, 5, 15, 8, tzinfo=timezone(timedelta(hours=-6))), "2027-05-15T14:00:00Z"),
        (datetime(2027, 5, 15, 8, 0, 0, 25, tzinfo=UTC), "2027-05-15T08:00:00.000025Z"),
        (UUID(int=7), "00000000-0000-0000-0000-000000000007"),
        ({"rig": ["drop"]}, {"rig": ["drop"]}),
    ],
)
def test_each_kind_of_value_is_written_in_one_way(value: Any, told: Any) -> None:
    assert plain_value(value) == told


_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("abc"), inner, max_size=4),
    max_leaves=12,
)  # fmt: skip


@given(st.dictionaries(st.text("abc_", min_size=1), _VALUES, max_size=8))
def test_a_row_is_one_line_and_reads_back_as_it_was(row: dict[str, Any]) -> None:
    line = write_line(row)
    assert line.count(b"\n") == 1 and line.endswith(b"\n")
    assert read_line(line, "entries.entry") == row


def test_a_number_json_does_not_know_is_not_written() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        write_line({"chance": float("inf")})


@pytest.mark.parametrize("line", [b"", b"{", b"[1]\n", b"7\n", b"\xff\xfe\n", b"[" * 99999])
def test_a_line_that_is_no_row_is_refused(line: bytes) -> None:
    with pytest.raises(ArchiveRefused, match=r"A row of entries\.entry cannot be read"):
        read_line(line, "entries.entry")


# -- the manifest ----------------------------------------------------------------------------


def test_a_manifest_reads_back_as_it_was() -> None:
    assert read_manifest(write_manifest(MANIFEST)) == MANIFEST
    assert MANIFEST.rows == 3


def test_tables_keep_their_order() -> None:
    """Links point back, so the order is part of the format."""
    assert list(read_manifest(write_manifest(MANIFEST)).tables) == ["shows.show", "entries.entry"]


def changed(change: Callable[[dict[str, Any]], Any]) -> bytes:
    body = json.loads(write_manifest(MANIFEST))
    change(body)
    return json.dumps(body).encode()


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "manifest cannot be read"),
        (b"\xff", "manifest cannot be read"),
        (b"[]", "no archive of a show"),
        (changed(lambda body: body.update(format="photos")), "no archive of a show"),
        (changed(lambda body: body.update(version=2)), "of version 2 of the format"),
        (changed(lambda body: body.pop("version")), "of version None"),
        (changed(lambda body: body.pop("tables")), "not whole"),
        (changed(lambda body: body.update(tables=[])), "not whole"),
        (changed(lambda body: body["tables"].update({"shows.show": -1})), "not whole"),
        (changed(lambda body: body["tables"].update({"shows.show": True})), "not whole"),
        (changed(lambda body: body["show"].update(slug=7)), "not whole"),
        (changed(lambda body: body["files"].update(x="../up")), "not whole"),
        (changed(lambda body: body["members"].update(x={"sha256": SHA})), "not whole"),
    ],
)
def test_a_manifest_that_is_not_ours_or_not_whole_is_refused(data: bytes, sentence: str) -> None:
    with pytest.raises(ArchiveRefused, match=sentence):
        read_manifest(data)


def test_another_state_of_the_program_is_named() -> None:
    fits = dict(MANIFEST.migrations)
    demand_fits(MANIFEST, fits, ["shows.show", "entries.entry"])
    with pytest.raises(ArchiveRefused, match="written at entries 0003_b; this program is at 0004"):
        demand_fits(MANIFEST, {**fits, "entries": "0004_c"}, MANIFEST.tables)
    with pytest.raises(ArchiveRefused, match="written at reports nothing"):
        demand_fits(MANIFEST, {**fits, "reports": "0001_c"}, MANIFEST.tables)
    with pytest.raises(ArchiveRefused, match="tables are not those"):
        demand_fits(MANIFEST, fits, ["entries.entry", "shows.show"])


# -- the list of the ZIP ---------------------------------------------------------------------


def test_a_whole_archive_passes() -> None:
    demand_packing(WHOLE)
    demand_whole(WHOLE, MANIFEST)


@pytest.mark.parametrize(
    "name",
    [
        "../people.jsonl", "/people.jsonl", "rows/../../x.jsonl", "files/../" + SHA,
        "files/" + "AB" * 32, f"files/{SHA}/x", "files/" + "ab" * 31, "rows/entries.entry.csv",
        "rows\\entries.entry.jsonl", "people.jsonl\n", "manifest.json/", "",
    ],
)  # fmt: skip
def test_a_name_that_is_none_of_ours_is_refused(name: str) -> None:
    with pytest.raises(ArchiveRefused, match="does not belong into an archive"):
        demand_packing([*WHOLE, Packed(name, 1, 1)])


@pytest.mark.parametrize(
    ("found", "sentence"),
    [
        ([*WHOLE, WHOLE[0]], "stands in the archive twice"),
        (FOUND, "it has no manifest"),
        ([*WHOLE, Packed(file_member("cd" * 32), 9, 9, plain=False)], "encrypted or packed"),
        ([Packed("manifest.json", 33 * MIB, 9)], "manifest is too large"),
        ([*WHOLE, Packed(file_member("cd" * 32), 900 * MIB, MIB)], "unpack to far more"),
        ([*WHOLE, Packed(file_member("cd" * 32), 1 << 40, 1 << 40)], "unpack to far more"),
    ],
)
def test_what_must_not_be_unpacked_is_refused(found: list[Packed], sentence: str) -> None:
    with pytest.raises(ArchiveRefused, match=sentence):
        demand_packing(found)


def test_a_small_archive_may_shrink_well() -> None:
    demand_packing([*WHOLE, Packed(rows_member("judging.seat"), 8 * MIB, 100)])


@pytest.mark.parametrize(
    ("found", "sentence"),
    [
        (WHOLE[1:], "is missing in the archive"),
        ([*WHOLE, Packed(file_member("cd" * 32), 1, 1)], "is missing in the archive or in its"),
        ([WHOLE[0]._replace(size=91), *WHOLE[1:]], "not as long as the manifest says"),
    ],
)
def test_an_archive_that_is_not_whole_is_refused(found: list[Packed], sentence: str) -> None:
    with pytest.raises(ArchiveRefused, match=sentence):
        demand_whole(found, MANIFEST)


def test_what_belongs_to_nothing_is_refused() -> None:
    extra = file_member("cd" * 32)
    more = Manifest(**{**vars(MANIFEST), "members": {**MANIFEST.members, extra: Member(SHA, 1)}})
    with pytest.raises(ArchiveRefused, match="belongs to nothing"):
        demand_whole([*WHOLE, Packed(extra, 1, 1)], more)


@pytest.mark.parametrize(
    "name", ["", "papers/", "a/..", "..", ".hidden", "a/b\0", "a b", "x" * 200]
)
def test_a_name_of_no_file_is_refused(name: str) -> None:
    with pytest.raises(ArchiveRefused, match="no name of a file"):
        base_name(name)
