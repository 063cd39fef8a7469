"""The drill: a backup taken while phones send, brought back on an empty machine.

Real processes on SQLite and on PostgreSQL: a web server, phones over HTTP, the two commands. What a
phone was told is kept before the backup began must be there afterwards, once.
"""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx
import psycopg
import pytest
from psycopg import sql

from showrun.project.management.services_for_tests import Missing, find_or_start_postgres
from tests.live import ROOT
from tests.warm_show import WarmShow

pytestmark = pytest.mark.services

EVENTS = "/api/v1/device/events"
BATCH = 10
# Swaps in the saved database although it has not the rows it should have.
WRONG = """
import sys
import zipfile
from pathlib import Path
import django
django.setup()
from showrun.project.backup.archive import BackupRefused, open_backup
from showrun.project.backup.databases import engine

saved = Path(sys.argv[2])
with open_backup(Path(sys.argv[1])) as backup:
    backup.copy(backup.manifest.database, saved)
    tables = {**backup.manifest.tables, "shows_show": 7}
try:
    engine().put_back(saved, tables, "before")
except BackupRefused as fault:
    print(fault)
"""
# A show whose result is released, with a photo and a line of record for each step, and one that is
# being judged.
STAGE = """
import json
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from entries.models import Entry
from judging.models import Judge
from tests.judged_show import build_show, entry_of, open_window, pair, rows_of
from tests.released_show import judged_with_purse, released

released(judged_with_purse())
show = build_show(slug="four-pots", kin=False)
open_window(show)
name = default_storage.save("photos/wagon-1.jpg", ContentFile(b"a red wagon"))
Entry.objects.filter(pk=entry_of(show).pk).update(photo=name)
phones = []
for judge in Judge.objects.filter(show=show).select_related("show", "person"):
    _, token = pair(judge)
    entries = Entry.objects.filter(pk__in=judge.seats.values("entry"))
    rows = [(entry.pk, row.code) for entry in entries for row in rows_of(judge, entry)]
    phones.append({"token": token, "rows": rows})
print(json.dumps(phones))
"""


def read(service: WarmShow, query: str) -> list[tuple[Any, ...]]:
    """Ask the database itself, past the service."""
    if service.database:
        with psycopg.connect(service.database) as connection:
            return connection.execute(query).fetchall()  # type: ignore[arg-type]
    with closing(sqlite3.connect(service.sqlite_file, timeout=20)) as database:
        return database.execute(query).fetchall()


def events_in(service: WarmShow) -> list[str]:
    """Every touch the database has, by its id without dashes."""
    found = read(service, "SELECT id FROM judging_roundevent")
    return [str(one).replace("-", "") for (one,) in found]


@dataclass
class Phone:
    """Sends batch after batch until told to stop, and notes when each touch was answered for."""

    url: str
    token: str
    rows: list[tuple[int, str]]
    seq: int = 0
    answered: dict[str, float] = field(default_factory=dict)
    sent: list[dict[str, Any]] = field(default_factory=list)
    fault: str = ""

    def batch(self) -> list[dict[str, Any]]:
        made = []
        for _ in range(BATCH):
            self.seq += 1
            entry, row = self.rows[self.seq % len(self.rows)]
            made.append({
                "id": str(uuid4()), "seq": self.seq, "at": "2027-05-15T09:00:00-06:00",
                "kind": "mark", "entry": entry, "criterion": row, "state": "marked",
                "value": str(self.seq % 5),
            })  # fmt: skip
        return made

    def send(self, client: httpx.Client, events: list[dict[str, Any]]) -> list[str]:
        body = {"unsent": 0, "events": events}
        headers = {"authorization": f"Bearer {self.token}"}
        answer = client.post(f"{self.url}{EVENTS}", json=body, headers=headers)
        assert answer.status_code == 200, answer.text
        return [one["status"] for one in answer.json()["results"]]

    def go_on(self, stop: threading.Event) -> None:
        try:
            with httpx.Client(timeout=60) as client:
                while not stop.is_set():
                    events = self.batch()
                    self.send(client, events)
                    kept_at = time.monotonic()
                    self.sent = events
                    self.answered |= {one["id"].replace("-", ""): kept_at for one in events}
        except Exception as fault:
            self.fault = repr(fault)


