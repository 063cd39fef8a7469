"""The pace line on a judge's phone, what the office sees of it, and changed times."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect

from tests.browser.small_show import SmallShow

pytestmark = pytest.mark.browser

SLUG = "pace-kettle"
AGO = 40


@pytest.fixture(scope="module")
def running(live_show):
    """A small show whose window opened a while ago."""
    show = SmallShow(live_show, slug=SLUG).prepare()
    step(live_show, f"begin({SLUG!r}, {AGO})")
    return show


def step(live_show, call: str) -> None:
    source = f"from tests.browser import day_steps as here; here.{call}"
    live_show.manage("shell", "--no-imports", "-c", source)


def first_visit(phone):
    """The judge's first announced visit, with its times."""
    visits = [visit for visit in phone.server_round()["visits"] if visit["starts_at"]]
    first = min(visits, key=lambda visit: visit["starts_at"])
    spans = [datetime.fromisoformat(first[name]) for name in ("starts_at", "ends_at")]
    return first["entry"]["id"], spans[0], spans[1]


def line(phone):
    return phone.page.locator("[data-clock]")


def top_of_the_first_row(phone) -> float:
    """Asked in one go: a redraw may take the element away between finding and measuring it."""
    found = phone.page.evaluate("document.querySelector('.crit').getBoundingClientRect().top")
    return float(found)


def minutes_behind(starts_at: datetime) -> int:
    return int((datetime.now(UTC) - starts_at).total_seconds() // 60)


def test_minutes_left_and_behind_are_shown_without_a_signal_and_without_a_tap(
    phone, live_show, running, shoot
):
    phone.page.clock.install(time=datetime.now(UTC))
    phone.pair(running.pairing_link("J1"))
    phone.read_declared()
    entry, starts_at, ends_at = first_visit(phone)
    late = minutes_behind(starts_at)
    expect(line(phone)).to_contain_text(re.compile(f"next is due · ({late}|{late + 1}) min behind"))
    length = round((ends_at - starts_at).total_seconds() / 60)
    live_show.stop_web()
    try:
        phone.open_card(entry)
        late = minutes_behind(starts_at)
        expect(line(phone)).to_contain_text(f"{length} min left here")
        expect(line(phone)).to_contain_text(re.compile(f"({late}|{late + 1}) min behind"))
        assert line(phone).get_attribute("aria-live") == "off"
        shoot(phone, "pace-card")
        top = top_of_the_first_row(phone)
        phone.page.clock.run_for(2 * 60_000 + 6_000)
        expect(line(phone)).to_contain_text(f"{length - 2} min left here")
        after = top_of_the_first_row(phone)
        assert after == pytest.approx(top, abs=1), "the line keeps its height"
        phone.page.clock.run_for(length * 60_000)
        expect(line(phone)).to_contain_text("2 min over here")
        phone.reload()
        expect(line(phone)).to_contain_text("2 min over here")
        phone.expect_waiting(0)
        kinds = [one["body"]["kind"] for one in phone.kept_events()]
        assert kinds == ["open"]
    finally:
        live_show.start_web()
    phone.sync()
    phone.page.clock.run_for(2_000)
    phone.expect_all_taken()


def test_a_phone_whose_clock_is_wrong_says_the_same(phone, running):
    phone.page.clock.install(time=datetime.now(UTC) - timedelta(hours=3))
    phone.pair(running.pairing_link("J2"))
    _, starts_at, _ = first_visit(phone)
    late = minutes_behind(starts_at)
    expect(line(phone)).to_contain_text(re.compile(f"next is due · ({late}|{late + 1}) min behind"))


def test_the_office_sees_where_the_judge_is_without_anybody_telling(phone, running, new_context):
    phone.pair(running.pairing_link("J3"))
    entry, _, _ = first_visit(phone)
    phone.open_card(entry)
    phone.expect_all_taken()
    answer = running.office.http.get(f"/shows/{SLUG}/office/day/")
    assert answer.status_code == 200
    row = re.search(r'<tr id="judge-J3">.*?</tr>', answer.text, re.S)
    assert row is not None
    assert "at wagon" in row.group(0)
    assert "min left here" in row.group(0)


def test_a_card_only_looked_at_and_opened_again_is_told_twice(phone, running):
    phone.pair(running.pairing_link("J4"))
    one, other = phone.entries()[:2]
    for entry in (one, other, one, one):
        phone.open_card(entry)
        phone.to_list()
    phone.expect_all_taken()
    assert [event["body"]["entry"] for event in phone.kept_events()] == [one, other, one]


def test_changed_times_reach_the_phone_and_are_shown_until_seen(phone, live_show, running, shoot):
    phone.pair(running.pairing_link("J5"))
    expect(phone.page.locator("#times-changed")).to_have_count(0)
    entry, starts_at, _ = first_visit(phone)
    step(live_show, f"change({SLUG!r}, 'J5', {entry}, 35, 'The wheeler lost a shoe.')")
    phone.sync()
    note = phone.page.locator("#times-changed")
    expect(note).to_contain_text("The wheeler lost a shoe.")
    expect(note.locator("li")).to_have_count(1)
    expect(note.locator("li")).to_contain_text("now")
    zone = phone.server_round()["show"]["zone"]
    shown = phone.page.evaluate(
        """async ([moment, zone]) => {
            const { clock } = await import('/static/judging/offline/page.js');
            return clock(moment, zone);
        }""",
        [(starts_at + timedelta(minutes=35)).isoformat(), zone],
    )
    expect(note.locator("li")).to_contain_text(f"now {shown}")
    expect(phone.page.locator(f".visit[data-entry='{entry}'] .time")).to_have_text(shown)
    shoot(phone, "times-changed")
    phone.page.click("#seen-times")
    expect(note).to_have_count(0)
    phone.reload()
    expect(phone.page.locator("#list-title")).to_be_visible()
    expect(note).to_have_count(0)
    step(live_show, f"change({SLUG!r}, 'J5', {entry}, 5, 'And another.')")
    phone.sync()
    expect(note).to_contain_text("And another.")
    expect(note).not_to_contain_text("wheeler")
