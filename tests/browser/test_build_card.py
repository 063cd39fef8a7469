"""The office builds a card, puts it in use, and a judge marks it on two different rigs."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.round_page import RoundPage
from tests.live import LiveShow

pytestmark = pytest.mark.browser

SLUG = "two-rigs"
DESK = {"viewport": {"width": 1280, "height": 900}, "is_mobile": False, "has_touch": False}


def plan() -> None:
    """Plan a show without a card, with two wagons of different rigs; run inside the service."""
    from showrun.shows.actions.plan_show import person_for, plan_show
    from tests import judged_show as stage

    show = plan_show(
        slug=SLUG,
        name="Two Rigs Day",
        ground="Two Rigs Ground",
        starts_on=date(2027, 5, 14),
        ends_on=date(2027, 5, 16),
        judging_starts_at=stage.OPENS_AT,
        judging_minutes=300,
        zone="America/Denver",
        entry_cap=2,
        classes=[
            {"code": "trail", "name": "Trail wagon", "places_awarded": 2},
            {"code": "working_harness", "name": "Working harness", "places_awarded": 2},
        ],
        office=person_for(email=f"secretary.{SLUG}@showrun.example", name="Marguerite Oyelaran"),
        at=stage.BEFORE,
    )
    stage.add_entries(show, 2)  # a drop tongue with a team, a stiff one with four


def seat() -> None:
    """Engage one judge for the card in use, draw the panel and publish the times."""
    from showrun.shows.models import Show
    from tests import judged_show as stage

    show = Show.objects.get(slug=SLUG)
    stage.add_judges(show, 1)
    stage.draw_panel(show)
    stage.open_window(show)


def in_service(live_show: LiveShow, call: str) -> None:
    source = f"from tests.browser import test_build_card as here; here.{call}()"
    live_show.manage("shell", "--no-imports", "-c", source)


@pytest.fixture
def office(live_show: LiveShow, new_context: Callable[..., BrowserContext]) -> Page:
    """The show office at a desk, signed in, on its scorecard page."""
    in_service(live_show, "plan")
    page = new_context(**DESK).new_page()
    page.goto(live_show.sign_in_link(f"secretary.{SLUG}@showrun.example"))
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()
    page.goto(f"{live_show.url}/shows/{SLUG}/office/scorecard/")
    return page


def add_row(page: Page, name: str, *ticks: str) -> None:
    page.get_by_label("Name").fill(name)
    for tick in ticks:
        page.get_by_role("group", name="Judged on").get_by_label(tick).first.check()
    page.get_by_label("What to look for").fill(f"Look at it: {name}.")


def build_card(page: Page) -> None:
    """Begin an empty card, add a section with three rows, copy one section of the library."""
    page.get_by_role("link", name="Take, bring in or begin a card").click()
    page.get_by_label("Name of the card").fill("Two rigs card")
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("#findings")).to_contain_text("At least one, please.")
    page.get_by_role("link", name="Add a section").click()
    page.get_by_label("Name").fill("Running gear")
    page.get_by_label("Points", exact=True).fill("60")
    page.get_by_label("Minutes").fill("6")
    page.get_by_role("button", name="Save the section").click()
    page.get_by_role("link", name="Add a row to Running gear").click()
    add_row(page, "Spokes and felloes")
    page.get_by_role("button", name="Save and add another").click()
    expect(page.locator(".say-good")).to_contain_text("Judged on: every rig.")
    add_row(page, "Queen bolt", "drop tongue")
    page.get_by_role("button", name="Save and add another").click()
    expect(page.locator(".say-good")).to_contain_text("Judged on: drop tongue. That is 24 of")
    add_row(page, "Lead lines", "four-up", "six-up")
    page.get_by_role("button", name="Save the row").click()
    row = page.get_by_role("row", name="Lead lines")
    expect(row).to_contain_text("four-up or six-up")
    library = page.locator("details:has(summary:text-is('One dish'))")
    library.locator("summary").click()
    library.get_by_role("button", name="Take this section into the draft").first.click()
    expect(page.get_by_role("heading", name="Dish", exact=True)).to_be_visible()


def put_in_use(page: Page) -> None:
    page.get_by_role("link", name="Put in use…").click()
    expect(page.get_by_text("nothing is touched")).to_be_visible()
    page.get_by_role("button", name="Put it in use").click()
    expect(page.locator(".say-good")).to_contain_text("Two rigs card, version 1 is in use")


def declare(page: Page) -> None:
    """Declare both classes, so that the panel can be drawn."""
    for name, section in (("Trail wagon", "Running gear"), ("Working harness", "Dish")):
        page.get_by_role("link", name=name, exact=True).click()
        page.get_by_label(f"{section}, ").check()
        page.get_by_label("Judges for each section").fill("1")
        page.get_by_role("button", name="Declare the class").click()
        expect(page.locator(".say-good")).to_contain_text(f"{name} is declared.")
        page.get_by_role("link", name="Scorecard").first.click()
        expect(page.locator("h1")).to_have_text("Scorecard")


def pairing_link(page: Page, live_show: LiveShow) -> str:
    """Make a code for the judge on the office's page and return its link."""
    page.goto(f"{live_show.url}/shows/{SLUG}/office/judges/")
    page.get_by_role("button", name="Make code").click()
    link = page.locator("a[href*='#pair=']").first
    expect(link).to_be_visible()
    return str(link.get_attribute("href"))


def test_a_card_is_built_marked_on_two_rigs_and_then_frozen(
    office: Page, phone: RoundPage, live_show: LiveShow
) -> None:
    build_card(office)
    put_in_use(office)
    declare(office)
    in_service(live_show, "seat")

    phone.pair(pairing_link(office, live_show))
    visits = phone.server_round()["visits"]
    by_tongue = {visit["entry"]["rig"]["tongue"]: visit["entry"]["id"] for visit in visits}
    assert set(by_tongue) == {"drop", "stiff"}
    gear = {}
    for tongue, entry in by_tongue.items():
        phone.open_card(entry)
        expect(phone.row("spokes_and_felloes")).to_be_visible()
        gear[tongue] = [code for code in phone.rows() if "queen" in code or "lead" in code]
        phone.mark("spokes_and_felloes", "7")
        phone.mark(gear[tongue][0], "6")
        phone.expect_waiting(0)
        phone.to_list()
    assert gear == {"drop": ["queen_bolt"], "stiff": ["lead_lines"]}

    office.goto(f"{live_show.url}/shows/{SLUG}/office/scorecard/")
    expect(office.locator(".lede")).to_contain_text("Frozen since")
    office.get_by_role("button", name="Make a new version").click()
    expect(office.locator("h1")).to_have_text("Two rigs card, version 2")
    office.get_by_role("link", name="Scorecard").first.click()
    office.get_by_role("link", name="Two rigs card, version 1").click()
    expect(office.locator("main")).to_contain_text("This card is frozen since")
    expect(office.get_by_role("button", name="Make a new version")).to_be_visible()
    expect(office.get_by_role("link", name="Add a row")).to_have_count(0)
