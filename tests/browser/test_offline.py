"""The round goes on while the server is really gone, and nothing is lost or counted twice."""

from __future__ import annotations

import json

import pytest
from playwright.sync_api import Request, Response, Route, expect

from tests.browser.round_page import RoundPage

pytestmark = pytest.mark.browser

EVENTS = "**/api/v1/device/events"


def paired(phone, live_show, judge: str) -> int:
    """Pair, and return the first wagon whose card is empty."""
    phone.pair(live_show.pairing_link(judge))
    visits = phone.server_round()["visits"]
    return int(next(v["entry"]["id"] for v in visits if not v["card"]["marks"]))


def test_the_page_opens_and_works_with_the_server_stopped(phone, live_show, shoot):
    entry = paired(phone, live_show, "abara")
    live_show.stop_web()
    try:
        phone.reload()
        expect(phone.page.locator("#ready")).to_be_visible()
        phone.open_card(entry)
        rows = phone.rows()
        phone.mark(rows[0], "7")
        phone.mark(rows[1], "0")
        phone.state(rows[2], "not_inspected")
        phone.expect_waiting(3)
        shoot(phone, "card-offline")
        phone.reload()
        phone.expect_mark(rows[0], "7")
        phone.expect_mark(rows[1], "0")
        phone.expect_mark(rows[2], "not_inspected")
    finally:
        live_show.start_web()
    phone.sync()
    phone.expect_waiting(0)
    assert phone.server_marks(entry) == {
        rows[0]: {"state": "marked", "value": "7"},
        rows[1]: {"state": "marked", "value": "0"},
        rows[2]: {"state": "not_inspected", "value": None},
    }
    assert [one["seq"] for one in phone.kept_events()] == [1, 2, 3, 4]
    assert phone.kept_events()[0]["body"]["kind"] == "open"
    assert {one["status"] for one in phone.kept_events()} == {"applied"}


def test_the_list_says_that_it_opens_without_signal_only_while_it_does(phone, live_show):
    paired(phone, live_show, "abara")
    ready = phone.page.locator("#ready")
    expect(ready).to_have_text("✓ This page opens without a signal.")
    # A browser short of space clears what a page has laid by.
    phone.page.evaluate(
        "caches.keys().then((names) => Promise.all(names.map((name) => caches.delete(name))))"
    )
    phone.reload()
    expect(phone.page.locator("#not-ready")).to_be_visible()
    expect(ready).to_have_count(0)


def test_undo_offline_ends_at_the_same_card_on_the_server(phone, live_show):
    entry = paired(phone, live_show, "lindqvist")
    live_show.stop_web()
    try:
        phone.open_card(entry)
        rows = phone.rows()
        phone.mark(rows[0], "4")
        phone.mark(rows[0], "9")
        phone.mark(rows[1], "5")
        phone.page.click("#undo")
        expect(phone.row(rows[1]).locator(".given.none")).to_be_visible()
        phone.page.click("#undo")
        phone.expect_mark(rows[0], "4")
    finally:
        live_show.start_web()
    phone.sync()
    phone.expect_waiting(0)
    assert phone.server_marks(entry) == {rows[0]: {"state": "marked", "value": "4"}}
    assert [one["body"]["kind"] for one in phone.kept()] == ["mark"] * 3 + ["clear", "mark"]


def test_a_reply_lost_after_the_server_took_the_batch_counts_once(phone, live_show):
    entry = paired(phone, live_show, "penhallow")
    lost: list[dict[str, object]] = []

    def lose_first(route: Route) -> None:
        if lost:
            route.continue_()
            return
        lost.extend(route.fetch().json()["results"])
        route.abort()

    phone.page.route(EVENTS, lose_first)
    phone.open_card(entry)
    rows = phone.rows()
    with phone.page.expect_response(
        lambda reply: reply.url.endswith("/device/events"), timeout=30_000
    ) as second:
        for row in rows[:3]:
            phone.mark(row, "6")
        phone.sync()
    assert [one["status"] for one in lost] == ["applied"] * len(lost)
    again = {one["id"]: one["status"] for one in second.value.json()["results"]}
    assert {again[str(one["id"])] for one in lost} == {"duplicate"}
    phone.expect_waiting(0)
    assert set(phone.server_marks(entry)) == set(rows[:3])


def test_two_tabs_send_each_touch_once(phone, live_show):
    entry = paired(phone, live_show, "villasenor")
    second = RoundPage(phone.page.context.new_page(), live_show.url)
    answers: list[Response] = []
    for page in (phone.page, second.page):
        page.on("response", lambda r: answers.append(r) if "/device/events" in r.url else None)
    live_show.stop_web()
    try:
        second.open()
        second.open_card(entry)
        phone.open_card(entry)
        rows = phone.rows()
        phone.mark(rows[0], "5")
        second.expect_mark(rows[0], "5")
        second.mark(rows[1], "8")
        phone.expect_mark(rows[1], "8")
        phone.expect_waiting(2)
    finally:
        live_show.start_web()
    phone.sync()
    second.sync()
    phone.expect_waiting(0)
    second.expect_waiting(0)
    outcomes = [one for answer in answers for one in answer.json()["results"]]
    assert sorted(one["id"] for one in outcomes) == sorted(one["id"] for one in phone.kept_events())
    assert {one["status"] for one in outcomes} == {"applied"}
    first, second_seq = (one["seq"] for one in phone.kept())
    assert first < second_seq
    assert set(phone.server_marks(entry)) == set(rows[:2])
    assert second.faults == []


