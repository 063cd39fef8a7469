"""A judge looks at fifteen wagons without signal: every criterion, remarks, one safety concern."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.browser.round_page import RoundPage
from tests.browser.steps import Kind, minutes, taps, typed
from tests.browser.walk_show import SLUG, WAGONS, WalkShow
from tests.browser.walker import Walker
from tests.volume import volume
from tests.warm_show import WarmShow

pytestmark = pytest.mark.browser

BY_FINGER = volume(1, 2)  # cards; each row waits a moment before the next comes up
REMARK = "Tight and true."
# What one card may take beyond one tap for each row: opening, looking through, signing.
MOST_BESIDE_ROWS = 4
# By hands and head alone, the looking left out; the window gives each wagon thirteen.
MOST_MINUTES_A_CARD = 4


@pytest.fixture
def show(own_service: WarmShow) -> WalkShow:
    """Fifteen wagons, each with every row of the fullest card for its rig."""
    made = WalkShow(own_service, SLUG)
    made.run(f"build({SLUG!r}, {WAGONS})")
    return made


def mark_rows(walk: Walker, phone: RoundPage, n: int) -> int:
    """Give every row its mark; return how many rows there were.

    On the first cards finger by finger, which shows that a row takes one tap; on the others by the
    same keys, tapped from inside the page, which is quicker for the machine and counts the same.
    """
    rows = phone.rows()
    if n >= BY_FINGER:
        phone.fill_card("7")
        for row in rows:
            walk.steps.add(Kind.TAP, row)
        return len(rows)
    for k, row in enumerate(rows):
        line = phone.row(row).locator(".line")
        if line.get_attribute("aria-expanded") == "false":
            walk.tap(line, f"open {row}", again=True)
        value = str(5 + (n + k) % 4)
        walk.tap(phone.row(row).locator(f".key[data-key='{value}']"), f"{row}: {value}")
        phone.expect_mark(row, value)
    return len(rows)


def remark(walk: Walker, phone: RoundPage) -> None:
    part = phone.page.locator("details.remark").first
    walk.tap(part.locator("summary"), "Remark")
    walk.steps.add(Kind.TYPE, "remark", len(REMARK))
    part.locator("textarea").fill(REMARK)
    walk.tap(part.get_by_role("button", name="Save remark"), "Save remark", again=True)


def raise_concern(walk: Walker, phone: RoundPage) -> None:
    walk.press("Safety concern")
    sheet = phone.page.locator("dialog")
    walk.tap(sheet.locator(".degree", has_text="Mend").first, "Mend before moving")
    walk.press("Raise concern", within=sheet)
    expect(phone.page.locator(".concerns")).to_contain_text("Not at the office yet")


def test_fifteen_wagons_without_signal(
    show: WalkShow, own_service: WarmShow, new_context: Callable[..., BrowserContext]
) -> None:
    context = new_context()
    page = context.new_page()
    walk, phone = Walker(page, "judge"), RoundPage(page, own_service.url)
    walk.begin("pair")
    walk.arrive(show.pairing_link("J1"))
    page.locator(".visit").first.wait_for()
    page.locator("#not-ready").wait_for(state="detached", timeout=15_000)
    walk.shoot("paired")
    walk.tap(page.locator("#have-read"), "I have read this")
    context.set_offline(True)
    entries = phone.entries()
    assert len(entries) == WAGONS
    rows = 0
    for n, entry in enumerate(entries):
        walk.begin("first card" if n == 0 else "fourteen more cards")
        way = page.locator(".upnext" if n else f".visit[data-entry='{entry}']")
        walk.tap(way, f"wagon {n + 1}")
        expect(page).to_have_url(re.compile(f"#card={entry}$"))
        expect(page.locator("header.wagon")).to_be_visible()
        expect(page.locator(".handed")).to_have_count(0)  # the card before is gone
        rows += mark_rows(walk, phone, n)
        if n % 3 == 0:
            remark(walk, phone)
        if n == 1:
            raise_concern(walk, phone)
            walk.shoot("concern")
        if n == 0:
            walk.shoot("card")
        walk.tap(page.locator("#hand-in"), "Hand in this card")
        walk.tap(page.locator("#sign"), "Sign and hand in")
        expect(page.locator(".handed")).to_be_visible()
        if n == 0:
            walk.shoot("handed-in")
    walk.begin("signal again")
    kept = len(phone.kept_events())
    assert kept > rows
    phone.to_list()
    walk.shoot("all-done-offline")
    context.set_offline(False)
    phone.sync()
    phone.expect_waiting(0)
    phone.expect_all_taken()
    walk.shoot("all-sent")
    walk.finish()
    for visit in phone.server_round()["visits"]:
        assert visit["card"]["handed_in"]
    cards = walk.steps.of("first card") + walk.steps.of("fourteen more cards")
    extras = 5 * 3 + 3  # five remarks, one concern
    assert taps(cards) <= rows + WAGONS * MOST_BESIDE_ROWS + extras
    assert typed(walk.steps.of()) == 5 * len(REMARK)
    assert minutes(cards) <= WAGONS * MOST_MINUTES_A_CARD
