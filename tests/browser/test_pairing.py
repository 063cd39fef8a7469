"""A phone becomes a judge's by a code, and says plainly when it cannot."""

from __future__ import annotations

import pytest
from playwright.sync_api import Route, expect

from tests.browser.round_page import RoundPage

pytestmark = pytest.mark.browser

PHOTOS = "**/api/v1/device/photos"


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


def open_link(phone, link: str) -> None:
    """Follow a pairing link on a phone whose page is open already."""
    phone.page.evaluate("fragment => { location.hash = fragment }", link.partition("#")[2])


def hold_back(phone) -> None:
    """Let no touch through."""
    phone.page.route("**/api/v1/device/events", lambda route: route.abort())


def test_another_judges_code_changes_nothing_unasked_and_stays_unused(
    phone, new_context, live_show, shoot
):
    phone.pair(live_show.pairing_link("abara"))
    link = live_show.pairing_link("lindqvist")
    open_link(phone, link)
    asked = phone.page.locator("#other-judge")
    expect(asked).to_contain_text(
        "This phone is paired with Chidi Abara. The code is for Ingrid Lindqvist."
    )
    expect(phone.page.locator("#other-title")).to_be_focused()
    assert phone.device()["judge"]["code"] == "abara"
    shoot(phone, "pair-other-judge")
    asked.get_by_role("button", name="Stay with Chidi Abara").click()
    expect(phone.page.locator("#list-title")).to_be_visible()
    phone.reload()
    assert phone.device()["judge"]["code"] == "abara"
    second = RoundPage(new_context().new_page(), live_show.url)
    second.pair(link)
    assert second.device()["judge"]["code"] == "lindqvist"


def test_touches_of_the_judge_before_are_told_and_kept(phone, live_show, shoot):
    phone.pair(live_show.pairing_link("abara"))
    hold_back(phone)
    phone.open_card(phone.entries()[0])
    phone.mark(phone.empty_rows()[0], "7")
    open_link(phone, live_show.pairing_link("lindqvist"))
    asked = phone.page.locator("#other-judge")
    expect(asked).to_contain_text("1 touch of Chidi Abara is not sent yet.")
    shoot(phone, "pair-other-judge-waiting")
    asked.get_by_role("button", name="Send now").click()
    expect(phone.page.locator("#pair-fault")).to_have_text("They could not be sent yet.")
    asked.get_by_role("button", name="Pair with Ingrid Lindqvist").click()
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


def test_a_photo_of_the_judge_before_is_told_and_sent_under_their_name(phone, live_show):
    phone.pair(live_show.pairing_link("abara"))
    theirs = phone.device()["token"]
    entry = phone.entries()[0]
    phone.open_card(entry)
    phone.page.route(PHOTOS, lambda route: route.abort())
    phone.photograph()
    expect(phone.photos()).to_have_count(1)
    open_link(phone, live_show.pairing_link("lindqvist"))
    asked = phone.page.locator("#other-judge")
    expect(asked).to_contain_text("1 photo of Chidi Abara is not sent yet.")
    phone.take_judge()
    phone.page.unroute(PHOTOS)
    with phone.page.expect_response(PHOTOS) as reply:
        phone.reload()  # which does not wait out the pause after a silence
    assert reply.value.ok
    assert reply.value.request.headers["authorization"] == f"Bearer {theirs}"


def test_what_the_judge_before_tapped_is_not_offered_to_be_taken_back(phone, live_show):
    phone.pair(live_show.pairing_link("lindqvist"))
    theirs = set(phone.entries())
    open_link(phone, live_show.pairing_link("abara"))
    phone.take_judge()
    entry = next(one for one in phone.entries() if one in theirs)
    phone.open_card(entry)
    phone.mark(phone.empty_rows()[0], "7")
    phone.expect_waiting(0)
    expect(phone.page.locator("#undo")).to_be_visible()
    open_link(phone, live_show.pairing_link("lindqvist"))
    phone.take_judge()
    phone.open_card(entry)
    expect(phone.page.locator("#undo")).to_have_count(0)


def test_what_is_not_saved_yet_does_not_become_another_judges(phone, live_show):
    phone.pair(live_show.pairing_link("abara"))
    phone.open_card(phone.entries()[0])
    phone.page.evaluate(
        """() => {
            IDBObjectStore.prototype.add = IDBObjectStore.prototype.put = () => {
                throw new DOMException('The disk is full.', 'QuotaExceededError');
            };
        }"""
    )
    phone.tap_mark(phone.empty_rows()[0], "7")
    alarm = phone.page.locator("#alarm .loud")
    expect(alarm).to_be_visible()
    open_link(phone, live_show.pairing_link("lindqvist"))
    expect(phone.page.locator("#pair-other")).to_be_disabled()
    expect(alarm).to_be_visible()


def test_the_same_judges_next_code_takes_the_place_of_the_first(phone, live_show):
    """Corrections are not held as if another phone had made the marks they correct."""
    phone.pair(live_show.pairing_link("villasenor"))
    before = phone.device()["id"]
    entry = phone.entries()[0]
    phone.open_card(entry)
    row, late = phone.empty_rows()[:2]
    phone.mark(row, "7")
    phone.expect_waiting(0)
    tokens: list[str] = []

    def hold_back_the_first(route: Route) -> None:
        token = route.request.headers["authorization"]
        tokens.append(token)
        if token == tokens[0]:
            route.abort()
        else:
            route.continue_()

    phone.page.route("**/api/v1/device/events", hold_back_the_first)
    phone.mark(late, "3")
    phone.expect_waiting(1)
    for _ in range(100):
        if tokens:
            break
        phone.page.wait_for_timeout(50)
    open_link(phone, live_show.pairing_link("villasenor"))
    # Nothing to ask: the touch that waits goes over.
    expect(phone.page.locator("#list-title")).to_be_visible()
    expect(phone.page.locator("#other-judge")).to_have_count(0)
    assert phone.device()["id"] != before
    phone.expect_waiting(0)
    phone.open_card(entry)
    phone.expect_mark(late, "3")
    phone.unfold(row)
    phone.mark(row, "8")
    phone.expect_waiting(0)
    given = phone.server_marks(entry)
    assert [given[code]["value"] for code in (row, late)] == ["8", "3"]
    assert {one["status"] for one in phone.kept()} == {"applied"}
