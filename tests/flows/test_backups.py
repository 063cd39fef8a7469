"""Backups that are broken, altered or not ours, and machines that must not be written over."""

from __future__ import annotations

import io
import json
import random
import shutil
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connections
from django.test import override_settings

from showrun.project.backup import take
from showrun.project.backup.archive import (
    FILES,
    SEAL_LENGTH,
    BackupRefused,
    BackupWriter,
    Manifest,
    Member,
    open_backup,
)
from showrun.project.claims import data_in_use
from tests.live import LiveShow
from tests.migrated import put_migrated

pytestmark = pytest.mark.django_db(transaction=True)


@contextmanager
def at(service: LiveShow) -> Iterator[None]:
    """Work on that machine's database file and folders."""
    tests_own, told = connections["default"], connections.settings["default"]
    connections.settings["default"] = {
        **told,
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": str(service.sqlite_file),
        "OPTIONS": {"transaction_mode": "IMMEDIATE"},
    }
    connections["default"] = connections.create_connection("default")
    try:
        with override_settings(DATA=service.data, MEDIA_ROOT=service.data / "files"):
            yield
    finally:
        connections["default"].close()
        connections.settings["default"] = told
        connections["default"] = tests_own


def manage(service: LiveShow, *words: str) -> tuple[int, str]:
    """Run a command on a machine; return how it ended and all it said."""
    out = StringIO()
    with at(service):
        try:
            call_command(*words, stdout=out)
        except CommandError as fault:
            return fault.returncode, f"{out.getvalue()}{fault}"
    return 0, out.getvalue()


def add_person(service: LiveShow, email: str) -> None:
    """Add a person past the service, with nothing in every other column."""
    with closing(sqlite3.connect(service.sqlite_file)) as database, database:
        columns = [row[1] for row in database.execute("PRAGMA table_info(shows_person)")]
        given = {name: "" for name in columns if name != "id"} | {"email": email}
        names, marks = ", ".join(given), ", ".join("?" * len(given))
        database.execute(
            f"INSERT INTO shows_person ({names}) VALUES ({marks})", list(given.values())
        )


def people(service: LiveShow) -> list[str]:
    with closing(sqlite3.connect(service.sqlite_file)) as database:
        return [one for (one,) in database.execute("SELECT email FROM shows_person ORDER BY id")]


