"""An exhibitor enters, prepares, sees when judges come, reads the result, asks and is answered."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.browser.steps import loads, minutes, taps
from tests.browser.test_walk_office import link_mailed
from tests.browser.walk_show import WalkShow
from tests.browser.walker import Walker
from tests.warm_show import WarmShow

pytestmark = pytest.mark.browser

EMAIL = "nell.walker@showrun.example"
SLUG, OTHERS = "walk-in", 4
RIG = ("tongue-drop", "hitch-team", "draft-leather", "pattern-civil", "holdback-pole_strap")
ANSWER = "Both judges stand by it: the near trace was worn through."
# What each part may take. Raise one only for something the show must know.
MOST_TAPS = {"enter": 24, "prepare": 4, "the day": 2, "result": 4, "query": 6}
MOST_PAGES, MOST_MINUTES = 24, 6


@pytest.fixture
def show(own_service: WarmShow) -> WalkShow:
    """A show of a few wagons that is open for entries."""
    made = WalkShow(own_service, SLUG)
    made.run(f"build({SLUG!r}, {OTHERS})")
    return made


def enter(walk: Walker, live: WarmShow) -> None:
    walk.begin("enter")
    walk.arrive(live.url)
    walk.follow("Enter a wagon", within=walk.page.locator("article", has_text=f"Days of {SLUG}"))
    walk.shoot("sign-in")
    walk.type_in("E-mail address", EMAIL)
    walk.press("Send me a link")
    expect(walk.page.get_by_text(EMAIL)).to_be_visible()
    walk.arrive(link_mailed(live))
    walk.type_in("Your name", "Nell Walker")
    walk.press("Sign in")
    walk.shoot("form")
    walk.type_in("Name of the wagon", "Paper Kite")
    walk.tick("Trail wagon")
    for n, fact in enumerate(RIG):
        walk.tap(walk.page.locator(f"label:has(#{fact})"), fact, again=n > 0)
    walk.type_in("Person 1", "Nell Walker")
    walk.type_in("Person 2", "Hank Walker")
    walk.shoot("form-filled")
    walk.tap(walk.page.get_by_role("button", name="Enter this wagon").last, "Enter this wagon")
    walk.shoot("entered")
    walk.read("Paper Kite")


def prepare(walk: Walker) -> None:
    walk.begin("prepare")
    walk.follow("What to prepare")
    walk.read("First: lay the harness out where it can be seen")
    walk.shoot("prepare")
    walk.follow("Back to Paper Kite")


def the_day(walk: Walker) -> None:
    """The page is opened again from the first one, as on another day."""
    walk.begin("the day")
    walk.arrive(walk.page.url)
    walk.read("Judge visit 1")
    walk.shoot("visits")


def result(walk: Walker) -> None:
    walk.begin("result")
    walk.arrive(walk.page.url)
    walk.shoot("result")
    walk.follow("Read the feedback")
    walk.shoot("feedback")
    walk.read("Running gear")
    walk.follow("Back to the entry")


def ask(walk: Walker) -> None:
    walk.begin("query")
    walk.unfold("Put a query about this result")
    walk.type_in("Your query", "Why so few points for the traces?")
    walk.press("Put the query")
    walk.read("waits for the office")
    walk.shoot("asked")


def test_from_entering_to_an_answer(
    show: WalkShow, own_service: WarmShow, new_context: Callable[..., BrowserContext]
) -> None:
    walk = Walker(new_context().new_page(), "exhibitor")
    enter(walk, own_service)
    prepare(walk)
    show.run(f"seat({SLUG!r})")
    the_day(walk)
    show.run(f"judge_all({SLUG!r})")
    result(walk)
    ask(walk)
    show.run(f"answer({SLUG!r}, {ANSWER!r})")
    walk.arrive(walk.page.url.partition("#")[0])
    walk.read(ANSWER)
    walk.shoot("answered")
    walk.finish()
    for part, most in MOST_TAPS.items():
        assert taps(walk.steps.of(part)) <= most, part
    assert loads(walk.steps.of()) <= MOST_PAGES
    assert minutes(walk.steps.of()) < MOST_MINUTES
