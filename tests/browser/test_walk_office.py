"""An organizer makes a show from nothing, up to the minute in which judging can begin."""

from __future__ import annotations

import csv
import io
import quopri
import re
from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, FilePayload, expect

from tests.browser.conftest import ORGANIZER as EMAIL
from tests.browser.round_page import RoundPage
from tests.browser.steps import loads, minutes, taps
from tests.browser.walker import Walker, part_of
from tests.warm_show import WarmShow

pytestmark = pytest.mark.browser

DESK = {"width": 1100, "height": 760}
WAGONS = 15
# What the walk may take. Raise one only for something a show cannot begin without.
MOST_TAPS, MOST_PAGES, MOST_MINUTES = 60, 36, 15
JUDGES = (
    ("Ansel Quaid", "ansel.quaid@showrun.example"),
    ("Bea Lindholm", "bea.lindholm@showrun.example"),
    ("Cyrus Okafor", "cyrus.okafor@showrun.example"),
    ("Dora Whitlow", "dora.whitlow@showrun.example"),
)


def sheet() -> FilePayload:
    """The organizer's own list: fifteen wagons, one a row."""
    rows = [
        {
            "Wagon": f"Kettle wagon {n}",
            "Exhibitor": f"Cook Number{n}",
            "E-mail": f"cook{n}@wagons.example",
            "Tongue": ("drop", "stiff")[n % 2],
            "Hitch": ("team", "four-up")[n % 2],
            "Draft": "leather tugs",
            "Pattern": "civil",
            "Holdback": "pole straps",
            "Classes": ("Trail wagon", "Ranch wagon")[n % 2],
            "Crew 1": f"Cook Number{n}",
            "Crew 1 part": "head cook",
            "Crew 2": f"Helper Number{n}",
            "Crew 2 part": "helper",
        }
        for n in range(1, WAGONS + 1)
    ]
    written = io.StringIO()
    writer = csv.DictWriter(written, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    text = written.getvalue().encode()
    return FilePayload(name="wagons.csv", mimeType="text/csv", buffer=text)


def link_mailed(live: WarmShow) -> str:
    """The link in the last mail; on one machine mails are printed to the log."""
    log = live.web_log.read_bytes()
    found = re.findall(rb"http\S+/sign-in/\S+", quopri.decodestring(log) + log)
    assert found
    return str(found[-1].decode())


def sign_in(walk: Walker, live: WarmShow) -> None:
    walk.begin("sign in")
    walk.arrive(live.url)
    walk.follow("Sign in")
    walk.type_in("E-mail address", EMAIL)
    walk.press("Send me a link")
    expect(walk.page.get_by_text(EMAIL)).to_be_visible()
    walk.arrive(link_mailed(live))
    walk.type_in("Your name", "Opal Renner")
    walk.press("Sign in")


def plan_show(walk: Walker) -> None:
    walk.begin("plan the show")
    walk.follow("Plan a show")
    walk.type_in("Name of the show", "Opal Kettle Days")
    walk.type_in("Ground", "Opal Creek fairground")
    walk.type_in("First day", "2027-09-17")
    walk.type_in("Last day", "2027-09-19")
    walk.type_in("Day of judging", "2027-09-18")
    walk.type_in("Classes", "Trail wagon\nRanch wagon")
    walk.shoot("plan")
    walk.press("Plan the show")
    walk.read("Opal Kettle Days is planned")
    walk.shoot("office-new")


def take_card(walk: Walker) -> None:
    walk.begin("card from the library")
    walk.follow("Scorecard")
    walk.follow("Take, bring in or begin a card")
    walk.press("Take this card", within=part_of(walk.page, "Wagon, harness and camp"))
    walk.shoot("card-taken")


def declare(walk: Walker) -> None:
    """Both classes count the whole card; the page of each leads to the next."""
    walk.begin("classes declared")
    walk.follow("Next: declare how Trail wagon is judged")
    walk.press("Declare the class")
    walk.follow("Next: declare Ranch wagon")
    walk.press("Declare the class")
    walk.read("Ranch wagon is declared.")
    walk.shoot("declared")


def lay_out_camp(walk: Walker) -> None:
    walk.begin("camp")
    walk.follow("Camp", exact=True)
    walk.press("Lay out")
    walk.shoot("camp")


def take_entries(walk: Walker) -> None:
    walk.begin("entries")
    walk.follow("Entries", exact=True)
    walk.shoot("entries-none")
    walk.follow("Entries from a list")
    walk.give_file("List of entries", sheet())
    walk.press("Read and look")
    walk.read("Every row can be taken.")
    walk.shoot("list-read")
    walk.press("Take")
    walk.press(f"Confirm all {WAGONS} who entered")
    walk.read(f"Confirmed: {WAGONS}.")
    walk.shoot("entries-confirmed")


def engage_judges(walk: Walker) -> None:
    walk.begin("judges engaged")
    walk.follow("Judges", exact=True)
    for name, email in JUDGES:
        form = part_of(walk.page, "Engage a judge")
        walk.type_in("Name", name, within=form)
        walk.type_in("E-mail", email, within=form)
        walk.press("Engage", within=form)
    walk.shoot("judges")


def draw_panel(walk: Walker) -> None:
    walk.begin("panel")
    walk.follow("Panel", exact=True)
    walk.press("Draw the panel")
    walk.read("The panel is drawn")
    walk.shoot("panel")


def size_and_publish(walk: Walker) -> None:
    walk.begin("window")
    walk.follow("Window", exact=True)
    walk.press("Size the window")
    walk.shoot("window-sized")
    walk.press("Publish the times")
    walk.read("Times published")
    walk.shoot("window-published")


def pair_phones(walk: Walker) -> list[str]:
    walk.begin("phones paired")
    walk.follow("Judges", exact=True)
    first, *others = (name for name, _ in JUDGES)
    walk.press("Make code", within=walk.page.get_by_role("row", name=first))
    codes = [walk.page.locator("h1 code").inner_text()]
    walk.shoot("code")
    for name in others:
        walk.press(f"Next: a code for {name}")
        codes.append(walk.page.locator("h1 code").inner_text())
    return codes


def test_from_nothing_to_judging(
    own_service: WarmShow, new_context: Callable[..., BrowserContext]
) -> None:
    desk = new_context(viewport=DESK, has_touch=False, is_mobile=False)
    walk = Walker(desk.new_page(), "office")
    sign_in(walk, own_service)
    plan_show(walk)
    take_card(walk)
    declare(walk)
    lay_out_camp(walk)
    take_entries(walk)
    engage_judges(walk)
    draw_panel(walk)
    size_and_publish(walk)
    codes = pair_phones(walk)
    walk.finish()
    # The phone has its round: every wagon of the judge's, before the first of them is looked at.
    phone = RoundPage(new_context().new_page(), own_service.url)
    phone.pair(f"#pair={codes[0]}")
    phone.read_declared()
    assert len(phone.entries()) >= WAGONS - 1
    steps = walk.steps.of()
    assert taps(steps) <= MOST_TAPS
    assert loads(steps) <= MOST_PAGES
    assert minutes(steps) < MOST_MINUTES
