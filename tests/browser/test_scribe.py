"""A scribe keys for the judge: each touch says so, and both are named before the judge signs."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

EVENTS = "**/api/v1/device/events"


def test_what_a_scribe_keys_is_told_apart_and_the_judge_signs(phone, signing_show, shoot):
    phone.pair(signing_show.pairing_link("J6"))
    entry, judge = phone.entries()[0], phone.server_round()["judge"]["name"]
    phone.open_card(entry)
    first = phone.rows()[0]
    expect(phone.page.locator(".who")).to_have_count(0)
    phone.mark(first, "2")
    # Without a signal, too.
    phone.page.route("**/api/**", lambda route: route.abort())
    phone.to_phone()
    expect(phone.page.locator("#keys-judge[aria-pressed=true]")).to_have_text(judge)
    phone.keyed_by("  Oda   Brandt ")
    shoot(phone, "scribe")
    phone.reload()
    expect(phone.page.locator("#keys-name")).to_have_value("Oda Brandt")
    phone.page.click("a.back")
    phone.open_card(entry)
    expect(phone.page.locator("header .who")).to_have_text(f"Judge: {judge}. Keyed by: Oda Brandt.")
    phone.fill_card()
    phone.page.click("#hand-in")
    hand_in = phone.page.locator(".handin")
    expect(hand_in).to_contain_text(f"Judge: {judge}. Keyed by: Oda Brandt.")
    expect(hand_in).to_contain_text(f"{judge}, look through the card before you sign.")
    shoot(phone, "scribe-signs")
    phone.page.click("#sign")
    phone.page.unroute("**/api/**")
    phone.sync()
    phone.expect_waiting(0)
    bodies = [one["body"] for one in phone.kept()]
    assert "keyed_by" not in bodies[0]
    assert {one["keyed_by"] for one in bodies[1:]} == {"Oda Brandt"}
    assert bodies[-1]["kind"] == "hand_in"
    assert phone.server_visit(entry)["card"]["handed_in"] is True
    phone.to_phone()
    phone.page.click("#keys-judge")
    expect(phone.page.locator("#keys-name")).to_have_count(0)


def test_the_office_names_the_scribe_and_the_judge_may_key_all_the_same(phone, signing_show):
    judge = signing_show.office.api(f"/shows/{signing_show.slug}/judges")[0]
    named = signing_show.office.post(
        f"/judges/{judge['id']}/pairings", {"scribe": "Jo Li"}, status=201
    )
    phone.pair(f"#pair={named['code']}")
    phone.to_phone()
    expect(phone.page.locator("#keys-name")).to_have_value("Jo Li")
    phone.page.click("#keys-judge")
    phone.page.click("a.back")
    phone.open_card(phone.entries()[-1])
    expect(phone.page.locator(".who")).to_have_count(0)
    phone.mark(phone.empty_rows()[0], "3")
    assert "keyed_by" not in phone.kept()[-1]["body"]
