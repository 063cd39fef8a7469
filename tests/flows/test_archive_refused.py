"""Archives that are broken, altered or not ours: each is refused in a sentence, nothing written."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import zipfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.test import override_settings
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from entries.models import Entry, Posting, PostingLine
from reports.actions import restore_show as restoring
from reports.actions.check_archive import open_archive
from reports.actions.export_show import hand_out_archive, write_archive
from reports.actions.restore_show import restore_show
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.models import AuditEntry, Person, Show
from tests.archive_stage import archived
from tests.food_stage import drawn
from tests.judged_show import AT, build_show, entry_of, office_of
from tests.kept import kept_for_module

pytestmark = pytest.mark.django_db
Members = dict[str, bytes]


@pytest.fixture(scope="module")
def show(
    django_db_setup: None, django_db_blocker: Any, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Show]:
    """A show before judging, with a photo."""
    files = tmp_path_factory.mktemp("files")
    with override_settings(MEDIA_ROOT=files), kept_for_module(django_db_blocker):
        show = build_show(n_entries=2, n_judges=2, kin=False)
        entry_of(show, 1).photo.save("wagon.jpg", ContentFile(b"JPEG of a wagon"))
        yield show


@pytest.fixture(scope="module")
def path(show: Show, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return archived(show, tmp_path_factory.mktemp("archive") / "show.zip")


def members_of(path: Path) -> Members:
    with zipfile.ZipFile(path) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def packed(members: Members, path: Path, *, fit: bool = True) -> Path:
    """Write members; `fit` makes the manifest say what they are, as a careful hand would."""
    told = json.loads(members["manifest.json"])
    if fit:
        names = [name for name in members if name != "manifest.json"]
        told["members"] = {
            name: {"sha256": hashlib.sha256(members[name]).hexdigest(), "bytes": len(members[name])}
            for name in names
        }
        for table in told["tables"]:
            told["tables"][table] = members[f"rows/{table}.jsonl"].count(b"\n")
        members = {**members, "manifest.json": json.dumps(told).encode()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        for name, data in members.items():
            out.writestr(name, data)
    return path


def written() -> tuple[int, ...]:
    """Count what a restoring would have added to."""
    models = (Show, Person, Entry, AuditEntry, PostingLine, Posting)
    return tuple(model._base_manager.count() for model in models)


def demand_refused(path: Path, sentence: str) -> None:
    from django.conf import settings

    def files() -> list[Path]:
        return sorted(one for one in Path(settings.MEDIA_ROOT).rglob("*") if one.is_file())

    before = written(), files()
    with pytest.raises(InvalidInput, match=sentence) as refused, open_archive(path) as archive:
        restore_show(archive=archive, as_slug="copy", at=AT)
    assert refused.value.code == "archive-refused"
    assert (written(), files()) == before


# --- The file as a file ------------------------------------------------------------------------


def test_it_is_taken_as_it_was_written(path: Path) -> None:
    with open_archive(path) as archive:
        assert restore_show(archive=archive, as_slug="copy", at=AT).files == 1


def test_a_file_that_is_not_there_is_said(tmp_path: Path) -> None:
    demand_refused(tmp_path / "none.zip", "There is no file")


@pytest.mark.parametrize("data", [b"", b"Dear committee,", b"PK\x03\x04 and so on"])
def test_what_is_no_archive_is_said(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "letter.zip"
    path.write_bytes(data)
    demand_refused(path, "broken or cut off")


@pytest.mark.parametrize("part", [0.2, 0.5, 0.9, 0.999])
def test_a_file_cut_off_is_refused(path: Path, part: float, tmp_path: Path) -> None:
    data = path.read_bytes()
    cut = tmp_path / "cut.zip"
    cut.write_bytes(data[: int(len(data) * part)])
    demand_refused(cut, "broken or cut off")


def test_a_byte_turned_anywhere_in_a_member_is_noticed(path: Path, tmp_path: Path) -> None:
    data = bytearray(path.read_bytes())
    with zipfile.ZipFile(path) as found:
        starts = [one.header_offset + 30 + len(one.filename) for one in found.infolist()]
        sizes = [one.compress_size for one in found.infolist()]
    turned = tmp_path / "turned.zip"
    for start, size in list(zip(starts, sizes, strict=True))[::9]:
        if size > 2:
            spoiled = bytearray(data)
            spoiled[start + size // 2] ^= 0x40
            turned.write_bytes(spoiled)
            demand_refused(turned, "broken or cut off|manifest|checksum differs")


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(spoils=st.lists(st.tuples(st.floats(0, 1), st.binary(min_size=1, max_size=8)), min_size=1))
def test_bytes_written_over_anywhere_are_refused_or_make_no_difference(
    path: Path, tmp_path: Path, spoils: list[tuple[float, bytes]]
) -> None:
    data = bytearray(path.read_bytes())
    for where, bytes_there in spoils:
        start = int(where * (len(data) - len(bytes_there)))
        data[start : start + len(bytes_there)] = bytes_there
    spoiled = tmp_path / "spoiled.zip"
    spoiled.write_bytes(data)
    with suppress(InvalidInput), open_archive(path) as whole, open_archive(spoiled) as archive:
        assert archive.manifest == whole.manifest


# --- Altered by a hand that leaves the manifest alone ----------------------------------------


def altered(members: Members, name: str, old: bytes, new: bytes) -> Members:
    assert old in members[name]
    return {**members, name: members[name].replace(old, new, 1)}


ENTRY_ROWS = "rows/entries.entry.jsonl"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda m: altered(m, ENTRY_ROWS, b"Patient Mule", b"Patient Mole"), "checksum differs"),
        (lambda m: altered(m, ENTRY_ROWS, b"Patient Mule", b"Mule"), "not as long as"),
        (lambda m: {k: v for k, v in m.items() if k != ENTRY_ROWS}, "is missing"),
        (lambda m: {**m, "files/" + "ab" * 32: b"more"}, "is missing"),
        (lambda m: {**m, "../../up.py": b"import os"}, "does not belong"),
        (lambda m: {**m, "files/" + "cd" * 32: bytes(80 * 1024 * 1024)}, "unpack to far more"),
        (lambda m: {k: v for k, v in m.items() if k != "manifest.json"} | {"manifest.json": b"{"},
         "manifest cannot be read"),
    ],
)  # fmt: skip
def test_an_altered_archive_is_refused(
    path: Path, change: Callable[[Members], Members], sentence: str, tmp_path: Path
) -> None:
    try:
        spoiled = packed(change(members_of(path)), tmp_path / "spoiled.zip", fit=False)
    except json.JSONDecodeError:
        spoiled = tmp_path / "spoiled.zip"
        with zipfile.ZipFile(spoiled, "w") as out:
            out.writestr("manifest.json", "{")
    demand_refused(spoiled, sentence)


def test_a_member_twice_is_refused(path: Path, tmp_path: Path) -> None:
    twice = tmp_path / "twice.zip"
    shutil.copy(path, twice)
    with zipfile.ZipFile(twice, "a") as out, pytest.warns(UserWarning, match="Duplicate"):
        out.writestr(ENTRY_ROWS, b"")
    demand_refused(twice, "twice")


# --- Altered by a hand that mends the manifest -------------------------------------------------


def row_changed(members: Members, table: str, **columns: Any) -> Members:
    """Change the first row of a table."""
    name = f"rows/{table}.jsonl"
    first, rest = members[name].split(b"\n", 1)
    row = {**json.loads(first), **columns}
    row = {key: value for key, value in row.items() if value != "gone"}
    return {**members, name: json.dumps(row).encode() + b"\n" + rest}


def manifest_changed(members: Members, **values: Any) -> Members:
    told = {**json.loads(members["manifest.json"]), **values}
    return {**members, "manifest.json": json.dumps(told).encode()}


def first_twice(members: Members) -> Members:
    first = members[ENTRY_ROWS].split(b"\n", 1)[0] + b"\n"
    return {**members, ENTRY_ROWS: first + members[ENTRY_ROWS]}


def other_state(members: Members) -> Members:
    told = json.loads(members["manifest.json"])["program"]
    told["migrations"]["entries"] = "0009_later"
    return manifest_changed(members, program=told)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda m: manifest_changed(m, format="other"), "no archive of a show"),
        (lambda m: manifest_changed(m, version=2), "version 2 of the format"),
        (other_state, "written at entries 0009_later; this program is at"),
        (
            lambda m: manifest_changed(m, show={"slug": "a", "name": "b"}),
            "not the one its manifest",
        ),
        (lambda m: manifest_changed(m, files={}), "belongs to nothing"),
        (lambda m: row_changed(m, "entries.entry", exhibitor_id=10**9), "links to a row that is"),
        (lambda m: row_changed(m, "entries.entry", exhibitor_id=None), "links to a row that is"),
        (lambda m: row_changed(m, "entries.entry", exhibitor_id=[1]), "something else for a key"),
        (lambda m: row_changed(m, "entries.entry", number="1"), "no number that can be read"),
        (lambda m: row_changed(m, "entries.entry", number=True), "no number that can be read"),
        (lambda m: row_changed(m, "entries.entry", wagon_name=None), "no wagon_name that can"),
        (lambda m: row_changed(m, "entries.entry", wagon_name="x" * 81), "no wagon_name that can"),
        (lambda m: row_changed(m, "entries.entry", entered_at="soon"), "no entered_at that can"),
        (lambda m: row_changed(m, "entries.entry", entered_at="2027-05-01T09:00:00"), "entered_at"),
        (lambda m: row_changed(m, "entries.entry", wagon_name="gone"), "not the columns"),
        (lambda m: row_changed(m, "entries.entry", owner="me"), "not the columns"),
        (lambda m: row_changed(m, "entries.entry", number=None), "do not fit together"),
        (lambda m: row_changed(m, "entries.entry", photo="../../up.py"), "not in the archive"),
        (lambda m: row_changed(m, "entries.entry", number=10**30), "do not fit together"),
        (first_twice, "twice|do not fit together"),
        (lambda m: {**m, ENTRY_ROWS: b"[]\n"}, "cannot be read"),
        (lambda m: {**m, "people.jsonl": b'{"id": 1}\n'}, "people cannot be read"),
        (lambda m: {**m, "rows/shows.show.jsonl": b""}, "not of one show"),
    ],
)
def test_rows_that_cannot_be_are_refused(
    path: Path, change: Callable[[Members], Members], sentence: str, tmp_path: Path
) -> None:
    demand_refused(packed(change(members_of(path)), tmp_path / "made.zip"), sentence)


def test_a_file_cannot_be_led_out_of_its_folder(path: Path, tmp_path: Path) -> None:
    """Where a file comes to lie is never taken from the archive, only the last part of its name."""
    told = json.loads(members_of(path)["manifest.json"])["files"]
    (content,) = told.values()
    name = "../../../outside/wagon.jpg"
    members = row_changed(members_of(path), "entries.entry", photo=name)
    members = manifest_changed(members, files={name: content})
    with open_archive(packed(members, tmp_path / "out.zip")) as archive:
        copy = restore_show(archive=archive, as_slug="copy", at=AT).show
    photo = entry_of(copy, 1).photo
    assert re.fullmatch(rf"entries/{copy.pk}/wagon\w*\.jpg", str(photo.name))
    assert photo.open("rb").read() == b"JPEG of a wagon"


def test_files_written_go_again_where_the_rows_are_not_kept(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(**_: Any) -> None:
        raise ValueError("at the very end")

    monkeypatch.setattr(restoring, "fingerprint_anew", breaks)
    demand_refused(path, "do not fit together; nothing was written")


@pytest.mark.parametrize("slug", ["", "a b", "../x", "x" * 51])
def test_an_address_that_is_none_is_refused(path: Path, slug: str) -> None:
    with pytest.raises(InvalidInput, match="no address"), open_archive(path) as archive:
        restore_show(archive=archive, as_slug=slug, at=AT)


# --- What cannot be taken out ------------------------------------------------------------------


def test_a_link_out_of_the_show_is_refused(show: Show, tmp_path: Path) -> None:
    other = build_show(slug="other-ground", n_entries=1, n_judges=1)
    spot = entry_of(other, 1).spot
    Entry.objects.filter(show=other).update(spot=None)
    Entry.objects.filter(pk=entry_of(show, 2).pk).update(spot=spot)
    with pytest.raises(Conflict, match="not of this show"), (tmp_path / "a.zip").open("w+b") as out:
        write_archive(show=show, to=out, at=AT)


def test_a_file_lost_on_the_disk_is_named_and_the_rest_comes_back(
    show: Show, tmp_path: Path
) -> None:
    photo = entry_of(show, 1).photo
    Entry.objects.filter(pk=entry_of(show, 1).pk).update(photo="entries/1/lost.jpg")
    with open_archive(archived(show, tmp_path / "a.zip")) as archive:
        assert archive.manifest.missing_files == ("entries/1/lost.jpg",)
        done = restore_show(archive=archive, as_slug="copy", at=AT)
    assert (done.files, done.files_missing) == (0, 1)
    assert entry_of(done.show, 1).photo.name == f"entries/{done.show.pk}/lost.jpg" != photo.name


def test_a_closed_key_of_the_food_tables_keeps_the_archive_in(show: Show) -> None:
    drawn(show)
    lines = AuditEntry.objects.filter(show=show).count()
    with pytest.raises(NotYet, match="once the key of every round"):
        hand_out_archive(show=show, by=office_of(show), at=AT)
    assert AuditEntry.objects.filter(show=show).count() == lines