def test_a_long_queue_goes_in_batches_the_server_takes(phone, live_show):
    entry = paired(phone, live_show, "yazzie")
    sizes: list[int] = []

    def measure(request: Request) -> None:
        if request.url.endswith("/device/events"):
            sizes.append(len(json.loads(request.post_data or "")["events"]))

    phone.page.on("request", measure)
    phone.page.route(EVENTS, lambda route: route.abort())
    phone.open_card(entry)
    row = phone.rows()[0]
    phone.page.evaluate(
        """async ([entry, criterion]) => {
            const { outbox } = await import('/static/judging/offline/page.js');
            const device = await outbox.fact('active');
            for (let turn = 0; turn < 90; turn += 1) {
                const mark = {state: 'marked', value: String(turn % 10)};
                const touch = {kind: 'mark', entry, criterion, ...mark};
                await outbox.addEvent(device, outbox.newId(), touch);
            }
        }""",
        [entry, row],
    )
    phone.page.unroute(EVENTS)
    sizes.clear()
    phone.reload()
    phone.expect_waiting(0)
    assert sum(sizes) >= 90 and max(sizes) <= 40
    assert phone.server_marks(entry)[row]["value"] == "9"


def test_one_event_the_server_cannot_read_does_not_hold_up_the_others(phone, live_show):
    entry = paired(phone, live_show, "abara")
    bad: list[str] = []

    def refuse_bad(route: Route) -> None:
        sent = [event["id"] for event in json.loads(route.request.post_data or "")["events"]]
        if set(bad) & set(sent):
            body = json.dumps({"code": "unreadable", "detail": "Cannot be read.", "status": 400})
            route.fulfill(status=400, content_type="application/problem+json", body=body)
        else:
            route.continue_()

    phone.page.route(EVENTS, lambda route: route.abort())
    phone.open_card(entry)
    rows = phone.rows()
    for row in rows[:5]:
        phone.mark(row, "5")
    bad.append(phone.kept()[2]["id"])
    phone.reload()  # while nothing gets through: what it cut off would be sent twice
    phone.page.route(EVENTS, refuse_bad)
    phone.sync()
    phone.expect_waiting(1)
    assert [one["status"] for one in phone.kept()] == ["applied"] * 2 + ["stuck"] + ["applied"] * 2
    phone.to_phone()
    expect(phone.page.locator("#stuck")).to_contain_text("Cannot be read.")
    phone.page.unroute(EVENTS)
    phone.page.get_by_role("button", name="Send them again").click()
    phone.expect_waiting(0)
    assert set(phone.server_marks(entry)) == set(rows[:5])


class Refuses:
    """Answers whatever has one of these touches in it as our server would refuse it."""

    def __init__(self) -> None:
        self.bad: set[str] = set()
        self.asked = 0

    def __call__(self, route: Route) -> None:
        self.asked += 1
        sent = {event["id"] for event in json.loads(route.request.post_data or "")["events"]}
        if not self.bad & sent:
            route.continue_()
            return
        body = json.dumps({"code": "invalid-input", "detail": "See the fields.", "status": 422})
        route.fulfill(status=422, content_type="application/problem+json", body=body)


def marked_and_refused(phone, *marks: tuple[str, str]) -> Refuses:
    """Mark rows while nothing is sent; from then on the first of the touches is refused."""
    refuses = Refuses()
    phone.page.route(EVENTS, lambda route: route.abort())
    for row, mark in marks:
        phone.mark(row, mark)
    refuses.bad.add(phone.kept()[0]["id"])
    phone.page.unroute(EVENTS)
    phone.page.route(EVENTS, refuses)
    return refuses


def test_a_touch_refused_is_set_aside_only_when_a_later_one_is_taken(phone, live_show):
    entry = paired(phone, live_show, "lindqvist")
    phone.open_card(entry)
    rows = phone.empty_rows()
    phone.expect_all_taken()
    refuses = marked_and_refused(phone, (rows[0], "5"))
    # Nothing else goes: it may be the touch, or the server. The round is asked for all the same.
    with phone.page.expect_response("**/api/v1/device/round"):
        phone.sync()
    assert [one["status"] for one in phone.kept()] == ["unsent"]
    phone.mark(rows[1], "6")
    phone.expect_waiting(1)
    assert [one["status"] for one in phone.kept()] == ["stuck", "applied"]
    # Later marks do not wait for it, and asked for the round it is tried once more.
    phone.mark(rows[2], "7")
    phone.expect_waiting(1)
    before = refuses.asked
    phone.sync()
    for _ in range(100):
        if refuses.asked > before:
            break
        phone.page.wait_for_timeout(50)
    assert [one["status"] for one in phone.kept()] == ["stuck", "applied", "applied"]
    refuses.bad.clear()
    phone.to_phone()
    phone.page.get_by_role("button", name="Send now").click()
    phone.expect_waiting(0)
    assert phone.server_marks(entry)[rows[0]]["value"] == "5"


def test_what_was_set_aside_is_tried_again_when_the_page_is_opened(phone, live_show):
    entry = paired(phone, live_show, "penhallow")
    phone.open_card(entry)
    rows = phone.empty_rows()
    phone.expect_all_taken()
    marked_and_refused(phone, (rows[0], "5"), (rows[1], "6"))
    phone.sync()
    phone.expect_waiting(1)
    assert [one["status"] for one in phone.kept()] == ["stuck", "applied"]
    phone.page.unroute(EVENTS)
    phone.reload()
    phone.expect_waiting(0)
    assert phone.server_marks(entry)[rows[0]]["value"] == "5"
