"""A judge's words on a section: kept soon, and called saved only when they are."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser.test_round import open_empty

pytestmark = pytest.mark.browser


def test_remarks_take_quick_phrases_and_own_words(phone, live_show):
    entry = open_empty(phone, live_show, "penhallow")
    section = phone.server_round()
    visit = next(v for v in section["visits"] if v["entry"]["id"] == entry)
    code = visit["sections"][0]
    remark = phone.page.locator(f"#remark-{code}")
    remark.locator("summary").click()
    remark.locator(".phrase").first.click()
    phrase = remark.locator(".phrase").first.inner_text()
    expect(remark.locator("textarea")).to_have_value(f"{phrase}.")
    remark.locator("textarea").fill(f"{phrase}.\nSeen by two.")
    remark.get_by_role("button", name="Save remark").click()
    expect(remark.locator(".has")).to_be_visible()
    # The sign stands since the phrase; what was typed is kept once it is an event of its own.
    for _ in range(100):
        if len(phone.kept()) == 2:
            break
        phone.page.wait_for_timeout(100)
    phone.expect_waiting(0)
    visits = phone.server_round()["visits"]
    card = next(v["card"] for v in visits if v["entry"]["id"] == entry)
    assert card["remarks"] == {code: f"{phrase}. Seen by two."}
    assert [one["body"]["kind"] for one in phone.kept()] == ["remark"] * 2


def test_saved_stands_only_over_words_that_are_kept(phone, live_show):
    open_empty(phone, live_show, "abara")
    remark = phone.page.locator("details.remark").first
    remark.locator("summary").click()
    words, hint = remark.locator("textarea"), remark.locator(".hint")
    before = words.input_value()
    words.press_sequentially("Tight")
    expect(hint).to_have_text("Not saved yet.")
    # A pause keeps them, with the keys still up and the caret where it was.
    expect(hint).to_have_text("Saved.")
    assert [one["body"]["text"] for one in phone.kept()] == [f"{before}Tight"]
    words.press_sequentially(" and true.")
    expect(words).to_have_value(f"{before}Tight and true.")
    expect(hint).to_have_text("Not saved yet.")
    expect(hint).to_have_text("Saved.")
    assert phone.kept()[-1]["body"]["text"] == f"{before}Tight and true."
    phone.page.evaluate("() => { window.setTimeout = () => 0; }")
    words.press_sequentially(" Dry")
    expect(hint).to_have_text("Not saved yet.")


LEAVING = {
    "put away": """() => {
        Object.defineProperty(document, 'visibilityState', { value: 'hidden' });
        document.dispatchEvent(new Event('visibilitychange'));
    }""",
    "closed": "() => dispatchEvent(new PageTransitionEvent('pagehide'))",
}


@pytest.mark.parametrize("leave", LEAVING.values(), ids=LEAVING)
def test_words_are_kept_when_the_page_is_left_while_typing(phone, live_show, leave):
    open_empty(phone, live_show, "villasenor")
    remark = phone.page.locator("details.remark").first
    remark.locator("summary").click()
    # No pause ends: only leaving keeps them.
    phone.page.evaluate("() => { window.setTimeout = () => 0; }")
    remark.locator("textarea").press_sequentially("Dry leather")
    words = remark.locator("textarea").input_value()
    assert phone.kept() == []
    phone.page.evaluate(leave)
    for _ in range(100):
        if phone.kept():
            break
        phone.page.wait_for_timeout(50)
    assert [one["body"]["text"] for one in phone.kept()] == [words]


def test_words_typed_as_the_page_is_closed_are_kept_when_it_opens_again(phone, live_show):
    open_empty(phone, live_show, "lindqvist")
    remark = phone.page.locator("details.remark").first
    remark.locator("summary").click()
    remark.locator("textarea").press_sequentially("Worn tires")
    words = remark.locator("textarea").input_value()
    phone.reload()
    remark.locator("summary").click()
    expect(remark.locator("textarea")).to_have_value(words)
    expect(remark.locator(".hint")).to_have_text("Saved.")
    assert phone.kept()[-1]["body"]["text"] == words
    # Once: what is written since is not overwritten by them.
    remark.locator("textarea").fill("Sound tires")
    expect(remark.locator(".hint")).to_have_text("Saved.")
    phone.reload()
    remark.locator("summary").click()
    expect(remark.locator("textarea")).to_have_value("Sound tires")
