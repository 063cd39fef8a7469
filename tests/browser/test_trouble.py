"""What goes wrong with phones: shut out, full, a wrong clock, a browser that dies."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Request, Route, expect

pytestmark = pytest.mark.browser

EVENTS = "**/api/v1/device/events"
COOKIES = ("sessionid", "csrftoken")
BREAK_STORE = """() => {
    window.wholePut = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function () {
        throw new DOMException('The disk is full.', 'QuotaExceededError');
    };
}"""
MEND_STORE = "() => { IDBObjectStore.prototype.put = window.wholePut; }"


def empty_card(phone, live_show, judge: str) -> int:
    """Pair, open the first empty card, and return its entry."""
    phone.pair(live_show.pairing_link(judge))
    visits = phone.server_round()["visits"]
    entry = next(v["entry"]["id"] for v in visits if not v["card"]["marks"])
    phone.open_card(entry)
    return int(entry)


def hear_an_answer(phone) -> None:
    """Wait until the page has read an answer to what it sent: only then does it send anew."""
    for _ in range(2):
        with phone.page.expect_response(EVENTS):
            phone.sync()


class Forgotten:
    """Answers the first phone met as the server does where it does not know a phone."""

    def __init__(self) -> None:
        self.token = ""

    def __call__(self, route: Route) -> None:
        token = route.request.headers["authorization"]
        self.token = self.token or token
        if token != self.token:
            route.continue_()
            return
        body = {"code": "device-unknown", "detail": "This phone is not paired.", "status": 401}
        route.fulfill(status=401, content_type="application/problem+json", body=json.dumps(body))


def test_a_phone_not_known_keeps_its_queue_and_sends_it_after_pairing_again(phone, live_show):
    entry = empty_card(phone, live_show, "lindqvist")
    phone.expect_all_taken()
    phone.page.route("**/api/v1/device/events", Forgotten())
    row = phone.rows()[0]
    phone.mark(row, "8")
    again = phone.page.locator("#again")
    expect(again).to_contain_text("This phone must be paired again; nothing is lost.")
    expect(again).to_contain_text("1 touch waits here")
    before = phone.kept()
    assert [one["status"] for one in before] == ["unsent"]
    phone.reload()
    expect(again).to_be_visible()
    phone.type_code(live_show.pairing_link("lindqvist").partition("pair=")[2])
    phone.expect_waiting(0)
    assert [one["id"] for one in phone.kept()] == [one["id"] for one in before]
    assert phone.server_marks(entry)[row] == {"state": "marked", "value": "8"}


def test_a_gate_of_the_network_that_answers_401_does_not_unpair(phone, live_show):
    empty_card(phone, live_show, "lindqvist")
    gate = {"status": 401, "content_type": "text/html", "body": "<h1>Sign in to camp wifi</h1>"}
    phone.page.route("**/api/v1/device/**", lambda route: route.fulfill(**gate))
    row = phone.rows()[0]
    phone.mark(row, "8")
    hear_an_answer(phone)
    phone.expect_waiting(1)
    phone.page.unroute("**/api/v1/device/**")
    phone.sync()
    phone.expect_waiting(0)


PROXY = {"content_type": "text/html", "body": "<h1>400 Bad Request</h1>"}
PROXY_JSON = {"content_type": "application/json", "body": '{"error": "bad request"}'}
CUT_OFF = {
    "content_type": "application/problem+json",
    "body": '{"code": "parse-error", "detail": "This request cannot be read.", "status": 400}',
}


@pytest.mark.parametrize("answer", [PROXY, PROXY_JSON, CUT_OFF], ids=["page", "json", "cut off"])
def test_a_400_that_passes_sets_nothing_aside(phone, live_show, answer):
    entry = empty_card(phone, live_show, "lindqvist")
    phone.expect_all_taken()
    phone.page.route(EVENTS, lambda route: route.fulfill(status=400, **answer))
    rows = phone.empty_rows()
    phone.mark(rows[0], "8")
    phone.mark(rows[1], "7")
    hear_an_answer(phone)
    phone.expect_waiting(2)
    assert [one["status"] for one in phone.kept()] == ["unsent"] * 2
    phone.page.unroute(EVENTS)
    phone.sync()
    phone.expect_waiting(0)
    assert set(rows[:2]) <= set(phone.server_marks(entry))


def test_a_gate_that_answers_200_with_a_page_is_not_taken_for_the_server(phone, live_show):
    empty_card(phone, live_show, "penhallow")
    gate = {"status": 200, "content_type": "text/html", "body": "<h1>Welcome</h1>"}
    phone.page.route("**/api/v1/device/**", lambda route: route.fulfill(**gate))
    phone.mark(phone.rows()[0], "8")
    hear_an_answer(phone)
    phone.expect_waiting(1)
    assert [one["status"] for one in phone.kept()] == ["unsent"]


def test_a_server_in_trouble_loses_nothing(phone, live_show):
    entry = empty_card(phone, live_show, "villasenor")
    phone.page.route(EVENTS, lambda route: route.fulfill(status=503, body="busy"))
    rows = phone.rows()
    phone.mark(rows[0], "3")
    hear_an_answer(phone)
    phone.expect_waiting(1)
    phone.page.unroute(EVENTS)
    phone.sync()
    phone.expect_waiting(0)
    assert set(phone.server_marks(entry)) == {rows[0]}


def test_a_full_phone_says_not_saved_in_big_letters_and_keeps_the_value(phone, live_show, shoot):
    entry = empty_card(phone, live_show, "yazzie")
    rows = phone.rows()
    phone.mark(rows[0], "6")
    phone.page.evaluate(BREAK_STORE)
    phone.tap_mark(rows[1], "9")
    alarm = phone.page.locator("#alarm .loud")
    expect(alarm).to_have_text("Not saved")
    # Asked until true: a redraw may take the element away between finding and measuring it.
    phone.page.wait_for_function(
        "parseFloat(getComputedStyle(document.querySelector('#alarm .loud')).fontSize) >= 28"
    )
    expect(phone.row(rows[1]).locator(".unsaved")).to_have_text("Not saved: 9")
    expect(phone.row(rows[1]).locator(".tick")).to_have_count(0)
    shoot(phone, "not-saved")
    phone.page.locator("#alarm button").click()
    phone.page.wait_for_timeout(500)
    expect(alarm).to_be_visible()
    phone.page.evaluate(MEND_STORE)
    phone.page.locator("#alarm button").click()
    phone.expect_mark(rows[1], "9")
    expect(alarm).to_have_count(0)
    phone.expect_waiting(0)
    assert [one["seq"] for one in phone.kept_events()] == [1, 2, 3]
    assert phone.server_marks(entry)[rows[1]]["value"] == "9"


def test_a_later_number_replaces_one_that_could_not_be_saved(phone, live_show):
    entry = empty_card(phone, live_show, "yazzie")
    row = phone.rows()[0]
    phone.page.evaluate(BREAK_STORE)
    phone.tap_mark(row, "9")
    expect(phone.row(row).locator(".unsaved")).to_be_visible()
    phone.page.evaluate(MEND_STORE)
    phone.mark(row, "4")
    expect(phone.page.locator("#alarm .loud")).to_have_count(0)
    phone.expect_waiting(0)
    assert phone.server_marks(entry)[row]["value"] == "4"


def test_the_tick_waits_for_the_disk(phone, live_show):
    empty_card(phone, live_show, "abara")
    row = phone.rows()[0]
    phone.page.evaluate(
        """() => {
            const listen = IDBTransaction.prototype.addEventListener;
            window.held = [];
            IDBTransaction.prototype.addEventListener = function (kind, heard, ...rest) {
                const later = (...all) => window.held.push(() => heard(...all));
                return listen.call(this, kind, kind === 'complete' ? later : heard, ...rest);
            };
        }"""
    )
    phone.tap_mark(row, "7")
    phone.page.wait_for_timeout(800)
    expect(phone.row(row).locator(".tick")).to_have_count(0)
    phone.page.evaluate("() => { for (const go of window.held.splice(0)) go(); }")
    phone.expect_mark(row, "7")


def test_a_store_closed_under_the_page_is_opened_again(phone, live_show):
    entry = empty_card(phone, live_show, "abara")
    rows = phone.rows()
    phone.page.evaluate(
        """() => {
            const whole = IDBDatabase.prototype.transaction;
            let failed = false;
            IDBDatabase.prototype.transaction = function (...all) {
                if (!failed && all[1] === 'readwrite') {
                    failed = true;
                    const words = 'Connection to Indexed Database server lost.';
                    throw new DOMException(words, 'UnknownError');
                }
                return whole.apply(this, all);
            };
        }"""
    )
    phone.mark(rows[0], "7")
    phone.expect_waiting(0)
    assert phone.server_marks(entry)[rows[0]]["value"] == "7"
    assert len(phone.kept()) == 1


def test_a_store_the_browser_closes_itself_is_opened_again(phone, live_show):
    entry = empty_card(phone, live_show, "villasenor")
    rows = phone.rows()
    phone.page.evaluate(
        """() => {
            const whole = IDBDatabase.prototype.transaction;
            IDBDatabase.prototype.transaction = function (...all) {
                IDBDatabase.prototype.transaction = whole;
                this.close();
                return whole.apply(this, all);
            };
        }"""
    )
    phone.mark(rows[0], "7")
    phone.expect_waiting(0)
    assert phone.server_marks(entry)[rows[0]]["value"] == "7"


def test_a_browser_that_keeps_nothing_says_so_and_what_to_do(phone):
    phone.page.add_init_script(
        "indexedDB.open = () => { throw new DOMException('Not here.', 'SecurityError'); }"
    )
    phone.page.goto(f"{phone.url}/round/")
    expect(phone.page.locator("h1")).to_have_text("This browser cannot keep your marks")
    expect(phone.page.locator("#view")).to_contain_text("Leave private browsing")
    expect(phone.page.locator("#view")).to_contain_text("use another phone or a paper card")


def test_a_private_window_is_told_that_it_may_be_cleared(phone, live_show):
    """A context of the driver is a private window: the browser itself does not promise to keep."""
    phone.pair(live_show.pairing_link("yazzie"))
    assert phone.page.evaluate("navigator.storage.persist()") is False
    expect(phone.page.locator("#stay")).to_contain_text("keep it open or install it")


def test_a_session_that_ends_costs_no_mark(phone, live_show):
    """The round leans on no cookie: whoever is signed in, or signed out, in the same browser."""
    entry = empty_card(phone, live_show, "lindqvist")
    context = phone.page.context
    sent: list[Request] = []
    phone.page.on("request", lambda one: sent.extend([one] if "/device/" in one.url else []))
    rows = phone.rows()
    given = [{"name": name, "value": "gone", "url": live_show.url} for name in COOKIES]
    context.add_cookies(given)
    phone.mark(rows[0], "7")
    phone.expect_waiting(0)
    context.clear_cookies()
    phone.mark(rows[1], "6")
    phone.expect_waiting(0)
    assert set(phone.server_marks(entry)) == set(rows[:2])
    assert len(sent) >= 2 and not any("cookie" in one.all_headers() for one in sent)


@pytest.mark.parametrize("years", [5, -5], ids=["ahead", "behind"])
def test_a_clock_years_off_saves_and_sends(phone, live_show, years):
    off = timedelta(days=years * 365)
    phone.page.clock.install(time=datetime.now(UTC) + off)
    entry = empty_card(phone, live_show, "penhallow")
    rows = phone.rows()
    phone.tap_mark(rows[0], "7")
    phone.page.clock.run_for(2_000)
    phone.expect_mark(rows[0], "7")
    phone.page.clock.run_for(5_000)
    phone.expect_waiting(0)
    kept = phone.kept()
    assert kept[0]["status"] == "applied"
    said = datetime.fromisoformat(kept[0]["body"]["at"])
    assert abs(said - off - datetime.now(UTC)) < timedelta(days=1)
    assert phone.server_marks(entry)[rows[0]]["value"] == "7"
