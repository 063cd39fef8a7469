"""A phone becomes a judge's by a code, and says plainly when it cannot."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from tests.browser.round_page import RoundPage

pytestmark = pytest.mark.browser


def test_a_link_pairs_the_phone_and_leaves_no_code_in_the_address(phone, live_show, shoot):
    phone.pair(live_show.pairing_link("abara"))
    assert phone.page.url == f"{live_show.url}/round/"
    shown = phone.entries()
    given = phone.server_round()["visits"]
    assert shown == list(dict.fromkeys(visit["entry"]["id"] for visit in given))
    expect(phone.page.locator(".visit.next")).to_have_count(1)
    shoot(phone, "round-list")


def test_a_code_typed_by_hand_pairs_too_however_it_is_written(phone, live_show):
    code = live_show.pairing_link("abara").partition("pair=")[2]
    phone.open()
    phone.type_code(code.replace("-", " ").lower())
    expect(phone.page.locator(".visit").first).to_be_visible()


def test_an_unknown_code_is_refused_in_words_and_another_can_be_typed(phone, live_show):
    phone.open()
    phone.type_code("ZZZZ-9999")
    expect(phone.page.locator("#pair-fault")).to_contain_text("Nobody knows this code")
    phone.type_code(live_show.pairing_link("abara").partition("pair=")[2])
    expect(phone.page.locator(".visit").first).to_be_visible()


def test_a_code_works_once(phone, new_context, live_show):
    link = live_show.pairing_link("abara")
    phone.pair(link)
    second = RoundPage(new_context().new_page(), live_show.url)
    second.open("#" + link.partition("#")[2])
    expect(second.page.locator("#pair-fault")).to_contain_text("used already")


def test_a_short_code_is_not_sent(phone):
    asked = []
    phone.page.on("request", lambda request: asked.append(request.url))
    phone.open()
    phone.type_code("ABC")
    expect(phone.page.locator("#pair-fault")).to_contain_text("eight letters and digits")
    assert not [url for url in asked if url.endswith("/device/pair")]


def test_a_phone_that_may_be_cleared_says_so(phone, live_show):
    phone.page.add_init_script(
        "navigator.storage.persist = navigator.storage.persisted = async () => false"
    )
    phone.pair(live_show.pairing_link("abara"))
    expect(phone.page.locator("#stay")).to_contain_text(
        "This phone may clear the page; keep it open or install it"
    )


def test_a_phone_that_keeps_the_page_says_nothing(phone, live_show):
    phone.page.add_init_script("navigator.storage.persist = async () => true")
    phone.pair(live_show.pairing_link("abara"))
    expect(phone.page.locator("#stay")).to_have_count(0)
    phone.to_phone()
    expect(phone.page.locator("#stays")).to_contain_text("the browser keeps it")


def test_another_code_waits_until_the_touches_of_the_first_judge_are_sent_or_kept(phone, live_show):
    phone.pair(live_show.pairing_link("abara"))
    other = live_show.pairing_link("lindqvist").partition("#")[2]
    phone.page.route("**/api/v1/device/events", lambda route: route.abort())
    phone.open_card(phone.entries()[0])
    phone.mark(phone.empty_rows()[0], "7")
    phone.page.evaluate("fragment => { location.hash = fragment }", other)
    first = phone.page.locator("#waiting-first")
    expect(first).to_contain_text(re.compile(r"1 touch of .* not sent yet"))
    first.get_by_role("button", name="Pair anyway; they stay kept here").click()
    phone.page.click("button[type=submit]")
    expect(phone.page.locator(".visit").first).to_be_visible()
    assert phone.device()["judge"]["code"] == "lindqvist"
    phone.to_phone()
    expect(phone.page.locator("#elsewhere")).to_contain_text("1 touch of")
    # It is sent under the pairing it was made with, as soon as the server can be reached.
    phone.page.unroute("**/api/v1/device/events")
    with phone.page.expect_response("**/api/v1/device/events") as reply:
        phone.sync()
    # With it goes, untold, that the card was opened.
    assert [one["status"] for one in reply.value.json()["results"]] == ["applied", "applied"]
