"""Photos on a judge's phone: a memory aid, made small, sent last, and never in a mark's way."""

from __future__ import annotations

import base64
from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import Page, Request, Route, expect

from tests.browser.round_page import MAKER, RoundPage, camera_picture

pytestmark = pytest.mark.browser

EVENTS = "**/api/v1/device/events"
PHOTOS = "**/api/v1/device/photos"
AIM_BYTES = 400_000


def open_wagon(phone: RoundPage, show: Any, judge: str) -> tuple[int, str]:
    """Pair, open a card that is not handed in, unfold a row; return the entry and the row."""
    phone.pair(show.pairing_link(judge))
    visits = phone.server_round()["visits"]
    entry = next(
        one["entry"]["id"] for one in visits if not one["practice"] and not one["card"]["marks"]
    )
    phone.open_card(entry)
    row = phone.empty_rows()[0]
    phone.unfold(row)
    return entry, row


def kept_photos(page: Page) -> list[dict[str, Any]]:
    """What the phone's own store has of photos, by hand."""
    found = page.evaluate(
        """() => new Promise((keep, fail) => {
            const asked = indexedDB.open('showrun-round');
            asked.onerror = () => fail(asked.error);
            asked.onsuccess = () => {
                const all = asked.result.transaction('photos').objectStore('photos').getAll();
                all.onsuccess = () => {
                    asked.result.close();
                    keep(all.result.map(one => ({
                        ...one,
                        jpeg: one.jpeg
                            && btoa(Array.from(new Uint8Array(one.jpeg),
                                byte => String.fromCharCode(byte)).join('')),
                    })));
                };
            };
        })"""
    )
    return list(found)


def test_a_photo_is_made_small_bare_and_sent_after_the_marks(phone, live_show, shoot):
    entry, row = open_wagon(phone, live_show, "abara")
    expect(phone.page.locator("header.wagon")).to_contain_text(
        "A photo helps your memory. It is never part of a score. Keep people out of it."
    )
    phone.page.route("**/api/v1/device/**", lambda route: route.abort())
    phone.photograph(row, camera_picture())
    expect(phone.photos(row)).to_have_count(1)
    phone.photograph("", camera_picture())
    expect(phone.photos()).to_have_count(1)
    phone.mark(row, "7")
    # Of the marks and the photos that wait, each by itself.
    expect(phone.page.locator("#sync")).to_contain_text("● 1 not sent yet · 2 photos wait")
    shoot(phone, "photos-wait")
    for one in kept_photos(phone.page):
        made = base64.b64decode(one["jpeg"])
        small = Image.open(BytesIO(made))
        assert (small.format, small.size, dict(small.getexif())) == ("JPEG", (1600, 1067), {})
        assert len(made) < AIM_BYTES
        assert MAKER.encode() not in made
    assert MAKER.encode() in camera_picture()["buffer"]

    answered: list[str] = []

    def note(request: Request) -> None:
        answered.append(request.url.rpartition("/")[2])

    # Not when it is asked: it may be on its way already.
    phone.page.on("requestfinished", note)
    phone.page.unroute("**/api/v1/device/**")
    phone.sync()
    expect(phone.page.locator("#sync")).to_contain_text("✓ All sent", timeout=20_000)
    assert answered.index("events") < answered.index("photos")
    assert answered.count("photos") == 2
    there = phone.server_visit(entry)["photos"]
    assert sorted(one["criterion"] for one in there) == sorted(["", row])
    assert all(one["jpeg"] is None for one in kept_photos(phone.page))

    # What the office has can be looked at, and is no longer this phone's to remove.
    phone.reload()
    phone.unfold(row)
    phone.photos(row).click()
    sheet = phone.page.locator("dialog.sheet")
    expect(sheet).to_contain_text("The office has it.")
    expect(sheet.get_by_role("button", name="Remove photo")).to_have_count(0)
    expect(sheet.locator(".picture")).to_have_js_property("naturalWidth", 1600)


def test_photos_never_keep_a_mark_from_being_sent(phone, live_show):
    entry, row = open_wagon(phone, live_show, "lindqvist")
    stuck: list[Route] = []

    def leave(route: Route) -> None:
        stuck.append(route)

    phone.page.route(PHOTOS, leave)
    phone.photograph(row)
    expect(phone.page.locator("#sync")).to_contain_text("✓ Marks sent · 1 photo waits")
    for _ in range(100):
        if stuck:
            break
        phone.page.wait_for_timeout(100)
    # While the photo is on its way and gets no answer.
    phone.mark(row, "6")
    phone.expect_waiting(0)
    assert phone.server_marks(entry)[row]["value"] == "6"
    stuck[0].abort()


REFUSALS = [
    (409, "photos-full", "This card has its 6 photos. The show office can remove one."),
    (422, "photo-unreadable", "This is no picture that can be read."),
]


