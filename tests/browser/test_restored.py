"""The server comes back from an older backup: what it had taken since is sent to it again."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Request, expect

from tests.browser.round_page import SCRIPT, RoundPage
from tests.live import LiveShow

pytestmark = pytest.mark.browser


class Backup:
    """The database as it was at one moment."""

    def __init__(self, live: LiveShow, folder: Path) -> None:
        self.live, self.file = live, folder / "backup.sqlite3"
        with (
            closing(sqlite3.connect(live.sqlite_file)) as now,
            closing(sqlite3.connect(self.file)) as kept,
        ):
            now.backup(kept)

    def restore(self) -> None:
        """Put it in place of all that came since, as after a broken disk."""
        self.live.kill_web()
        for beside in ("-wal", "-shm"):
            Path(f"{self.live.sqlite_file}{beside}").unlink(missing_ok=True)
        shutil.copyfile(self.file, self.live.sqlite_file)
        self.live.start_web()


@contextmanager
def served(live: LiveShow) -> Iterator[None]:
    """Leave the service running, whatever happens."""
    try:
        yield
    finally:
        if not live.is_up:
            live.start_web()


class Sent:
    """What a phone sends from now on, by the token it goes with."""

    def __init__(self, phone: RoundPage) -> None:
        self.by_token: dict[str, list[str]] = {}
        phone.page.on("request", self._hear)

    def _hear(self, request: Request) -> None:
        if request.method != "POST" or not request.url.endswith("/device/events"):
            return
        token = request.headers["authorization"].removeprefix("Bearer ")
        ids = [event["id"] for event in json.loads(request.post_data or "{}")["events"]]
        self.by_token.setdefault(token, []).extend(ids)

    @property
    def count(self) -> int:
        """How many touches went out."""
        return sum(map(len, self.by_token.values()))


def empty_entry(phone: RoundPage) -> int:
    """Return the first wagon whose card is empty."""
    visits = phone.server_round()["visits"]
    return int(next(v["entry"]["id"] for v in visits if not v["card"]["marks"]))


def use(phone: RoundPage, device: dict[str, Any]) -> None:
    """Make this pairing of the phone the one in use, and open the page anew."""
    phone.page.evaluate(
        f"async (id) => (await import('{SCRIPT}')).outbox.keepFact('active', id)", device["id"]
    )
    phone.reload()


def mark_rows(phone: RoundPage, marks: dict[str, str]) -> None:
    """Mark these rows of the open card and wait until the server has taken all."""
    for row, value in marks.items():
        phone.mark(row, value)
    phone.expect_waiting(0)
    phone.expect_all_taken()


def expect_at_the_server(phone: RoundPage, entry: int, marks: dict[str, str]) -> None:
    """Wait until these marks stand on the card at the server, and on the screen."""
    for _ in range(100):
        there = {row: mark["value"] for row, mark in phone.server_marks(entry).items()}
        if there == marks:
            break
        phone.page.wait_for_timeout(100)
    assert there == marks, (phone.kept_events(), phone.faults)
    for row, value in marks.items():
        phone.expect_mark(row, value)


def test_the_phone_sends_again_what_an_older_backup_lacks(phone, live_show, tmp_path):
    with served(live_show):
        phone.pair(live_show.pairing_link("abara"))
        entry = empty_entry(phone)
        phone.open_card(entry)
        first, second, third = phone.rows()[:3]
        mark_rows(phone, {first: "7"})
        # The round it keeps is the one of the backup: later it hears "not modified".
        with phone.page.expect_response("**/api/v1/device/round"):
            phone.sync()
        backup = Backup(live_show, tmp_path)
        mark_rows(phone, {second: "4", third: "9"})
        backup.restore()
        assert set(phone.server_marks(entry)) == {first}
        # The next word with the server tells the phone; nobody has to see it and tap.
        sent = Sent(phone)
        phone.sync()
        expect_at_the_server(phone, entry, {first: "7", second: "4", third: "9"})
        phone.expect_waiting(0)
        # Once: the server has all now, and the next word with it sends nothing.
        once = sent.count
        assert once == len(phone.kept_events())
        with phone.page.expect_response("**/api/v1/device/round"):
            phone.sync()
        phone.page.wait_for_timeout(500)
        assert sent.count == once
        assert phone.server_round()["device"]["taken"] == once


def test_a_touch_made_before_the_loss_is_known_does_not_hide_it(phone, live_show, tmp_path):
    with served(live_show):
        phone.pair(live_show.pairing_link("penhallow"))
        entry = empty_entry(phone)
        phone.open_card(entry)
        first, second, third = phone.rows()[:3]
        backup = Backup(live_show, tmp_path)
        mark_rows(phone, {first: "5"})
        backup.restore()
        # As many touches as were lost: the numbers alone look the same again.
        phone.mark(second, "4")
        phone.mark(third, "9")
        phone.sync()
        expect_at_the_server(phone, entry, {first: "5", second: "4", third: "9"})


def test_a_phone_paired_after_the_backup_sends_all_again_once_it_is_paired_anew(
    phone, live_show, tmp_path
):
    with served(live_show):
        assert live_show.office  # signed in before the backup
        backup = Backup(live_show, tmp_path)
        phone.pair(live_show.pairing_link("lindqvist"))
        entry = empty_entry(phone)
        phone.open_card(entry)
        first, second = phone.rows()[:2]
        mark_rows(phone, {first: "7", second: "8"})
        backup.restore()
        phone.sync()
        expect(phone.page.locator("#again")).to_be_visible(timeout=20_000)
        phone.type_code(live_show.pairing_link("lindqvist").partition("pair=")[2])
        expect(phone.page.locator("#list-title")).to_be_visible()
        phone.open_card(entry)
        expect_at_the_server(phone, entry, {first: "7", second: "8"})


def test_another_judge_who_is_given_the_lost_phones_number_sends_none_of_its_touches(
    phone, live_show, tmp_path
):
    with served(live_show):
        assert live_show.office
        backup = Backup(live_show, tmp_path)
        phone.pair(live_show.pairing_link("abara"))
        hers = phone.device()
        entry = empty_entry(phone)
        phone.open_card(entry)
        first, second = phone.rows()[:2]
        mark_rows(phone, {first: "7", second: "8"})
        touches = {one["id"] for one in phone.kept_events()}
        backup.restore()
        phone.sync()
        expect(phone.page.locator("#again")).to_contain_text("2 touches wait here")
        sent = Sent(phone)
        phone.type_code(live_show.pairing_link("penhallow").partition("pair=")[2])
        expect(phone.page.locator("#other-judge")).to_contain_text(
            "They stay kept here until this phone is paired with Chidi Abara again."
        )
        phone.take_judge()
        assert phone.server_round()["device"]["id"] == hers["id"]
        other = phone.device()
        assert other["id"] != hers["id"]
        phone.open_card(empty_entry(phone))
        mark_rows(phone, {phone.rows()[0]: "5"})
        assert touches.isdisjoint(sent.by_token[other["token"]])
        assert {one["id"] for one in phone.kept_events()}.isdisjoint(touches)
        phone.to_list()
        phone.to_phone()
        expect(phone.page.locator("#elsewhere")).to_contain_text("2 touches of")
        # Back with its own judge, all of it arrives, and as hers.
        phone.page.get_by_role("button", name="Pair with another code").click()
        phone.type_code(live_show.pairing_link("abara").partition("pair=")[2])
        phone.take_judge()
        phone.open_card(entry)
        expect_at_the_server(phone, entry, {first: "7", second: "8"})
        assert set(sent.by_token[phone.device()["token"]]) >= touches
        assert touches.isdisjoint(sent.by_token[other["token"]])


def test_an_earlier_pairing_of_the_phone_sends_again_too(phone, live_show, tmp_path):
    with served(live_show):
        phone.pair(live_show.pairing_link("penhallow"))
        earlier = phone.device()
        phone.open("#" + live_show.pairing_link("lindqvist").partition("#")[2])
        phone.take_judge()
        later = phone.device()
        use(phone, earlier)
        backup = Backup(live_show, tmp_path)
        touches = []
        for one in (earlier, later):
            use(phone, one)
            phone.open_card(empty_entry(phone))
            mark_rows(phone, {phone.rows()[0]: "3"})
            touches.append([event["id"] for event in phone.kept_events()])
            phone.to_list()
        backup.restore()
        sent = Sent(phone)
        phone.sync()
        for one, ids in zip((earlier, later), touches, strict=True):
            for _ in range(100):
                if sent.by_token.get(one["token"]) == ids:
                    break
                phone.page.wait_for_timeout(100)
            assert sent.by_token[one["token"]] == ids


def test_sending_all_again_adds_nothing_and_changes_nothing(phone, new_context, live_show):
    phone.pair(live_show.pairing_link("abara"))
    other = RoundPage(new_context().new_page(), live_show.url)
    other.pair(live_show.pairing_link("abara"))
    entry = empty_entry(phone)
    for one in (phone, other):
        one.open_card(entry)
    first, second = phone.rows()[:2]
    phone.mark(first, "7")
    phone.expect_waiting(0)
    other.mark(second, "4")
    other.expect_waiting(0)
    # The answer to this one tells of a card with a mark that this phone did not make.
    phone.mark(first, "8")
    phone.expect_waiting(0)
    phone.to_phone()
    line = phone.page.locator(f".compared [data-entry='{entry}']")
    expect(line).to_contain_text("differs from the office's")
    sent = Sent(phone)
    phone.page.get_by_role("button", name="Send all again").click()
    expect(line).to_contain_text("all sent and the same")
    kept = phone.kept_events()
    assert sent.by_token == {phone.device()["token"]: [one["id"] for one in kept]}
    assert {one["status"] for one in kept} == {"duplicate"}
    assert phone.server_round()["device"]["taken"] == len(kept)
    marks = {row: mark["value"] for row, mark in phone.server_marks(entry).items()}
    assert marks == {first: "8", second: "4"}
    assert other.faults == []
