"""No mark is lost or counted twice, whatever happens to page, phone, line or server.

Each story runs against a real server on SQLite, and where the run is thorough on PostgreSQL, too;
those in which the database has a part always do. Every touch that showed a tick is counted in the
database, past the service: it must be there once, with its mark.
"""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from threading import Barrier, Thread
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Playwright, Route, expect

from showrun.project.management.services_for_tests import (
    Missing,
    find_or_start_postgres,
    fresh_database,
)
from tests.browser.conftest import CHROMIUM, FLAGS, PHONE
from tests.browser.count import Count, touch_of
from tests.browser.kept_show import CROWD, JUDGES, ROWS, SINGLE, SLUG, Field
from tests.browser.kill import crash_page, kill_browser
from tests.browser.relay import BadLine, Trouble, relayed
from tests.browser.round_page import RoundPage
from tests.soak.phone import EVENTS
from tests.soak.phone import Phone as Screenless
from tests.volume import THOROUGH
from tests.warm_show import WarmShow

pytestmark = pytest.mark.browser

# Taps a key and lets the page go on for so long: most of its saving is then still to do.
TAP = """([row, key, pause_ms]) => {
    document.querySelector(`.crit[data-row='${row}'] .key[data-key='${key}']`).click();
    return pause_ms ? new Promise((go) => setTimeout(go, pause_ms)) : null;
}"""
SEED = 20270515
WITH_SCREEN = 3
Paired = Callable[..., tuple[Count, RoundPage]]


def a_database(until: ExitStack) -> str:
    """Make an empty PostgreSQL database for as long as it is needed."""
    found = find_or_start_postgres(os.environ, until)
    if isinstance(found, Missing):
        pytest.skip(f"no PostgreSQL: {found.reason}")
    server = found.rsplit("/", 1)[0]
    return until.enter_context(fresh_database(server, f"nothing_lost_{os.getpid()}"))


def on(*databases: str) -> pytest.MarkDecorator:
    """Run the story on these databases."""
    return pytest.mark.parametrize("counted_show", databases, indirect=True, scope="module")


on_both = on("sqlite", "postgresql")
on_any = on_both if THOROUGH else on("sqlite")


@pytest.fixture(scope="module")
def counted_show(request: pytest.FixtureRequest, tmp_path_factory: Any) -> Iterator[Field]:
    """The show on one of the two databases; on SQLite beside the invented show."""
    if request.param == "sqlite":
        yield Field.prepare(request.getfixturevalue("live_show"))
        return
    with ExitStack() as until:
        live = WarmShow(tmp_path_factory.mktemp("lost"), a_database(until))
        until.callback(live.close)
        live.migrate()
        live.start_web()
        yield Field.prepare(live)


@pytest.fixture
def show(counted_show: Field) -> Iterator[Field]:
    """The show, served again after each test."""
    yield counted_show
    if not counted_show.live.is_up:
        counted_show.live.start_web()


@pytest.fixture
def paired(show: Field, new_context: Callable[..., BrowserContext]) -> Iterator[Paired]:
    """Pair a phone with a judge, and count what it shows as saved."""
    made: list[RoundPage] = []

    def pair(judge: str, url: str = "") -> tuple[Count, RoundPage]:
        count, context = Count(show, judge), new_context()
        count.watch(context)
        made.append(RoundPage(context.new_page(), url or show.url))
        made[-1].pair(show.pairing_link(judge))
        return count, made[-1]

    yield pair
    assert [fault for phone in made for fault in phone.faults] == []


def give(count: Count, phone: RoundPage, entry: int, marks: dict[str, str]) -> None:
    """Mark rows of the open card, each with its tick."""
    for row, value in marks.items():
        count.tapped.append((entry, row, value))
        phone.mark(row, value)


def give_wagon(count: Count, phone: RoundPage, entry: int, first: int = 1) -> None:
    """Mark all rows of a wagon, and go back to the list."""
    phone.open_card(entry)
    give(count, phone, entry, {row: str(first + k) for k, row in enumerate(ROWS)})
    phone.to_list()


def all_sent(phone: RoundPage) -> None:
    """Come back to the page and wait until it says that all is sent."""
    phone.sync()
    phone.expect_waiting(0)


