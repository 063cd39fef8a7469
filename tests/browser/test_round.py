"""A judge's day on the phone: marks, remarks, concerns, handing in, answers, the look of it."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from playwright.sync_api import Route, expect

from tests.browser.looks import Walk, check_targets
from tests.browser.round_page import Look, RoundPage

pytestmark = pytest.mark.browser

GAP_PX = 8
MIDDLE = """where => {
    const box = document.querySelector(where).getBoundingClientRect();
    return [box.x + box.width / 2, box.y + box.height / 2];
}"""


def open_empty(phone, live_show, judge: str) -> int:
    """Pair, open the shortest card without marks, and return its entry."""
    phone.pair(live_show.pairing_link(judge))
    empty = [v for v in phone.server_round()["visits"] if not v["card"]["marks"]]
    entry = min(empty, key=lambda visit: len(visit["sections"]))["entry"]["id"]
    phone.open_card(entry)
    return int(entry)


def test_a_whole_card_is_marked_and_handed_in(phone, live_show, shoot):
    entry = open_empty(phone, live_show, "abara")
    expect(phone.page.locator("#hand-in")).to_have_count(0)
    expect(phone.page.locator(".handin")).to_contain_text("no mark yet")
    rows = phone.mark_all("7")
    shoot(phone, "card-full")
    phone.sign()
    expect(phone.page.locator(".handed")).to_contain_text("Card handed in")
    phone.expect_waiting(0)
    visit = next(v for v in phone.server_round()["visits"] if v["entry"]["id"] == entry)
    assert visit["card"]["handed_in"] is True
    assert set(visit["card"]["marks"]) == set(rows)
    phone.unfold(rows[0])
    expect(phone.row(rows[0]).locator(".key")).to_have_count(0)
    phone.to_phone()
    expect(phone.page.locator(f".same[data-entry='{entry}']")).to_contain_text(
        "all sent and the same"
    )
    phone.page.click("a.back")
    expect(phone.page.locator(f".visit.done[data-entry='{entry}']")).to_contain_text("Handed in")


def test_zero_no_mark_and_the_two_states_stay_different(phone, live_show):
    entry = open_empty(phone, live_show, "lindqvist")
    rows = phone.rows()
    phone.mark(rows[0], "0")
    phone.state(rows[1], "not_applicable")
    phone.state(rows[2], "not_inspected")
    expect(phone.row(rows[3]).locator(".given.none")).to_be_visible()
    phone.expect_waiting(0)
    assert phone.server_marks(entry) == {
        rows[0]: {"state": "marked", "value": "0"},
        rows[1]: {"state": "not_applicable", "value": None},
        rows[2]: {"state": "not_inspected", "value": None},
    }


def test_a_tap_soon_after_another_is_not_drawn_over(phone, live_show):
    phone.pair(live_show.pairing_link("abara"))
    page, way = phone.page, phone.page.locator(".upnext")
    page.locator("#list-title").click()
    way.hover()
    page.mouse.down()
    # While the finger is down another page of this browser tells of a change.
    under = way.element_handle()
    page.wait_for_timeout(150)
    page.evaluate("new BroadcastChannel('showrun-round').postMessage('changed')")
    page.wait_for_timeout(300)
    assert under.evaluate("node => node.isConnected")
    page.mouse.up()
    expect(page).to_have_url(re.compile("#card="))


def test_a_double_tap_marks_one_row(phone, live_show):
    open_empty(phone, live_show, "lindqvist")
    rows = phone.rows()
    key = phone.unfold(rows[0]).locator(".key[data-key='7']")
    key.scroll_into_view_if_needed()
    x, y = phone.page.evaluate(MIDDLE, f".crit[data-row='{rows[0]}'] .key[data-key='7']")
    phone.page.touchscreen.tap(x, y)
    phone.page.touchscreen.tap(x, y)
    phone.expect_mark(rows[0], "7")
    phone.page.wait_for_timeout(600)
    assert [one["body"]["criterion"] for one in phone.kept()] == [rows[0]]


def top_of(phone: RoundPage, code: str) -> float:
    """Read a row's place in the page itself: between two questions it may be drawn again."""
    top = "code => document.getElementById(`row-${code}`).getBoundingClientRect().y"
    return float(phone.page.evaluate(top, code))


def test_the_next_row_opens_where_the_thumb_is(phone, live_show):
    open_empty(phone, live_show, "villasenor")
    rows = phone.rows()
    # The tick is shown a moment before the next row opens.
    opened = {"name": "aria-expanded", "value": "true"}
    second, third = (phone.row(code).locator(".line") for code in rows[1:3])
    phone.mark(rows[0], "7")
    expect(second).to_have_attribute(**opened)
    before = top_of(phone, rows[1])
    phone.mark(rows[1], "7")
    expect(third).to_have_attribute(**opened)
    after = top_of(phone, rows[2])
    assert after == pytest.approx(before, abs=2)


