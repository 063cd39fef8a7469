"""The office sees a concern within seconds, on whatever page it is, and never wonders silently."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Locator, Page, ViewportSize, expect

from showrun.project.demo.phone import Phone
from tests.browser.round_page import RoundPage

pytestmark = pytest.mark.browser

# Polled every five seconds; the machine may be busy.
SOON_MS = 30_000
DESK: ViewportSize = {"width": 1280, "height": 900}
HANDSET: ViewportSize = {"width": 390, "height": 844}


class Desk:
    """Somebody of the office at a page that must not reload."""

    def __init__(self, page: Page, live_show: Any, email: str) -> None:
        self.page, self.url = page, live_show.url
        self.faults: list[str] = []
        page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        page.on("console", lambda line: self._hear(line.text))
        page.goto(live_show.sign_in_link(email))
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("button", name="Sign out")).to_be_visible()
        self.office = f"{live_show.url}/shows/{live_show.slug}/office"

    def _hear(self, line: str) -> None:
        if "Content Security Policy" in line:
            self.faults.append(line)

    def open(self, part: str) -> None:
        """Open a page of the office, mark it, and wait until it has asked once."""
        with self.page.expect_response(lambda reply: "/alerts/" in reply.url):
            self.page.goto(f"{self.office}/{part}")
        self.page.evaluate("globalThis.notReloaded = true")

    def demand_same_page(self) -> None:
        """The page is the one that was opened; nothing loaded it anew."""
        assert self.page.evaluate("globalThis.notReloaded") is True

    def lines(self, name: str, text: str) -> Locator:
        """The lines of a live region that hold this text."""
        return self.page.locator(f"[data-alerts={name}] [data-alert]", has_text=text)

    def ask_now(self) -> None:
        """Let it think that signal has just come back: it asks then, not in five seconds only."""
        self.page.evaluate("dispatchEvent(new Event('online'))")


@pytest.fixture
def sit_down(
    new_context: Callable[..., BrowserContext], live_show: Any
) -> Iterator[Callable[..., Desk]]:
    """Seat somebody at a desk; no script may fail and nothing may break the pages' policy."""
    desks: list[Desk] = []

    def seat(email: str, size: ViewportSize = DESK) -> Desk:
        context = new_context(viewport=size, has_touch=False, is_mobile=False)
        desks.append(Desk(context.new_page(), live_show, email))
        return desks[-1]

    yield seat
    assert [fault for desk in desks for fault in desk.faults] == []


@pytest.fixture(autouse=True)
def nothing_waits(live_show: Any) -> None:
    """What earlier tests raised, or left held, has been seen to."""
    standing = live_show.office.api(f"/shows/{live_show.slug}/progress")
    for one in standing["concerns"]:
        if not one["seen_at"]:
            live_show.office.post(f"/concerns/{one['id']}/seen")
    for one in standing["held"]:
        live_show.office.post(f"/events/{one['id']}/settle", {"note": "Of an earlier test."})


class Unseen:
    """Counts of a phone whose outcomes nobody looks at."""

    def __init__(self) -> None:
        self.events_sent, self.outcomes, self.sent = 0, {}, []  # type: ignore[var-annotated]


@pytest.fixture
def sender(live_show: Any) -> Phone:
    """A phone without a screen."""
    return Phone(
        live_show.url, live_show.pairing_code("lindqvist"), label="No screen", seen=Unseen()
    )


def raise_stop(phone: RoundPage, text: str) -> None:
    """Raise a concern on the open card, by hand."""
    phone.page.locator(".wagon .worry").click()
    sheet = phone.page.locator("dialog.sheet")
    sheet.locator(".degree", has_text="Stop").click()
    sheet.locator("textarea").fill(text)
    sheet.get_by_role("button", name="Raise concern").click()


def test_a_concern_is_on_the_open_page_within_seconds_and_goes_when_it_is_seen(
    phone: RoundPage, sit_down: Callable[..., Desk], live_show: Any
) -> None:
    desk = sit_down("secretary@showrun.example")
    desk.open("record/")
    desk.page.locator("input[name=q]").fill("half a")
    plain = desk.page.title()
    phone.pair(live_show.pairing_link("villasenor"))
    phone.open_card(phone.entries()[0])
    raise_stop(phone, "Split hub, near front.")
    banner = desk.lines("stop", "Split hub, near front.")
    expect(banner).to_be_visible(timeout=SOON_MS)
    expect(banner).to_contain_text("Stop now: wagon")
    expect(banner).to_contain_text("Raised by Mateo Villaseñor")
    expect(banner).to_contain_text("A score or a concern is not a safety inspection")
    expect(desk.page).to_have_title(f"(1 stop) {plain}")
    assert desk.page.locator("[data-alerts=stop]").get_attribute("aria-live") == "assertive"

    steward = sit_down("steward@showrun.example")
    steward.open("progress/")
    seen = steward.lines("stop", "Split hub").get_by_role("button", name=re.compile("^Seen"))
    seen.click()
    expect(steward.page.get_by_text("Seen: stop now")).to_be_visible()
    expect(banner).to_have_count(0, timeout=SOON_MS)
    expect(desk.page).to_have_title(plain)
    expect(desk.page.locator("input[name=q]")).to_have_value("half a")
    desk.demand_same_page()