@on_any
def test_the_network_is_off_from_the_second_wagon_to_the_last(show: Field, paired: Paired) -> None:
    count, phone = paired("J1")
    first, *others = show.entries
    give_wagon(count, phone, first)
    phone.expect_waiting(0)
    show.live.kill_web()
    for entry in others:
        phone.reload()
        give_wagon(count, phone, entry)
    phone.reload()
    phone.expect_waiting(len(ROWS) * len(others))
    assert len(count.events()) == len(ROWS)
    show.live.start_web()
    all_sent(phone)
    count.demand_each_once()
    assert count.ticked == set(count.tapped)


@on_any
def test_a_page_killed_between_touch_and_save(show: Field, paired: Paired) -> None:
    count, phone = paired("J2")
    context = phone.page.context
    places = [(entry, row) for entry in show.entries for row in ROWS]
    pauses_ms = [None, 0, 1, 3, 9, None]
    for turn, (pause_ms, (entry, row)) in enumerate(zip(pauses_ms, places, strict=False)):
        phone.open(f"#card={entry}")
        value = str(turn)
        if pause_ms is None:
            give(count, phone, entry, {row: value})
        else:
            count.tapped.append((entry, row, value))
            phone.unfold(row)
            phone.page.evaluate(TAP, [row, value, pause_ms])
        if turn % 2:
            phone.page.close()
        else:
            crash_page(phone.page)
        phone = RoundPage(context.new_page(), show.url)
    phone.open()
    all_sent(phone)
    assert len(count.ticked) >= pauses_ms.count(None)
    count.demand_each_once()
    assert {(e.id, e.seq) for e in show.events("J2")} == {
        (one["id"], one["seq"]) for one in phone.kept_events()
    }


@on_any
def test_a_browser_killed_while_marking(show: Field, driver: Playwright, tmp_path: Path) -> None:
    if not Path("/proc").is_dir():
        pytest.skip("finds the browser's processes in /proc")
    count, entry = Count(show, "J3"), show.entries[0]
    options = {"executable_path": CHROMIUM, "args": FLAGS, "viewport": PHONE}
    context = driver.chromium.launch_persistent_context(tmp_path, **options)  # type: ignore[arg-type]
    count.watch(context)
    phone = RoundPage(context.new_page(), show.url)
    phone.pair(show.pairing_link("J3"))
    context.route(f"**{EVENTS}", lambda route: route.abort())
    phone.open_card(entry)
    give(count, phone, entry, dict.fromkeys(ROWS[:2], "8"))
    count.tapped.append((entry, ROWS[2], "9"))
    phone.tap_mark(ROWS[2], "9")
    kill_browser(context, tmp_path)
    assert count.events() == []
    context = driver.chromium.launch_persistent_context(tmp_path, **options)  # type: ignore[arg-type]
    phone = RoundPage(context.new_page(), show.url)
    phone.open(f"#card={entry}")
    for row in ROWS[:2]:
        phone.expect_mark(row, "8")
    all_sent(phone)
    assert len(count.ticked) >= 2
    count.demand_each_once()
    context.close()


@on_both
def test_the_server_is_killed_during_a_batch(show: Field, paired: Paired) -> None:
    count, phone = paired("J4")
    first, second, _ = show.entries
    phone.page.route(f"**{EVENTS}", lambda route: route.abort())
    give_wagon(count, phone, first)
    phone.page.unroute(f"**{EVENTS}")
    # In the middle: the batch's events are written, its marks are not, nothing is committed.
    with show.stuck_in_a_batch() as stuck:
        phone.sync()
        stuck.wait()
        show.live.kill_web()
    assert show.events("J4") == [] and show.marks("J4") == []
    phone.expect_waiting(len(ROWS))
    show.live.start_web()
    all_sent(phone)
    count.demand_each_once()

    # At its end: all is committed, and nobody hears of it.
    answered: list[int] = []

    def kill_before_answering(route: Route) -> None:
        if not answered:
            answered.append(route.fetch().status)
            show.live.kill_web()
        route.abort()

    phone.page.route(f"**{EVENTS}", kill_before_answering)
    give_wagon(count, phone, second)
    phone.expect_waiting(len(ROWS))
    assert answered == [200]
    phone.page.unroute(f"**{EVENTS}")
    show.live.start_web()
    all_sent(phone)
    count.demand_each_once()
    assert count.ticked == set(count.tapped)