def test_a_safety_concern_is_kept_apart_from_the_mark_and_says_where_it_is(phone, live_show, shoot):
    entry = open_empty(phone, live_show, "villasenor")
    row = phone.rows()[0]
    phone.page.route("**/api/v1/device/events", lambda route: route.abort())
    phone.unfold(row).locator(".worry").click()
    sheet = phone.page.locator("dialog.sheet")
    expect(sheet).to_contain_text("A score is never a safety inspection.")
    expect(sheet).to_contain_text("Tell a steward by voice now: there may be no signal.")
    expect(sheet.locator(".degree strong")).to_have_text(["Stop", "Mend before moving", "Note"])
    sheet.get_by_role("button", name="Raise concern").click()
    expect(sheet.locator(".fault")).to_have_text("Choose how grave it is.")
    shoot(phone, "safety-concern")
    sheet.locator(".degree", has_text="Stop").click()
    sheet.locator("textarea").fill("Split hub, near front.")
    sheet.get_by_role("button", name="Raise concern").click()
    concerns = phone.page.locator(".concerns")
    expect(concerns).to_contain_text("Not at the office yet: tell the steward by voice.")
    phone.page.unroute("**/api/v1/device/events")
    phone.sync()
    expect(concerns).to_contain_text("At the office.")
    assert phone.server_marks(entry) == {}
    body = phone.kept()[0]["body"]
    assert (body["degree"], body["criterion"]) == ("stop", row)
    assert body["text"] == "Split hub, near front."


def test_a_touch_the_office_must_decide_is_shown_with_its_reason(phone, new_context, live_show):
    entry = open_empty(phone, live_show, "abara")
    row = phone.rows()[0]
    phone.mark(row, "7")
    phone.expect_waiting(0)
    other = RoundPage(new_context().new_page(), live_show.url)
    other.pair(live_show.pairing_link("abara"))
    other.open_card(entry)
    other.mark(row, "2")
    # Two phones on one row: both are kept, the first stands until a person decides.
    held = other.page.locator("#held-here")
    expect(held).to_contain_text("1 touch with the office", timeout=15_000)
    other.expect_mark(row, "7")
    held.locator("summary").click()
    expect(held).to_contain_text("Another phone or the office wrote something else here")
    assert phone.server_marks(entry)[row]["value"] == "7"


def test_the_judge_sees_the_pace_and_what_is_left(phone, live_show):
    phone.page.clock.install()
    phone.pair(live_show.pairing_link("yazzie"))
    phone.open_card(phone.entries()[0])
    left = phone.page.locator(".given.none").count()
    expect(phone.page.locator(".pace")).to_contain_text(f"{left} rows left")
    expect(phone.page.locator(".pace")).to_contain_text("0 of")
    # The page is drawn anew each twenty seconds.
    phone.page.clock.run_for(3 * 60_000 + 21_000)
    expect(phone.page.locator(".pace")).to_contain_text("3 of")


def test_a_question_of_the_office_is_answered_and_marked_as_answered(phone, live_show, shoot):
    asked = {}

    def ask(route) -> None:  # type: ignore[no-untyped-def]
        reply = route.fetch()
        if reply.status != 200:
            route.fulfill(response=reply)
            return
        body = reply.json()
        visit = body["visits"][0]
        row = body["card"]["sections"][0]["criteria"][0]["code"]
        words = "Please check: the card says 1. The others suggest about 8.0."
        about = {"entry": visit["entry"]["id"], "criterion": row, "value": "1", "expected": "8.0"}
        body["questions"] = [
            {"id": 900_000 + n, "sentence": words, "state": "open", **about} for n in (1, 2)
        ]
        asked.update(about)
        route.fulfill(response=reply, json=body)

    phone.page.route("**/api/v1/device/round", ask)
    phone.page.route("**/api/v1/device/events", lambda route: route.abort())
    phone.pair(live_show.pairing_link("penhallow"))
    first = phone.page.locator("[data-question='900001']")
    expect(first).to_contain_text("The others suggest about 8.0.")
    shoot(phone, "question")
    first.get_by_role("button", name="The mark is right").click()
    expect(first).to_contain_text("You said: the mark is right. Saved, waits to be sent.")
    second = phone.page.locator("[data-question='900002']")
    second.locator("input").fill("Meant the other key.")
    second.get_by_role("button", name="Correct it").click()
    expect(second.locator("input")).to_have_value("Meant the other key.")
    second.locator(".key[data-key='8']").click()
    expect(second).to_contain_text("You corrected it to 8.")
    sent = [one["body"] for one in phone.kept()]
    assert [(one["kind"], one["question"], one["verdict"], one["value"]) for one in sent] == [
        ("answer", 900_001, "confirm", None),
        ("answer", 900_002, "correct", "8"),
    ]
    assert sent[1]["text"] == "Meant the other key."


LOOKS = [
    Look("light", "left"),
    Look("dark", "right", 320, 568),
    Look("sunlight", "left", 320, 568),
]


