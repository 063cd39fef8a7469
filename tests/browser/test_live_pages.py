"""Pages that refresh by themselves: quietly, rarely when nobody answers, not out of sight."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.small_show import SmallShow
from tests.warm_show import WarmShow

pytestmark = pytest.mark.browser
SLUG = "small-today"
REFRESH_MS = 60_000
HIDE = """() => {
    Object.defineProperty(document, 'hidden', { configurable: true, get: () => globalThis.away });
    globalThis.away = true;
}"""


def today(slug: str) -> None:
    """Move the show's visits so that the first begins now; print an entry and its exhibitor."""
    from django.db.models import F
    from django.utils import timezone

    from judging.models import Visit

    visits = Visit.objects.filter(window__show__slug=slug)
    first = visits.order_by("starts_at").select_related("entry__exhibitor")[0]
    late = timezone.now() - first.starts_at
    visits.update(starts_at=F("starts_at") + late, ends_at=F("ends_at") + late)
    print(json.dumps({"entry": first.entry_id, "email": first.entry.exhibitor.email}))


def later(slug: str, entry: int) -> None:
    """Let every visit of the entry end half an hour later."""
    from datetime import timedelta

    from django.db.models import F

    from judging.models import Visit

    Visit.objects.filter(window__show__slug=slug, entry=entry).update(
        ends_at=F("ends_at") + timedelta(minutes=30)
    )


@pytest.fixture(scope="module")
def here(live_show: WarmShow) -> dict[str, Any]:
    """An entry of a show that is judged today."""
    SmallShow(live_show, SLUG).prepare()
    source = f"from tests.browser import test_live_pages as here; here.today({SLUG!r})"
    printed = live_show.manage("shell", "--no-imports", "-c", source)
    return dict(json.loads(printed.splitlines()[-1]))


class Own:
    """The exhibitor's page of the entry, with a clock that the test turns."""

    def __init__(self, page: Page, live: WarmShow, here: dict[str, Any]) -> None:
        self.page = page
        self.address = f"{live.url}/entries/{here['entry']}/"
        self.asked = self.answered = 0
        page.goto(live.sign_in_link(here["email"]))
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("button", name="Sign out")).to_be_visible()
        page.clock.install()
        page.on("request", lambda asked: self._count(asked.url))
        page.on("requestfinished", lambda asked: self._hear(asked.url))
        page.goto(self.address)
        self.words = page.locator("[data-refresh-words]")
        page.wait_for_load_state("networkidle")
        self.asked = self.answered = 0

    def _count(self, address: str) -> None:
        self.asked += address == self.address

    def _hear(self, address: str) -> None:
        self.answered += address == self.address

    def wait(self, turns: int = 1) -> None:
        """Let so many times of the page's usual wait go by."""
        self.page.clock.run_for(turns * REFRESH_MS + 500)

    def expect_answered(self, times: int) -> None:
        """The page has been answered so many times, and has had time to show it."""
        until = time.monotonic() + 20
        while self.answered < times and time.monotonic() < until:
            self.page.wait_for_timeout(50)
        assert (self.asked, self.answered) == (times, times)
        self.page.wait_for_timeout(300)


@pytest.fixture
def own(
    new_context: Callable[..., BrowserContext], live_show: WarmShow, here: dict[str, Any]
) -> Iterator[Own]:
    faults: list[str] = []
    page = new_context().new_page()
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    yield Own(page, live_show, here)
    assert faults == []


def test_on_the_day_the_exhibitors_page_shows_new_times_and_keeps_the_focus(own, live_show, here):
    expect(own.words).to_have_text(f"Looks for news every {REFRESH_MS // 1000} seconds.")
    visits = own.page.locator("#live-visits")
    before = visits.inner_text()
    make = own.page.get_by_role("button", name="Make a calendar link")
    make.focus()
    own.page.evaluate("globalThis.notReloaded = true")
    source = (
        f"from tests.browser import test_live_pages as here; here.later({SLUG!r}, {here['entry']})"
    )
    live_show.manage("shell", "--no-imports", "-c", source)
    own.wait()
    own.expect_answered(1)
    expect(visits).not_to_have_text(before, use_inner_text=True)
    expect(make).to_be_focused()
    # What has the focus is not swapped from under it, and is when the focus has gone on.
    visits.get_by_role("group").or_(visits.get_by_role("region")).first.focus()
    own.page.evaluate("document.querySelector('#live-visits').dataset.old = 'yes'")
    own.wait()
    own.expect_answered(2)
    expect(own.page.locator("#live-visits[data-old]")).to_have_count(1)
    make.focus()
    own.wait()
    own.expect_answered(3)
    expect(own.page.locator("#live-visits[data-old]")).to_have_count(0)
    assert own.page.evaluate("globalThis.notReloaded") is True


def test_without_contact_it_says_so_asks_more_rarely_and_comes_back_at_once(own):
    own.page.context.set_offline(True)
    own.wait()
    expect(own.words).to_contain_text("No contact with the server")
    expect(own.words.get_by_role("link")).to_have_attribute("href", own.address.partition("//")[2][
        own.address.partition("//")[2].index("/"):
    ])  # fmt: skip
    assert own.asked == 1
    own.wait()
    assert own.asked == 1, "after a miss it waits twice as long"
    own.wait()
    expect(own.words).to_contain_text("No contact with the server")
    assert own.asked == 2
    own.page.context.set_offline(False)
    expect(own.words).to_contain_text("Looks for news")
    assert own.asked == 3


def test_out_of_sight_it_does_not_ask_and_paused_neither(own):
    own.page.evaluate(HIDE)
    own.wait(3)
    assert own.asked == 0
    own.page.evaluate("globalThis.away = false")
    with own.page.expect_response(own.address):
        own.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(own.words).to_contain_text("Looks for news")
    own.page.get_by_role("button", name="Pause").click()
    expect(own.words).to_have_text("Paused.")
    asked = own.asked
    own.wait(3)
    assert own.asked == asked


def test_without_a_script_a_plain_link_loads_the_page_again(
    own, new_context: Callable[..., BrowserContext]
):
    context = new_context(java_script_enabled=False)
    context.add_cookies(own.page.context.cookies())  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(own.address)
    words = page.locator("[data-refresh-words]")
    expect(words).to_have_text("Load the page again for news.")
    with page.expect_navigation():
        words.get_by_role("link").click()
    assert page.url == own.address
    expect(page.get_by_role("button", name="Pause")).to_be_hidden()
