"""A judge finds another rig than was entered: the card forms anew, with a signal or without."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import expect

from judging.rules.cards.condition import applies
from tests.browser.round_page import RoundPage
from tests.browser.small_show import CARD

pytestmark = pytest.mark.browser

EVENTS = "**/api/v1/device/events"
ROWS = {row["code"]: row for section in CARD["sections"] for row in section["criteria"]}


def rows_on(rig: dict[str, str]) -> list[str]:
    """Return the rows of a rig by the service's own rule."""
    return [code for code, row in ROWS.items() if applies(row.get("applies") or {}, rig)]


def marked(value: str) -> dict[str, str]:
    """Return a mark as it goes over the wire."""
    return {"state": "marked", "value": value}


def open_wagon(phone: RoundPage, link: str, number: int = 1) -> dict[str, Any]:
    """Pair, open the card of this number and return its entry; number 1 has a drop tongue."""
    phone.pair(link)
    return dict(phone.open_number(number)["entry"])


def test_a_rig_corrected_without_signal_keeps_marks_aside_and_ends_alike_on_the_server(
    phone, small_show, shoot
):
    entered = open_wagon(phone, small_show.pairing_link("J1"))
    stiff = {**entered["rig"], "tongue": "stiff", "hitch": "four_up"}
    page = phone.page
    assert phone.rows() == rows_on(entered["rig"])
    small_show.live.stop_web()
    try:
        phone.mark("queen_bolt", "7")
        phone.mark("wheels", "8")
        phone.choose_rig(tongue="stiff", hitch="four_up")
        words = "1 row fewer, 2 more; 1 mark kept aside."
        expect(page.locator("#rig-change")).to_have_text(f"On your card: {words}")
        shoot(phone, "rig-sheet")
        page.fill("#rig-text", "The tongue does not hinge.")
        page.click("#rig-save")
        expect(page.locator("#formed")).to_have_text(f"The rig is changed: {words}")
        assert phone.rows() == rows_on(stiff)
        assert phone.aside() == {"queen_bolt": "7"}
        # No touch before it is taken back by a tap that meant the rig.
        expect(page.locator("#undo")).to_have_count(0)
        found = page.locator("#rig-found")
        expect(found).to_contain_text("As found by you; entered: drop tongue, team of two.")
        expect(found).to_contain_text("Not at the office yet.")
        phone.reload()
        assert phone.rows() == rows_on(stiff)
        assert phone.aside() == {"queen_bolt": "7"}
        shoot(phone, "rig-found")
        phone.mark("stiff_hounds", "6")
        # Back, and there again: what was aside is back, what was marked meanwhile goes aside.
        phone.correct_rig(tongue="drop")
        phone.expect_mark("queen_bolt", "7")
        assert phone.aside() == {"stiff_hounds": "6"}
        phone.mark("queen_bolt", "5")
        phone.correct_rig(tongue="stiff")
        phone.expect_mark("stiff_hounds", "6")
        assert phone.aside() == {"queen_bolt": "5"}
    finally:
        small_show.live.start_web()
    phone.sync()
    phone.expect_waiting(0)
    assert {one["status"] for one in phone.kept()} == {"applied"}
    expect(found.locator(".settled")).to_have_text("With the office for a decision.")
    visit = phone.server_visit(entered["id"])
    assert visit["entry"]["rig"] == stiff
    assert visit["entry"]["rig_entered"] == entered["rig"]
    assert visit["rig_report"] == {"state": "open", "text": "", "note": ""}
    assert visit["card"]["marks"] == {"wheels": marked("8"), "stiff_hounds": marked("6")}
    assert visit["card"]["aside"] == {"queen_bolt": marked("5")}
    phone.expect_same_as_office(entered["id"])


def test_the_office_adopts_a_rig_and_another_judges_card_forms_anew(phone, new_context, small_show):
    entered = open_wagon(phone, small_show.pairing_link("J2"), 3)
    other = RoundPage(new_context().new_page(), small_show.live.url)
    open_wagon(other, small_show.pairing_link("J3"), 3)
    other.mark("wheels", "9")
    other.mark("queen_bolt", "4")
    other.expect_waiting(0)
    phone.mark("wheels", "8")
    phone.correct_rig(tongue="stiff")
    phone.expect_waiting(0)
    small_show.adopt("J2", entered["id"], "Seen at the gate.")
    for one in (phone, other):
        one.sync()
        expect(one.row("stiff_hounds")).to_be_visible(timeout=15_000)
    settled = phone.page.locator("#rig-found[data-state='adopted'] .settled")
    expect(settled).to_have_text("✓ The office adopted the rig you found. “Seen at the gate.”")
    assert other.aside() == {"queen_bolt": "4"}
    expect(other.page.locator("#rig-found")).to_have_count(0)
    # The touch that Undo would take back is on a row that is gone: there is nothing to undo.
    expect(other.page.locator("#undo")).to_have_count(0)
    other.expect_same_as_office(entered["id"])
    other.open_card(entered["id"])
    other.mark("stiff_hounds", "6")
    other.page.click("#undo")
    expect(other.row("stiff_hounds").locator(".given.none")).to_be_visible()
    other.expect_waiting(0)
    assert {touch["status"] for touch in other.kept()} == {"applied"}
    assert other.server_marks(entered["id"]) == {"wheels": marked("9")}
    assert other.faults == []


def test_the_office_declines_a_rig_and_the_card_goes_back_to_what_was_entered(phone, small_show):
    entered = open_wagon(phone, small_show.pairing_link("J4"), 2)
    phone.mark("leaders", "7")
    phone.correct_rig(hitch="team")
    assert phone.aside() == {"leaders": "7"}
    phone.expect_waiting(0)
    small_show.decline("J4", entered["id"], "Leaders are at the trough.")
    phone.sync()
    phone.expect_mark("leaders", "7")
    expect(phone.page.locator("#rig-found .settled")).to_have_text(
        "The office kept the rig as entered. “Leaders are at the trough.”"
    )
    assert phone.rows() == rows_on(entered["rig"])
    assert phone.aside() == {}


def test_saying_that_the_rig_is_as_entered_after_all_takes_the_report_back(phone, small_show):
    entered = open_wagon(phone, small_show.pairing_link("J5"))
    phone.page.route(EVENTS, lambda route: route.abort())
    phone.choose_rig()
    phone.page.click("#rig-save")
    expect(phone.page.locator("dialog .fault")).to_contain_text("the rig the card has already")
    phone.page.get_by_role("button", name="Cancel").click()
    phone.correct_rig(draft="chain")
    expect(phone.page.locator("#formed")).to_have_text("The rig is changed: the same rows.")
    expect(phone.page.locator("header .rig")).to_contain_text("trace chains")
    phone.correct_rig(draft="leather")
    expect(phone.page.locator("#rig-found")).to_have_count(0)
    phone.page.unroute(EVENTS)
    phone.sync()
    phone.expect_waiting(0)
    visit = phone.server_visit(entered["id"])
    assert (visit["rig_report"], visit["entry"]["rig"]) == (None, entered["rig"])


def test_after_handing_in_the_rig_is_locked_as_the_marks_are(phone, small_show):
    entered = open_wagon(phone, small_show.pairing_link("J6"), 2)
    phone.fill_card()
    phone.page.click("#hand-in")
    phone.page.click("#sign")
    expect(phone.page.locator(".handed")).to_be_visible()
    expect(phone.page.locator("#rig-different")).to_have_count(0)
    phone.expect_waiting(0)
    assert phone.server_visit(entered["id"])["card"]["handed_in"] is True