def test_every_page_can_be_used_by_everybody(phone, small_show, shoot):
    phone.pair(small_show.pairing_link("J5"))
    walk = Walk(phone, LOOKS, shoot)
    walk.look_at("list")
    first, second = phone.entries()[:2]
    phone.open_card(first)
    row = "wheels"
    phone.mark(row, "7")
    phone.to_list()
    phone.page.locator("#spreads summary").click()
    walk.look_at("own-marks")
    phone.open_card(second)
    phone.unfold(row)
    phone.page.locator(".crit.open .guide summary").click()
    phone.page.locator("[id^=remark-] summary").first.click()
    phone.photograph(row)
    phone.photos(row).first.click()
    walk.look_at("photo")
    phone.page.get_by_role("button", name="Close").click()
    expect(phone.row(row).locator(".spread")).to_contain_text("Your marks so far: ")
    walk.look_at("card")
    phone.page.locator(".wagon .worry").click()
    walk.look_at("concern")
    phone.page.get_by_role("button", name="Cancel").click()
    phone.to_phone()
    phone.keyed_by("Oda Brandt")
    walk.look_at("phone")
    walk.demand_nothing_wrong()


HANDS = {
    "left": lambda box: box["x"],
    "right": lambda box: -(box["x"] + box["width"]),
}
# Found and measured in one go: in between, the page may be drawn again.
BOXES = """places => [...document.querySelectorAll(places)].map(one => {
    const { x, y, width, height } = one.getBoundingClientRect();
    return { x, y, width, height, letters: parseFloat(getComputedStyle(one).fontSize) };
})"""


def test_targets_are_large_enough_for_a_thumb_and_apart(phone, live_show):
    hands = {Look("light", hand, 320, 568): edge for hand, edge in HANDS.items()}

    def check_each() -> None:
        for look in hands:
            phone.wear(look)
            check_targets(phone)
            assert phone.page.evaluate("document.documentElement.scrollWidth") <= 320, look

    phone.pair(live_show.pairing_link("abara"))
    check_each()
    phone.open_card(phone.entries()[-1])
    check_each()
    for look, edge in hands.items():
        phone.wear(look)
        check_keys(phone, look, edge)
    phone.mark(phone.empty_rows()[0], "3")
    expect(phone.page.locator("#undo")).to_be_visible()
    for look, edge in hands.items():
        phone.wear(look)
        (undo,), (words,) = (phone.page.evaluate(BOXES, one) for one in ("#undo", "#sync"))
        assert edge(undo) < edge(words), look
    check_each()
    phone.to_phone()
    check_each()


def check_keys(phone, look, edge) -> None:  # type: ignore[no-untyped-def]
    """The keys stand apart, in large letters, the short line of them where the thumb is."""
    expect(phone.page.locator(".crit.open .keys")).to_be_visible()
    keys = phone.page.evaluate(BOXES, ".crit.open .key")
    assert len(keys) > 1 and all(key["width"] for key in keys)
    for line in {round(key["y"]) for key in keys}:
        row = sorted((k for k in keys if round(k["y"]) == line), key=lambda k: k["x"])
        for left, right in pairwise(row):
            assert right["x"] - left["x"] - left["width"] >= GAP_PX - 0.5, look
    assert keys[0]["letters"] >= 24, look
    short = max(keys, key=lambda key: key["y"])["y"]
    (shown,) = phone.page.evaluate(BOXES, ".crit.open .keys")
    assert min(edge(k) for k in keys if k["y"] == short) == pytest.approx(edge(shown), abs=1), look


def test_the_next_wagon_and_the_minutes_left_stay_in_sight(phone, live_show):
    phone.page.route("**/api/v1/device/round", just_now)
    phone.pair(live_show.pairing_link("villasenor"))
    visits = [one for one in phone.server_round()["visits"] if not one["card"]["handed_in"]]
    brief = phone.page.locator(".brief")
    expect(brief).to_contain_text(f"next No. {visits[0]['entry']['number']}")
    phone.open_card(visits[0]["entry"]["id"])
    phone.mark(phone.empty_rows()[0], "5")
    for width, height in ((390, 844), (320, 568)):
        phone.page.set_viewport_size({"width": width, "height": height})
        phone.page.evaluate("scrollTo(0, 0)")
        phone.page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
        expect(brief).to_have_text(
            re.compile(rf"\d+ min left · next No. {visits[1]['entry']['number']}")
        )
        expect(brief).to_be_in_viewport()


def just_now(route: Route) -> None:
    """Move the announced times so that the first visit has just begun."""
    reply = route.fetch()
    if reply.status != 200:
        route.fulfill(response=reply)
        return
    body = reply.json()
    for place, visit in enumerate(body["visits"]):
        starts = datetime.now(UTC) + timedelta(minutes=20 * place)
        visit["starts_at"] = starts.isoformat()
        visit["ends_at"] = (starts + timedelta(minutes=19)).isoformat()
    body["show"]["judging_starts_at"] = (datetime.now(UTC) - timedelta(hours=1)).isoformat()
    route.fulfill(response=reply, json=body)