@pytest.fixture(scope="module")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with no rows of ours."""
    file = tmp_path_factory.mktemp("migrated") / "show.sqlite3"
    put_migrated(file)
    return file


def machine(folder: Path, migrated: Path, *emails: str) -> LiveShow:
    made = LiveShow(folder)
    folder.mkdir()
    shutil.copyfile(migrated, made.sqlite_file)
    for email in emails:
        add_person(made, email)
    return made


@pytest.fixture(scope="module")
def backup(
    tmp_path_factory: pytest.TempPathFactory, migrated: Path, django_db_blocker: Any
) -> Path:
    """A backup of a machine with one person and one paper."""
    folder = tmp_path_factory.mktemp("kept")
    kept = machine(folder / "data", migrated, "ada@showrun.example")
    paper = kept.data / "files/papers/3/award-1.pdf"
    paper.parent.mkdir(parents=True)
    paper.write_bytes(b"%PDF the award")
    (kept.data / "files/.DS_Store").write_bytes(b"the system's own")
    with django_db_blocker.unblock():
        code, told = manage(kept, "backup", "--out", str(folder))
    assert code == 0, told
    assert "left out, such as .DS_Store" in told
    (file,) = folder.glob("showrun-*.backup.zip")
    assert [one.name for one in folder.iterdir() if one.name.startswith(".")] == []
    assert file.stat().st_mode & 0o077 == 0
    return file


def refused(file: Path, words: str) -> None:
    with pytest.raises(BackupRefused, match=words), open_backup(file):
        pass


def test_a_backup_tells_what_is_in_it(backup: Path) -> None:
    with open_backup(backup) as opened:
        manifest = opened.manifest
        assert manifest.files == ["papers/3/award-1.pdf"]
        assert manifest.tables["shows_person"] == 1
        assert manifest.rows == sum(manifest.tables.values())
        assert "shows.0001_initial" in manifest.migrations
        with opened.open(FILES + "papers/3/award-1.pdf") as paper:
            assert paper.read() == b"%PDF the award"


def test_not_one_byte_can_change_unseen(backup: Path, tmp_path: Path) -> None:
    whole, file = backup.read_bytes(), tmp_path / "altered.zip"
    chosen = random.Random(20270515).sample(range(len(whole)), 150)
    for place in [*chosen, *range(len(whole) - SEAL_LENGTH - 30, len(whole))]:
        altered = bytearray(whole)
        altered[place] ^= 0x20
        file.write_bytes(altered)
        with pytest.raises(BackupRefused), open_backup(file):
            pass


def test_a_backup_cut_off_or_added_to_is_refused(backup: Path, tmp_path: Path) -> None:
    whole, file = backup.read_bytes(), tmp_path / "cut.zip"
    for length in (0, 1, SEAL_LENGTH, len(whole) // 2, len(whole) - SEAL_LENGTH, len(whole) - 1):
        file.write_bytes(whole[:length])
        refused(file, "cut off|damaged")
    file.write_bytes(whole + b"\0")
    refused(file, "cut off")
    refused(tmp_path / "nowhere.zip", "There is no file")


Change = Callable[[dict[str, bytes], Manifest], None]


def forged(file: Path, change: Change, source: Path) -> Path:
    """Write a backup anew with a right seal, changed by somebody who knows how it is made."""
    with open_backup(source) as opened:
        content = {name: opened.packed.read(name) for name in opened.manifest.members}
        manifest = opened.manifest
    with file.open("w+b") as to:
        writer = BackupWriter(to)
        told = Manifest(**{**vars(manifest), "members": writer.members})
        change(content, told)
        for name, data in content.items():
            writer.add(name, io.BytesIO(data), deflate=True)
        writer.seal(told)
    return file


@pytest.mark.parametrize(
    "name",
    ["files/../../etc/passwd", "/etc/passwd", "files//etc/passwd", "files/..\\x",
     "files/.hidden", "../database.sqlite3", "files/" + "a" * 300],
)  # fmt: skip
def test_a_name_that_leads_out_is_refused(backup: Path, tmp_path: Path, name: str) -> None:
    def out(content: dict[str, bytes], _: Manifest) -> None:
        content[name] = b"mine"

    refused(forged(tmp_path / "out.zip", out, backup), "does not belong into a backup")


def test_a_bomb_is_refused_before_it_is_unpacked(backup: Path, tmp_path: Path) -> None:
    def bomb(content: dict[str, bytes], _: Manifest) -> None:
        content[FILES + "bomb"] = bytes(64 * 1024 * 1024)

    refused(forged(tmp_path / "bomb.zip", bomb, backup), "far more than a database can be")


def test_a_backup_whose_list_and_manifest_differ_is_refused(backup: Path, tmp_path: Path) -> None:
    def more_told(content: dict[str, bytes], manifest: Manifest) -> None:
        manifest.members[FILES + "gone"] = Member("0" * 64, 1)  # type: ignore[index]

    refused(forged(tmp_path / "a.zip", more_told, backup), "missing in the backup or in its")

    def no_database(content: dict[str, bytes], _: Manifest) -> None:
        del content["database.sqlite3"]

    refused(forged(tmp_path / "b.zip", no_database, backup), "the one database")

    def two(content: dict[str, bytes], _: Manifest) -> None:
        content["database.dump"] = b"PGDMP"

    refused(forged(tmp_path / "c.zip", two, backup), "the one database")


def test_a_show_archive_or_any_zip_is_no_backup(tmp_path: Path) -> None:
    file = tmp_path / "other.zip"
    with zipfile.ZipFile(file, "w") as packed:
        packed.writestr("manifest.json", json.dumps({"format": "showrun-show-archive"}))
    refused(file, "it has no seal")


# -- what the commands do with it ------------------------------------------------------------


def test_a_backup_with_too_few_rows_or_a_broken_page_is_refused(
    backup: Path, tmp_path: Path
) -> None:
    empty = LiveShow(tmp_path / "data")
    empty.data.mkdir()

    def fewer(content: dict[str, bytes], manifest: Manifest) -> None:
        manifest.tables["shows_person"] = 2  # type: ignore[index]

    def broken(content: dict[str, bytes], _: Manifest) -> None:
        data = content["database.sqlite3"]
        content["database.sqlite3"] = data[:8192] + bytes(4096) + data[12288:]

    def newer(content: dict[str, bytes], manifest: Manifest) -> None:
        vars(manifest)["migrations"] = (*manifest.migrations, "shows.9999_from_the_future")

    for change, words in (
        (fewer, "shows_person has 1 rows, 2 were written"),
        (broken, "The database is damaged"),
        (newer, "newer version of this program"),
    ):
        file = forged(tmp_path / f"{change.__name__}.zip", change, backup)
        for more in ([], ["--check-only"]):
            code, told = manage(empty, "restore_backup", str(file), *more)
            assert code == 1
            assert words in told
        assert not empty.sqlite_file.exists() or people_or_none(empty) == []
    assert list(empty.data.glob("restore-*")) == []


def people_or_none(service: LiveShow) -> list[str]:
    try:
        return people(service)
    except sqlite3.OperationalError:
        return []


def test_what_is_there_is_replaced_only_when_told_and_kept_beside(
    backup: Path, migrated: Path, tmp_path: Path
) -> None:
    there = machine(tmp_path / "data", migrated, "ben@showrun.example")
    code, told = manage(there, "restore_backup", str(backup))
    assert code == 1
    assert "not empty. Add --replace" in told
    assert people(there) == ["ben@showrun.example"]
    code, told = manage(there, "restore_backup", str(backup), "--replace")
    assert code == 0, told
    assert people(there) == ["ada@showrun.example"]
    (kept,) = there.data.glob("show.sqlite3.before-restore-*")
    shutil.copy(kept, tmp_path / "show.sqlite3")
    assert people(LiveShow(tmp_path)) == ["ben@showrun.example"]


def test_a_file_with_another_content_is_not_written_over_unasked(
    backup: Path, migrated: Path, tmp_path: Path
) -> None:
    there = machine(tmp_path / "data", migrated)
    paper = there.data / "files/papers/3/award-1.pdf"
    paper.parent.mkdir(parents=True)
    paper.write_bytes(b"another")
    code, told = manage(there, "restore_backup", str(backup))
    assert code == 1
    assert "another content than in the backup, such as papers/3/award-1.pdf" in told
    assert people(there) == []
    assert paper.read_bytes() == b"another"
    code, told = manage(there, "restore_backup", str(backup), "--replace")
    assert code == 0, told
    assert paper.read_bytes() == b"%PDF the award"


def test_a_database_somebody_has_open_is_left_alone(
    backup: Path, migrated: Path, tmp_path: Path
) -> None:
    there = machine(tmp_path / "data", migrated, "ben@showrun.example")
    with closing(sqlite3.connect(there.sqlite_file)) as other:
        other.execute("PRAGMA journal_mode = WAL")
        other.execute("SELECT count(*) FROM shows_person").fetchone()
        code, told = manage(there, "restore_backup", str(backup), "--replace")
    assert code == 1
    assert "Stop the web server and the workers first" in told
    assert people(there) == ["ben@showrun.example"]
    assert not (there.data / "files").exists()


def test_a_running_service_is_left_alone(backup: Path, migrated: Path, tmp_path: Path) -> None:
    import fcntl

    there = machine(tmp_path / "data", migrated)
    with (there.data / "running.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        assert data_in_use(there.data)
        code, told = manage(there, "restore_backup", str(backup))
    assert code == 1
    assert "Stop it first" in told


@pytest.fixture
def here(transactional_db: None, tmp_path: Path, settings) -> Path:
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path


def test_nothing_is_written_over_and_nothing_half_is_left(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine = here / "mine.zip"
    mine.write_bytes(b"mine")
    with pytest.raises(CommandError, match="nothing is written over"):
        call_command("backup", out=mine)
    assert mine.read_bytes() == b"mine"
    with pytest.raises(CommandError, match="No backup was written"):
        call_command("backup", out=here / "nowhere/a.zip")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(take, "stored_names", full)
    with pytest.raises(CommandError, match="is full; no backup was written"):
        call_command("backup", out=here / "b.zip")
    assert {one.name for one in here.iterdir()} == {"mine.zip"}
