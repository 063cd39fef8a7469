"""The office meets a window that is too short, takes a way out, and publishes what fits."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.live import LiveShow

pytestmark = pytest.mark.browser

SLUG = "short-morning"
MINUTES = 25


def plan() -> None:
    """Plan a show whose window holds neither the visits nor a spare minute; run in the service."""
    from tests import judged_show as stage

    stage.draw_panel(stage.build_show(slug=SLUG, judging_minutes=MINUTES))


@pytest.fixture(scope="module")
def short_morning(live_show: LiveShow) -> str:
    """The address of the window's page."""
    source = "from tests.browser import test_window_repair as here; here.plan()"
    live_show.manage("shell", "--no-imports", "-c", source)
    return f"{live_show.url}/shows/{SLUG}/office/window/"


@pytest.fixture
def office(
    live_show: LiveShow, short_morning: str, new_context: Callable[..., BrowserContext]
) -> Callable[..., Page]:
    """The show office, signed in, on the window's page; nothing on it may fail."""

    def sign_in(width: int) -> Page:
        viewport = {"width": width, "height": 900}
        page = new_context(viewport=viewport, is_mobile=False, has_touch=False).new_page()
        page.on("pageerror", lambda fault: pytest.fail(str(fault)))
        page.on(
            "console",
            lambda line: pytest.fail(line.text) if line.type == "error" else None,
        )
        page.goto(live_show.sign_in_link(f"secretary.{SLUG}@showrun.example"))
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("button", name="Sign out")).to_be_visible()
        page.goto(short_morning)
        return page

    return sign_in


def overflow(page: Page) -> int:
    """By how many pixels the page is wider than the screen."""
    return int(page.evaluate("document.documentElement.scrollWidth - innerWidth"))


@pytest.mark.parametrize("width", [390, 1280])
def test_a_window_that_does_not_fit_is_repaired_and_published(
    office: Callable[..., Page], width: int, live_show: LiveShow
):
    page = office(width)
    withdraw(page, live_show)
    page.get_by_role("button", name=re.compile("Size")).first.click()
    fits = page.get_by_role("region", name="Does it fit?")
    expect(fits).to_contain_text(re.compile(r"\d+ min short|\d+ h.* short"))
    expect(page.get_by_role("button", name="Publish the times")).to_have_count(0)
    assert overflow(page) <= 0

    ways = fits.get_by_role("listitem")
    expect(ways.first).to_contain_text("in nine days of ten, fits")
    start = re.search(r"Start at (\d\d:\d\d), (\d+) minutes earlier", ways.first.inner_text())
    assert start, ways.first.inner_text()
    page.get_by_label("Starts").fill(start[1])
    page.get_by_label("Minutes", exact=True).fill(str(MINUTES + int(start[2])))
    page.get_by_role("button", name="Set the hours").click()
    expect(page.get_by_text("The hours are set.")).to_be_visible()

    page.get_by_role("button", name="Size the window").click()
    expect(page.get_by_text("It fits.")).to_be_visible()
    expect(fits).to_contain_text("Nine days of ten")
    expect(page.get_by_role("heading", name="Ways out")).to_have_count(0)
    assert overflow(page) <= 0
    page.get_by_role("button", name="Publish the times").click()
    expect(page.get_by_text("Exhibitors see theirs")).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("Size"))).to_have_count(0)


def withdraw(page: Page, live_show: LiveShow) -> None:
    """Bring the window back to where it does not fit, from wherever the last run left it."""
    if page.get_by_text("Withdraw the published times").count():
        page.get_by_text("Withdraw the published times").click()
        page.get_by_label("Reason").fill("Once more.")
        page.get_by_role("button", name="Withdraw the times").click()
    summary = page.get_by_text("Change the hours")
    if not page.get_by_label("Starts").is_visible():
        summary.click()
    page.get_by_label("Starts").fill("08:00")
    page.get_by_label("Minutes", exact=True).fill(str(MINUTES))
    page.get_by_role("button", name="Set the hours").click()
    expect(page.get_by_text("Not sized yet.")).to_be_visible()


def test_a_pause_and_a_rule_of_the_day_change_the_plan(office: Callable[..., Page]):
    page = office(1280)
    if page.get_by_text("Withdraw the published times").count():
        page.get_by_text("Withdraw the published times").click()
        page.get_by_label("Reason").fill("A pause came up.")
        page.get_by_role("button", name="Withdraw the times").click()
    page.get_by_text("Add a pause").click()
    page.get_by_label("Who").select_option(label="everybody")
    page.get_by_label("From").fill("08:10")
    page.get_by_label("To", exact=True).fill("08:20")
    page.get_by_label("Why").fill("Cooks' meeting.")
    page.get_by_role("button", name="Add the pause").click()
    expect(page.get_by_role("row", name=re.compile("everybody.*Cooks' meeting"))).to_be_visible()
    page.get_by_text("Rules of the day").click()
    page.get_by_label("Judges").select_option(label="the panel walks together")
    page.get_by_role("button", name="Set the rules").click()
    page.get_by_role("button", name="Size the window").click()
    expect(page.get_by_text("judges work side by side")).to_be_visible()
    page.get_by_role("button", name=re.compile("Take back.*everybody")).click()
    expect(page.get_by_text("No pauses")).to_be_visible()
