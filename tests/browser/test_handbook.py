"""The handbook on the phone: one tap from the row, its drawing too, and no signal needed."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from judging.queries.library import handbook
from tests.browser.looks import Walk
from tests.browser.round_page import Look
from tests.browser.small_show import CARD

pytestmark = pytest.mark.browser

NAMED = {
    code
    for section in CARD["sections"]
    for row in section["criteria"]
    for code in row.get("parts", ())
}


def test_a_part_opens_with_one_tap_and_its_drawing_is_there_without_signal(
    phone, small_show, shoot
):
    part = handbook()["hames"]
    assert part.drawing, "choose a part that is drawn"
    phone.pair(small_show.pairing_link("J1"))
    page = phone.page
    page.context.set_offline(True)
    phone.reload()
    phone.open_card(phone.entries()[0])
    phone.unfold("collar").locator("[data-part='hames']").click()
    sheet = page.locator("dialog.sheet")
    for words in (part.name, part.group, part.job, part.look, part.fails):
        expect(sheet).to_contain_text(words)
    expect(sheet).to_contain_text("On which rigs")
    expect(sheet).to_contain_text("A score is never a safety inspection.")
    expect(sheet.locator("figcaption")).to_contain_text(f"{part.name}: number {part.mark}.")
    drawing = sheet.get_by_role("img")
    assert len(drawing.get_attribute("alt") or "") > 20
    # Waits until it is fetched and laid out, and fails when it cannot be.
    width = drawing.evaluate("async image => { await image.decode(); return image.naturalWidth; }")
    assert width > 0
    shoot(phone, "handbook-part")
    sheet.get_by_role("button", name="Close").click()
    expect(sheet).to_have_count(0)
    expect(phone.row("collar").locator(".pad")).to_be_visible()
    # A row that names no part has no button.
    expect(phone.unfold("pole_strap").locator("[data-part]")).to_have_count(0)


def test_the_handbook_lists_the_parts_of_the_card_by_group(phone, small_show):
    phone.pair(small_show.pairing_link("J1"))
    phone.page.click("#to-handbook")
    expect(phone.page.locator("#handbook-title")).to_be_visible()
    shown = phone.page.locator("#view section")
    groups = {section.locator("h2").inner_text(): section for section in shown.all()}
    parts = {code: part for code, part in handbook().items() if code in NAMED}
    assert len(parts) == len(NAMED)
    for group in {part.group for part in parts.values()}:
        listed = [one.get_attribute("data-part") for one in groups[group].locator("button").all()]
        assert listed == [code for code, part in parts.items() if part.group == group]
    assert len(groups) == len({part.group for part in parts.values()})
    phone.page.locator("[data-part='lead_lines']").click()
    expect(phone.page.locator("dialog h2")).to_have_text(parts["lead_lines"].name)


LOOKS = [Look(theme, "right", 360, 640) for theme in ("light", "dark", "sunlight")]


def test_what_comes_up_over_the_card_can_be_used_by_everybody(phone, small_show, shoot):
    phone.pair(small_show.pairing_link("J5"))
    walk = Walk(phone, LOOKS, shoot, targets=True)
    walk.look_at("declared")
    phone.page.click("#to-handbook")
    walk.look_at("handbook")
    phone.page.locator("[data-part='collar']").click()
    walk.look_at("part")
    phone.page.get_by_role("button", name="Close").click()
    phone.page.click("a.back")
    phone.open_card(phone.entries()[0])
    phone.choose_rig(tongue="stiff")
    walk.look_at("rig")
    phone.page.get_by_role("button", name="Cancel").click()
    phone.unfold("bucket")
    phone.unfold("story_place")
    walk.look_at("forms")
    walk.demand_nothing_wrong()
