"""Signing: what the judge saw is what is handed in, or the judge is told; and being shut out."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Route, expect

from judging.rules.round.card_hash import card_hash
from tests.browser.conftest import as_marks
from tests.browser.round_page import RoundPage

pytestmark = pytest.mark.browser

EVENTS = "**/api/v1/device/events"


def open_wagon(phone: RoundPage, show: Any, judge: str) -> int:
    """Pair, open the judge's first card, and return its entry."""
    phone.pair(show.pairing_link(judge))
    entry = phone.entries()[0]
    phone.open_card(entry)
    return entry


def test_a_card_signed_is_sent_with_its_hash_and_all_rows_are_seen_before(phone, signing_show):
    entry = open_wagon(phone, signing_show, "J1")
    phone.fill_card()
    phone.page.click("#hand-in")
    rows = phone.page.locator("#review [data-review]")
    expect(rows).to_have_count(len(phone.rows()))
    expect(rows.first).to_contain_text("1 of 10")
    expect(phone.page.locator("#review")).to_contain_text("Pass")
    assert Axe().run(phone.page).response["violations"] == []
    # A row opens from the list, and the list is there again afterwards.
    changed = rows.first.get_attribute("data-review") or ""
    rows.first.click()
    phone.mark(changed, "4")
    expect(rows.first).to_contain_text("4 of 10")
    phone.page.click("#sign")
    expect(phone.page.locator(".handed")).to_be_visible()
    phone.expect_waiting(0)
    card = phone.server_visit(entry)["card"]
    assert card["handed_in"] is True
    signed = phone.kept()[-1]["body"]
    assert signed["hash"] == card_hash(as_marks(card["marks"])) == card["hash"]
    phone.to_phone()
    told = phone.page.locator(f".compared [data-entry='{entry}']")
    expect(told).to_contain_text(f"({card['hash'][:4]} {card['hash'][4:8]})")


def test_a_card_that_differs_is_shown_as_the_office_has_it_and_signed_again(
    phone, new_context, signing_show, shoot
):
    entry = open_wagon(phone, signing_show, "J2")
    row = phone.rows()[0]
    phone.page.route(EVENTS, lambda route: route.abort())
    phone.fill_card()
    phone.sign()
    expect(phone.page.locator(".handed")).to_be_visible()

    other = RoundPage(new_context().new_page(), signing_show.live.url)
    other.pair(signing_show.pairing_link("J2"))
    other.open_card(entry)
    other.mark(row, "5")
    other.expect_waiting(0)

    phone.page.unroute(EVENTS)
    phone.sync()
    again = phone.page.locator("#sign-again")
    expect(again).to_contain_text("Not handed in", timeout=15_000)
    expect(again).to_contain_text(
        "Another phone or the office has other marks on this card. Look through it and sign again."
    )
    expect(again.locator(f"[data-apart='{row}']")).to_contain_text(
        "you signed 1, now 5", timeout=15_000
    )
    expect(again.locator("[data-apart]")).to_have_count(1)
    phone.expect_mark(row, "5")
    assert Axe().run(phone.page).response["violations"] == []
    shoot(phone, "sign-again")
    assert phone.server_visit(entry)["card"]["handed_in"] is False

    phone.sign()
    expect(again).to_have_count(0)
    expect(phone.page.locator(".handed")).to_be_visible()
    phone.expect_waiting(0)
    card = phone.server_visit(entry)["card"]
    assert (card["handed_in"], card["marks"][row]["value"]) == (True, "5")
    hand_ins = [one["body"] for one in phone.kept() if one["body"]["kind"] == "hand_in"]
    assert len({one["hash"] for one in hand_ins}) == len(hand_ins) == 2


def test_a_phone_shut_out_says_so_sends_what_waits_and_takes_a_new_code(phone, signing_show, shoot):
    entry = open_wagon(phone, signing_show, "J3")
    first, second = phone.rows()[:2]
    phone.mark(first, "3")
    phone.expect_waiting(0)
    phone.page.route(EVENTS, lambda route: route.abort())
    phone.mark(second, "4")
    revoke(signing_show, phone.device()["id"])
    phone.page.unroute(EVENTS)
    phone.sync()
    shut = phone.page.locator("#again")
    expect(shut).to_contain_text("The office has shut this phone out", timeout=15_000)
    expect(shut).to_contain_text("Everything it holds was sent and lies with the office")
    expect(phone.page.locator("#pair-code")).to_be_visible()
    assert Axe().run(phone.page).response["violations"] == []
    shoot(phone, "shut-out")
    phone.expect_waiting(0)
    held = [one for one in phone.kept() if one["status"] == "held"]
    assert [(one["code"], one["body"]["criterion"]) for one in held] == [
        ("device-shut-out", second)
    ]
    phone.type_code(signing_show.pairing_link("J3").partition("=")[2])
    expect(phone.page.locator("#list-title")).to_be_visible()
    assert phone.server_marks(entry) == {first: {"state": "marked", "value": "3"}}


def revoke(show: Any, device: int) -> None:
    """Let the office shut a phone out."""
    source = (
        "from django.utils import timezone; from judging.models import Device; "
        f"Device.objects.filter(pk={device}).update(revoked_at=timezone.now())"
    )
    show.live.manage("shell", "--no-imports", "-c", source)


LATE = [
    ("after-window", "Made later than the judging window allows."),
    ("after-signature", "It came after the result was signed."),
]


@pytest.mark.parametrize(("code", "words"), LATE)
def test_a_touch_that_came_late_is_said_in_words(phone, signing_show, code, words):
    def late(route: Route) -> None:
        reply = route.fetch()
        body = reply.json()
        for one in body["results"]:
            one.update(status="held", code=code, reason="The server's own words.")
        route.fulfill(response=reply, json=body)

    open_wagon(phone, signing_show, "J4")
    phone.page.route(EVENTS, late)
    phone.mark(phone.empty_rows()[0], "3")
    held = phone.page.locator("#held-here")
    held.locator("summary").click(timeout=15_000)
    expect(held.locator(".why").first).to_contain_text(words)


BATTERIES = [("Promise.resolve({level: 0.437})", "44"), ("new Promise(() => undefined)", "None")]


@pytest.mark.parametrize(("answer", "percent"), BATTERIES)
def test_a_batch_tells_the_battery_and_never_waits_for_it(phone, signing_show, answer, percent):
    phone.page.add_init_script(f"navigator.getBattery = () => {answer}")
    open_wagon(phone, signing_show, "J5")
    phone.mark(phone.empty_rows()[0], "3")
    phone.expect_waiting(0)
    ask = "from judging.models import Device; print(Device.objects.get(pk={}).battery_percent)"
    told = signing_show.live.manage("shell", "--no-imports", "-c", ask.format(phone.device()["id"]))
    assert told == percent
