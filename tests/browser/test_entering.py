"""Entering on a phone: the draft saves itself, wrong input loses nothing, the entry is taken."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from tests.live import LiveShow

pytestmark = pytest.mark.browser
EMAIL = "new.wagon@showrun.example"


@pytest.fixture
def page(live_show: LiveShow, new_context: Callable[..., BrowserContext]) -> Iterator[Page]:
    """The phone of somebody who signs in for the first time."""
    live_show.manage(
        "shell", "--no-imports", "-c",
        "from showrun.shows.actions.plan_show import person_for as p;"
        f"p(email='{EMAIL}', name='Nell Wagoner')",
    )  # fmt: skip
    page = new_context().new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.on(
        "console",
        lambda line: faults.append(line.text) if "Content Security" in line.text else None,
    )
    page.goto(live_show.sign_in_link(EMAIL))
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    page.goto(f"{live_show.url}/shows/{live_show.slug}/enter/")
    yield page
    assert faults == []


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= 390"))


def violations(page: Page) -> list[tuple[str, str]]:
    found = Axe().run(page).response["violations"]
    return [(one["id"], one["nodes"][0]["html"]) for one in found]


def test_a_wagon_is_entered_on_a_phone(page: Page):
    said = page.locator("[data-draft-words]")
    page.fill("#wagon_name", "Paper Kite")
    page.locator("#class-trail").check()
    for fact in ("tongue-drop", "hitch-team", "draft-chain", "pattern-civil"):
        page.locator(f"#{fact}").check()
    page.fill("#crew_name_1", "Nell Wagoner")
    page.fill("#frontage_ft", "50")
    expect(page.locator("[data-metres-of=frontage_ft]")).to_have_text("= 15.2 m")
    expect(said).to_contain_text("Draft saved")
    # What is typed while there is no signal is saved when it comes back.
    page.context.set_offline(True)
    page.fill("#crew_name_2", "M. S.")
    expect(said).to_contain_text("no signal")
    with page.expect_response(lambda reply: "/draft/" in reply.url):
        page.context.set_offline(False)
    expect(said).to_contain_text("Draft saved")
    page.reload()
    expect(page.get_by_text("This is your draft, saved")).to_be_visible()
    expect(page.locator("#crew_name_2")).to_have_value("M. S.")
    expect(page.locator("#draft-chain")).to_be_checked()
    # Every drawing is there, and the page can be used by everybody.
    drawn = page.locator(".rig-choice img").evaluate_all("all => all.map(one => one.naturalWidth)")
    assert len(drawn) == 11 and all(drawn)
    assert violations(page) == []
    assert fits(page)
    # Wrong input: a crew member without a name, no holdback, no number of feet.
    page.fill("#frontage_ft", "wide")
    page.fill("#waiver_agreed_by", "Nell Wagoner")
    page.get_by_role("button", name="Join the wait list").click()
    summary = page.locator("#faults")
    expect(summary).to_contain_text("Holdback: pole straps or side-backer, please.")
    expect(summary).to_contain_text("A whole number of feet, please")
    expect(page.locator("#wagon_name")).to_have_value("Paper Kite")
    expect(page.locator("#waiver_agreed_by")).to_have_value("Nell Wagoner")
    assert fits(page)
    summary.get_by_role("link", name=re.compile("Holdback")).click()
    page.locator("#holdback-pole_strap").check()
    page.fill("#frontage_ft", "50")
    page.get_by_role("button", name="Join the wait list").click()
    expect(page.get_by_text("Paper Kite is on the wait list")).to_be_visible()
    # Its details: what is missing is named, and given.
    page.goto(f"{page.url}details/")
    page.get_by_role("link", name="The size of your camp is not given.").click()
    expect(page.locator("#depth_ft")).to_be_in_viewport()
    assert violations(page) == []
    assert fits(page)
    page.fill("#depth_ft", "40")
    page.fill("#animal_name_1", "Dolly")
    page.fill("#animal_eia_1", "2020-01-05")
    page.get_by_role("button", name="Save").click()
    missing = page.locator("#lacking-h + ul li")
    expect(missing).to_have_count(1)
    expect(missing).to_contain_text("Dolly: The date of the EIA test is older than this show asks")
    # The draft is gone with the entry.
    page.goto(page.url.partition("/entries/")[0] + "/shows/lantern-draw-2027/enter/")
    expect(page.locator("#wagon_name")).to_have_value("")


def test_who_is_signed_out_meanwhile_signs_in_in_another_tab(page: Page, live_show: LiveShow):
    said, link = page.locator("[data-draft-words]"), page.locator("[data-draft-sign-in]")
    expect(link).to_be_hidden()
    session = [one for one in page.context.cookies() if "session" in one.get("name", "")]
    page.context.clear_cookies(name=session[0].get("name"))
    page.fill("#wagon_name", "Second Kite")
    expect(said).to_contain_text("Sign in again in another tab; what you typed stays here.")
    expect(link).to_have_attribute("href", "/sign-in/")
    # Sent off now, the page would be gone.
    page.get_by_role("button", name="Save and go on later").click()
    expect(page.locator("#wagon_name")).to_have_value("Second Kite")
    other = page.context.new_page()
    other.goto(live_show.sign_in_link(EMAIL))
    other.get_by_role("button", name="Sign in").click()
    expect(other.get_by_role("button", name="Sign out")).to_be_visible()
    other.close()
    # A page comes into sight without the test's browser saying so.
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(said).to_contain_text("Draft saved")
    expect(link).to_be_hidden()
    page.get_by_role("button", name="Save and go on later").click()
    expect(page.get_by_text("This is your draft, saved")).to_be_visible()
    expect(page.locator("#wagon_name")).to_have_value("Second Kite")