@pytest.fixture(params=["sqlite", "postgresql"])
def pair_of_machines(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[tuple[WarmShow, WarmShow]]:
    """The machine the show runs on, and an empty one."""
    with ExitStack() as until:
        addresses = ["", ""]
        if request.param == "postgresql":
            found = find_or_start_postgres(os.environ, until)
            if isinstance(found, Missing):
                pytest.skip(f"no PostgreSQL: {found.reason}")
            server = found.rsplit("/", 1)[0]
            addresses = [
                own_database(server, f"drill_{which}_{os.getpid()}", until)
                for which in ("here", "there")
            ]
        here, there = (
            WarmShow(tmp_path / name, address)
            for name, address in zip(("here", "there"), addresses, strict=True)
        )
        here.migrate()
        there.data.mkdir()
        for one in (here, there):
            until.callback(one.close)
        yield here, there


def own_database(server: str, name: str, until: ExitStack) -> str:
    """Make an empty database for as long as the test runs."""

    def run(words: str) -> None:
        with closing(psycopg.connect(f"{server}/postgres", autocommit=True)) as connection:
            connection.execute(sql.SQL(words).format(sql.Identifier(name)))  # type: ignore[arg-type]

    run("DROP DATABASE IF EXISTS {} WITH (FORCE)")
    run("CREATE DATABASE {}")
    until.callback(run, "DROP DATABASE {} WITH (FORCE)")
    return f"{server}/{name}"


def run(service: WarmShow, *words: str) -> subprocess.CompletedProcess[str]:
    """Run Python on a machine's data."""
    return subprocess.run(
        [sys.executable, *words],
        env={**service.env, "LOG_LEVEL": "WARNING"},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def staged(service: WarmShow) -> list[dict[str, Any]]:
    """Build both shows on a machine; return the phones of the one being judged."""
    told = service.manage("shell", "--no-imports", "-c", STAGE)
    return list(json.loads(told.splitlines()[-1]))


def a_reader(service: WarmShow) -> ExitStack:
    """Read on and on, so that what SQLite keeps meanwhile stays in its log beside the file."""
    until = ExitStack()
    if not service.database:
        reader = until.enter_context(closing(sqlite3.connect(service.sqlite_file)))
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM judging_roundevent").fetchone()
    return until


def until_so(so: Any, limit_s: float = 60) -> None:
    give_up_at = time.monotonic() + limit_s
    while not so():
        assert time.monotonic() < give_up_at
        time.sleep(0.02)


def test_a_backup_of_a_running_service_brings_back_all_that_was_kept(
    pair_of_machines: tuple[WarmShow, WarmShow], tmp_path: Path
) -> None:
    here, there = pair_of_machines
    phones = [Phone(here.url, one["token"], one["rows"]) for one in staged(here)]
    here.start_web()
    reader = a_reader(here)
    stop = threading.Event()
    senders = [threading.Thread(target=phone.go_on, args=[stop]) for phone in phones]
    for sender in senders:
        sender.start()
    try:
        until_so(lambda: all(len(phone.answered) >= BATCH or phone.fault for phone in phones))
        began_at = time.monotonic()
        record = read(here, "SELECT id, verb, subject FROM shows_auditentry ORDER BY id")
        file = tmp_path / "kept.zip"
        told = here.manage("backup", "--out", str(file))
        ended_at = time.monotonic()
    finally:
        stop.set()
        for sender in senders:
            sender.join()
        reader.close()
    assert [phone.fault for phone in phones] == [""] * len(phones)
    assert "1 files, read again from end to end" in told
    answered = {key: when for phone in phones for key, when in phone.answered.items()}
    before = {key for key, when in answered.items() if when < began_at}
    meanwhile = {key for key, when in answered.items() if began_at <= when < ended_at}
    assert before
    assert meanwhile, "phones sent while the backup ran"

    assert "Nothing was written." in there.manage("restore_backup", str(file), "--check-only")
    assert there.database or not there.sqlite_file.exists()
    told = there.manage("restore_backup", str(file))
    assert "1 files written" in told
    assert "The results of 1 classes were computed again from the touches" in told
    restored = events_in(there)
    assert len(restored) == len(set(restored))
    assert before <= set(restored)
    assert set(restored) <= set(events_in(here))
    lines = read(there, "SELECT id, verb, subject FROM shows_auditentry ORDER BY id")
    assert record
    assert record == lines[: len(record)]
    assert [verb for _, verb, _ in lines[-2:]] == ["restored", "restored"], "one for each show"
    photo = there.data / "files/photos/wagon-1.jpg"
    assert photo.read_bytes() == b"a red wagon"
    assert "are those that the events give" in there.manage("verify_results", "three-kettles")

    # A swap that fails at its last step leaves all as it was.
    done = run(there, "-c", WRONG, str(file), str(tmp_path / "saved"))
    assert "shows_show" in done.stdout, done.stderr[-2000:]
    assert "2 rows" in done.stdout
    assert sorted(events_in(there)) == sorted(restored)

    # The phones go on with the restored service as if nothing had been.
    there.start_web()
    with httpx.Client(timeout=60) as client:
        phone = phones[0]
        phone.url = there.url
        phone.send(client, phone.sent)
        phone.send(client, phone.batch())
        assert set(phone.send(client, phone.sent)) == {"duplicate"}
    after = events_in(there)
    assert len(after) == len(set(after))
    assert {one["id"].replace("-", "") for one in phone.sent} <= set(after)

    # Nobody restores under a service that holds its database open. (One on SQLite lets go of the
    # file between requests; what is seen there `tests/flows/test_backups.py` shows.)
    if there.database:
        done = run(there, "manage.py", "restore_backup", str(file), "--replace")
        assert done.returncode == 1
        assert "Stop the web server" in done.stderr
        assert sorted(events_in(there)) == sorted(after)