def test_a_line_that_stays_is_not_put_in_anew(sender: Phone, sit_down: Callable[..., Desk]) -> None:
    desk = sit_down("secretary@showrun.example")
    desk.open("")
    entry = sender.round["visits"][0]["entry"]["id"]
    concern = {"kind": "concern", "entry": entry, "criterion": None, "degree": "note"}
    sender.send([{**concern, "text": "Dry reins."}])
    desk.ask_now()
    first = desk.lines("rest", "Dry reins.")
    expect(first).to_be_visible(timeout=SOON_MS)
    first.evaluate("line => { line.sameLine = true }")
    sender.send([{**concern, "degree": "mend", "text": "Spoke loose."}])
    desk.ask_now()
    expect(desk.lines("rest", "Spoke loose.")).to_be_visible(timeout=SOON_MS)
    assert first.evaluate("line => line.sameLine") is True
    order = desk.page.locator("[data-alerts=rest] .alert-title").all_inner_texts()
    assert [line.partition(":")[0] for line in order] == ["Mend before moving", "Note"]
    desk.demand_same_page()


def test_the_progress_page_follows_at_once_and_leaves_a_note_half_typed(
    sender: Phone, sit_down: Callable[..., Desk], live_show: Any, shoot: Callable[..., None]
) -> None:
    desk = sit_down("secretary@showrun.example")
    desk.open("progress/")
    visits = [one for one in sender.round["visits"] if not one.get("practice")]
    visit = next(one for one in visits if not one["card"]["handed_in"])
    entry, rig = visit["entry"]["id"], dict(visit["entry"]["rig"])
    rig["tongue"] = "stiff" if rig["tongue"] == "drop" else "drop"
    sender.send([{"kind": "rig", "entry": entry, "rig": rig, "text": "Looked under the hounds."}])
    report = desk.page.locator("#live-rigs article", has_text="Looked under the hounds.")
    expect(report).to_be_visible(timeout=SOON_MS)
    expect(desk.lines("rest", "1 rig found different")).to_be_visible()
    report.locator("input[name=note]").fill("Walking over")
    concern = {"kind": "concern", "entry": entry, "criterion": None, "degree": "mend"}
    sender.send([{**concern, "text": "Spoke loose, off hind."}])
    desk.ask_now()
    part = desk.page.locator("#live-concerns", has_text="Spoke loose, off hind.")
    expect(part).to_be_visible(timeout=SOON_MS)
    expect(report.locator("input[name=note]")).to_have_value("Walking over")
    desk.demand_same_page()
    found = Axe().run(desk.page).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found] == []
    shoot(desk, "office-progress-1280")
    desk.page.set_viewport_size(HANDSET)
    shoot(desk, "office-progress-390")
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert desk.page.evaluate(wide) == 0
    desk.page.set_viewport_size(DESK)
    report.get_by_role("button", name=re.compile("^Decline")).click()
    expect(desk.page.locator("#live-rigs")).to_contain_text("No rig waits for the office.")
    reports = live_show.office.api(f"/shows/{live_show.slug}/rig-reports")
    settled = next(one for one in reports if one["entry_id"] == entry)
    assert (settled["state"], settled["note"]) == ("declined", "Walking over")


def test_a_page_that_hears_nothing_says_so(sit_down: Callable[..., Desk], live_show: Any) -> None:
    desk = sit_down("secretary@showrun.example")
    desk.open("questions/")
    words = desk.page.locator("[data-alerts-words]")
    expect(words).to_be_hidden()
    live_show.stop_web()
    try:
        desk.ask_now()
        expect(words).to_contain_text("No contact with the server since", timeout=SOON_MS)
    finally:
        live_show.start_web()
    desk.ask_now()
    expect(words).to_be_hidden(timeout=SOON_MS)
    desk.page.context.clear_cookies()
    desk.ask_now()
    expect(words).to_contain_text("do not reach this page any more", timeout=SOON_MS)
    desk.demand_same_page()


def test_a_shared_store_never_holds_what_the_office_reads(live_show: Any) -> None:
    answer = live_show.office.get(f"/shows/{live_show.slug}/office/alerts/")
    assert "no-store" in answer.headers["Cache-Control"]
    stranger = httpx.get(f"{live_show.url}/shows/{live_show.slug}/office/alerts/")
    assert stranger.status_code == 404


def test_words_of_all_kinds_stay_words_and_on_a_narrow_page(
    sender: Phone, sit_down: Callable[..., Desk]
) -> None:
    desk = sit_down("steward@showrun.example", HANDSET)
    desk.open("progress/")
    entry = sender.round["visits"][0]["entry"]["id"]
    words = '<img src=x onerror="hurt=1"><script>hurt=1</script>' + "W" * 200
    concern = {"kind": "concern", "entry": entry, "criterion": None, "degree": "stop"}
    sender.send([{**concern, "text": words}])
    desk.ask_now()
    expect(desk.lines("stop", words)).to_be_visible(timeout=SOON_MS)
    expect(desk.page.locator("#live-concerns")).to_contain_text(words)
    assert desk.page.evaluate("typeof hurt") == "undefined"
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert desk.page.evaluate(wide) == 0
