"""By keyboard alone: sign in, enter a wagon with faults, mend them, send."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Locator, Page, expect

from tests.live import LiveShow

pytestmark = pytest.mark.browser
EMAIL = "key.board@showrun.example"
FURTHEST = 120  # presses of Tab
# Where the focus is: its place on the page, and whether a ring shows it.
FOCUS = """() => {
    const one = document.activeElement, style = getComputedStyle(one);
    const ring = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
    return [one.tagName, one.id || one.innerText, ring];
}"""


@pytest.fixture
def page(live_show: LiveShow, new_context: Callable[..., BrowserContext]) -> Page:
    live_show.manage(
        "shell", "--no-imports", "-c",
        "from showrun.shows.actions.plan_show import person_for as p;"
        f"p(email='{EMAIL}', name='Nell Keys')",
    )  # fmt: skip
    return new_context(
        viewport={"width": 1280, "height": 900}, has_touch=False, is_mobile=False
    ).new_page()


def tab_to(page: Page, goal: Locator) -> None:
    """Press Tab until the goal has the focus; on the way the focus can always be seen."""
    wanted = goal.element_handle()
    for _ in range(FURTHEST):
        page.keyboard.press("Tab")
        tag, words, ring = page.evaluate(FOCUS)
        assert tag == "BODY" or ring, f"no ring around {tag} {words}"
        if page.evaluate("wanted => document.activeElement === wanted", wanted):
            return
    raise AssertionError(f"{goal} is not reached by Tab.")


def demand_summary(page: Page) -> Locator:
    """The summary of faults has the focus, and the title says so."""
    summary = page.locator("#faults")
    expect(summary).to_be_focused()
    expect(page).to_have_title(re.compile("^Error: "))
    return summary


def follow(page: Page, summary: Locator, words: str) -> Locator:
    """Go by the summary's link to the field at fault; it says what is wrong."""
    tab_to(page, summary.get_by_role("link", name=re.compile(words)))
    page.keyboard.press("Enter")
    field = page.locator(":focus")
    described = field.evaluate(
        "one => (one.closest('fieldset[aria-describedby]') && one.type === 'radio'"
        " ? one.closest('fieldset') : one).getAttribute('aria-describedby')"
    )
    fault = " ".join(page.locator(f"#{part}").inner_text() for part in described.split())
    assert re.search(words, fault), (words, fault)
    return field


def test_everything_from_signing_in_to_the_entry_is_done_by_keyboard(page, live_show):
    page.goto(f"{live_show.url}/sign-in/")
    # The first stop leads past the head of the page.
    page.keyboard.press("Tab")
    skip = page.get_by_role("link", name="Skip to the page")
    expect(skip).to_be_focused()
    expect(skip).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator("main")).to_be_focused()
    page.keyboard.press("Tab")
    expect(page.get_by_label("E-mail address")).to_be_focused()
    page.keyboard.type("nobody at home")
    page.keyboard.press("Enter")
    field = follow(page, demand_summary(page), "whole e-mail address")
    expect(field).to_have_attribute("aria-invalid", "true")
    page.keyboard.press("Control+a")
    page.keyboard.type(EMAIL)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text(re.compile("mail"))
    expect(page).not_to_have_title(re.compile("Error"))
    page.goto(live_show.sign_in_link(EMAIL))
    tab_to(page, page.get_by_role("button", name="Sign in"))
    page.keyboard.press("Enter")
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()

    page.goto(f"{live_show.url}/shows/{live_show.slug}/enter/")
    tab_to(page, page.locator("#wagon_name"))
    page.keyboard.type("Quiet Keys")
    tab_to(page, page.locator("#class-trail"))
    page.keyboard.press("Space")
    tab_to(page, page.locator("#crew_name_1"))
    page.keyboard.type("Nell Keys")
    tab_to(page, page.locator("#crew_name_2"))
    page.keyboard.type("M. S.")
    tab_to(page, page.locator("#frontage_ft"))
    page.keyboard.type("wide")
    send = page.get_by_role("button", name="Join the wait list")
    tab_to(page, send)
    page.keyboard.press("Enter")

    summary = demand_summary(page)
    expect(page.locator("#wagon_name")).to_have_value("Quiet Keys")
    follow(page, summary, "[Tt]ongue")
    page.keyboard.press("Space")
    for group in ("hitch", "draft", "pattern", "holdback"):
        tab_to(page, page.locator(f"input[name={group}]").first)
        page.keyboard.press("Space")
    field = page.locator("#frontage_ft")
    tab_to(page, field)
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.locator("#frontage_ft-fault")).to_contain_text("whole number of feet")
    page.keyboard.press("Control+a")
    page.keyboard.type("50")
    tab_to(page, page.locator("#waiver_agreed_by"))
    page.keyboard.type("Nell Keys")
    tab_to(page, send)
    page.keyboard.press("Enter")
    expect(page.get_by_text("Quiet Keys is on the wait list")).to_be_visible()
    expect(page).not_to_have_title(re.compile("Error"))