@on_any
def test_a_line_that_drops_delays_repeats_and_reorders(show: Field, paired: Paired) -> None:
    with relayed(show.url) as relay:
        count, phone = paired("J5", relay.url)
        relay.line = line = BadLine((EVENTS, "/api/v1/device/round"), seed=SEED)
        for entry in show.entries:
            give_wagon(count, phone, entry)
            phone.sync()
        for _ in range(100):
            if not line.left and not phone.waiting():
                break
            phone.sync()
            phone.page.wait_for_timeout(100)
        all_sent(phone)
        assert Counter(line.met) >= Counter([*Trouble] * len(line.paths))
        count.demand_each_once()
        assert count.ticked == set(count.tapped)
        for entry in show.entries:
            phone.open_card(entry)
            for k, row in enumerate(ROWS):
                phone.expect_mark(row, str(1 + k))
            phone.to_list()


@on_both
def test_twenty_phones_come_back_at_once(show: Field, paired: Paired) -> None:
    """Three with a screen; seventeen keep and send what a phone does, each on a bad line."""
    crowd = JUDGES[SINGLE:]
    screens = [paired(judge) for judge in crowd[:WITH_SCREEN]]
    places = [(entry, row) for entry in show.entries for row in ROWS]
    others = {
        judge: Screenless(show.url, show.stage["tokens"][judge], places, SEED + k, n_events=45)
        for k, judge in enumerate(crowd[WITH_SCREEN:])
    }
    show.live.kill_web()
    for count, phone in screens:
        give_wagon(count, phone, show.entries[0])
    for other in others.values():
        for _ in range(other.n_events):
            other.touch()
    show.live.start_web()
    gate = Barrier(len(others) + 1)
    threads = [Thread(target=one.work, args=(gate,), daemon=True) for one in others.values()]
    for thread in threads:
        thread.start()
    gate.wait(timeout=120)
    for _, phone in screens:
        phone.sync()
    for _, phone in screens:
        phone.expect_waiting(0)
    for thread in threads:
        thread.join(timeout=60)
    assert len(screens) + len(others) == CROWD
    for count, _ in screens:
        count.demand_each_once()
        assert count.ticked == set(count.tapped)
    for judge, other in others.items():
        assert (other.faults, other.waiting) == ([], [])
        kept = {one.id: one.seq for one in show.events(judge)}
        assert kept == {key: event["seq"] for key, event in other.made.items()}
        stands = {(one.entry, one.criterion): one.mark for one in show.marks(judge)}
        assert stands == other.expected()


@on_both
def test_two_phones_on_one_card_differ_and_a_person_decides(show: Field, paired: Paired) -> None:
    count, one = paired("J6")
    _, two = paired("J6")
    entry, (row, other_row, _) = show.entries[0], ROWS
    for phone in (one, two):
        phone.open_card(entry)
        phone.expect_all_taken()
        phone.page.context.set_offline(True)
    one.mark(row, "3")
    two.mark(row, "8")
    two.mark(other_row, "5")
    for phone in (one, two):
        phone.page.context.set_offline(False)
        all_sent(phone)

    # Both histories are kept, each touch once; what came first stands.
    came = sorted((touch_of(e), e.applied, e.reason_code) for e in count.events())
    wanted = [((entry, row, "3"), True, ""), ((entry, row, "8"), False, "other-device")]
    assert came == sorted([*wanted, ((entry, other_row, "5"), True, "")])
    stands = {(m.criterion, str(m.mark.value).rstrip("0").rstrip(".")) for m in show.marks("J6")}
    assert stands == {(row, "3"), (other_row, "5")}

    # The judge sees the difference on the phone that was late.
    held = two.page.locator("#held-here")
    expect(held).to_contain_text("1 touch with the office", timeout=15_000)
    two.expect_mark(row, "3")
    held.locator("summary").click()
    expect(held).to_contain_text("8")
    expect(held).to_contain_text("Another phone or the office wrote something else here")

    # The office sees it, and decides.
    assert waiting_at_the_office(show, "J6") == [(the_held(count), "other-device")]
    page = show.office.get(f"/shows/{SLUG}/office/progress/").text
    assert f'id="event-{the_held(count)}"' in page
    show.office.post(f"/events/{the_held(count)}/settle", {"note": "Asked the judge: 3 it is."})
    assert waiting_at_the_office(show, "J6") == []
    assert len(count.events()) == 3


def waiting_at_the_office(show: Field, judge: str) -> list[tuple[str, str]]:
    """What of the judge's waits for the office, and why."""
    lines = show.office.api(f"/shows/{SLUG}/progress")["held"]
    return [(line["id"], line["code"]) for line in lines if line["judge"] == judge]


def the_held(count: Count) -> str:
    """The one event of the judge that did not take effect."""
    (found,) = [one.id for one in count.events() if not one.applied]
    return found