def test_a_400_of_a_proxy_leaves_a_photo_to_be_sent_later(phone, live_show):
    _, row = open_wagon(phone, live_show, "penhallow")
    phone.page.route(PHOTOS, lambda route: route.fulfill(status=400, body="Bad Request"))
    with phone.page.expect_response(PHOTOS):
        phone.photograph(row)
    phone.page.wait_for_timeout(300)
    assert {one["status"] for one in kept_photos(phone.page)} == {"unsent"}
    expect(phone.page.locator("#sync")).to_contain_text("1 photo waits")


@pytest.mark.parametrize(("status", "code", "words"), REFUSALS)
def test_a_refused_photo_says_why_and_can_be_removed(phone, live_show, status, code, words):
    def refuse(route: Route) -> None:
        body = {"code": code, "detail": words, "status": status}
        route.fulfill(status=status, json=body, content_type="application/problem+json")

    _, row = open_wagon(phone, live_show, "penhallow")
    phone.page.route(PHOTOS, refuse)
    phone.photograph(row)
    expect(phone.page.locator(".thumb.refused")).to_be_visible(timeout=15_000)
    expect(phone.page.locator("#sync")).to_contain_text("✓ All sent")
    phone.photos(row).click()
    sheet = phone.page.locator("dialog.sheet")
    expect(sheet).to_contain_text(words)
    sheet.get_by_role("button", name="Remove photo").click()
    expect(phone.photos(row)).to_have_count(0)
    assert kept_photos(phone.page) == []


def test_a_photo_is_removed_before_it_was_sent_and_a_card_takes_six(phone, live_show):
    entry, row = open_wagon(phone, live_show, "villasenor")
    phone.page.route(PHOTOS, lambda route: route.abort())
    for count in range(1, 7):
        phone.photograph(row)
        expect(phone.photos(row)).to_have_count(count)
    phone.row(row).locator("[data-camera]").click()
    expect(phone.row(row).locator(".fault")).to_contain_text("This card has its 6 photos.")
    phone.photos(row).first.click()
    phone.page.get_by_role("button", name="Remove photo").click()
    expect(phone.photos(row)).to_have_count(5)
    phone.photograph(row)
    expect(phone.photos(row)).to_have_count(6)
    expect(phone.row(row).locator(".fault")).to_have_count(0)
    assert phone.server_visit(entry)["photos"] == []


def test_a_phone_from_before_there_were_photos_keeps_its_marks_and_takes_photos(phone, live_show):
    entry, row = open_wagon(phone, live_show, "yazzie")
    phone.page.route(EVENTS, lambda route: route.abort())
    phone.mark(row, "8")
    phone.page.goto(f"{live_show.url}/healthz")
    assert phone.page.evaluate(AS_BEFORE) == 1
    phone.open(f"#card={entry}")
    phone.expect_mark(row, "8")
    phone.expect_waiting(1)
    phone.unfold(row)
    phone.photograph(row)
    expect(phone.photos(row)).to_have_count(1)
    phone.page.unroute(EVENTS)
    phone.sync()
    expect(phone.page.locator("#sync")).to_contain_text("✓ All sent", timeout=20_000)
    there = phone.server_visit(entry)
    assert there["card"]["marks"][row]["value"] == "8"
    assert [one["criterion"] for one in there["photos"]] == [row]
    stores = phone.page.evaluate(
        "async () => (await indexedDB.databases()).map(one => one.version)"
    )
    assert stores == [2]


# Everything but the photos, in the first version's stores.
AS_BEFORE = """async () => {
    const done = asked => new Promise((keep, fail) => {
        asked.onsuccess = () => keep(asked.result);
        asked.onerror = () => fail(asked.error);
    });
    const names = ['facts', 'devices', 'receipts', 'events'];
    const now = await done(indexedDB.open('showrun-round'));
    const held = {};
    for (const name of names) {
        const store = now.transaction(name).objectStore(name);
        held[name] = [await done(store.getAllKeys()), await done(store.getAll())];
    }
    now.close();
    await done(indexedDB.deleteDatabase('showrun-round'));
    const asked = indexedDB.open('showrun-round', 1);
    asked.onupgradeneeded = () => {
        const db = asked.result;
        db.createObjectStore('facts');
        db.createObjectStore('devices', {keyPath: 'id'});
        db.createObjectStore('receipts', {keyPath: ['device', 'entry']});
        const events = db.createObjectStore('events', {keyPath: 'id'});
        events.createIndex('by_status', ['device', 'status', 'seq']);
        events.createIndex('by_device', ['device', 'seq']);
    };
    const before = await done(asked);
    const tx = before.transaction(names, 'readwrite');
    for (const name of names) {
        const [keys, values] = held[name];
        values.forEach((value, at) =>
            name === 'facts'
                ? tx.objectStore(name).put(value, keys[at])
                : tx.objectStore(name).put(value));
    }
    await new Promise((keep, fail) => { tx.oncomplete = keep; tx.onerror = fail; });
    const {version} = before;
    before.close();
    return version;
}"""
