"""From a tap to its painted tick on a slow phone: the real page, from a real server.

Chromium's processor is slowed four times. The judge is half-way round, all of it marked on this
phone; the rows of the next wagons are tapped one after another, online, so that sending falls
between the taps as it does on the ground. A touch counts from the finger's lifting to the frame
that shows the tick, which is drawn only once the mark is on the disk. The floor, in turn with it:
one small strict transaction and one changed word in the same page. All by the clock on the wall.
"""

from __future__ import annotations

import gzip
import os
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from statistics import median, quantiles
from typing import Any

from django.db import connections
from django.utils import timezone
from playwright.sync_api import CDPSession, Page, ViewportSize, sync_playwright

from judging.actions.pair_device import make_pairing_code
from showrun.project.management.services_for_tests import Missing, find_chromium
from showrun.shows.models import Show
from tests.benchmarks.big_show import CARD, JUDGES, seated_show
from tests.benchmarks.measure import Bound, Row
from tests.browser.round_page import SCRIPT, RoundPage
from tests.judged_show import build_show, draw_panel, judge_of, office_of, open_window
from tests.live import ROOT, LiveShow

NAME = "round_page"
SLOWER = 4
TOUCHES = 60
LOADS = 7
# Longer than a closed row's rest and than the pause before sending.
BETWEEN_MS = 600
TOUCH_MS, LOAD_MS, SCRIPT_BYTES = 100, 3000, 60_000
PHONE = ViewportSize(width=390, height=844)
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"]

# What is in the page now is on the screen once this resolves.
PAINTED = """() => new Promise((shown) => requestAnimationFrame(() => setTimeout(() =>
    shown(performance.now()))))"""

WATCH = f"""() => {{
    const painted = {PAINTED};
    let lifted = 0;
    addEventListener("pointerup", (event) => (lifted = event.timeStamp), {{ capture: true }});
    globalThis.tickOf = (row, value) => {{
        const there = () => document.querySelector(
            `.crit[data-row="${{row}}"] .given[data-mark="${{value}}"] .tick`);
        return new Promise((told) => {{
            const watch = new MutationObserver(() => {{
                if (!there()) return;
                watch.disconnect();
                painted().then((at) => told(at - lifted));
            }});
            watch.observe(document.body, {{ childList: true, subtree: true }});
        }});
    }};
    const opened = new Promise((open) => {{
        const asked = indexedDB.open("floor", 1);
        asked.onupgradeneeded = () => asked.result.createObjectStore("kept");
        asked.onsuccess = () => open(asked.result);
    }});
    const word = document.body.appendChild(document.createElement("p"));
    globalThis.floorOf = async (count) => {{
        const db = await opened;
        const begun = performance.now();
        await new Promise((done) => {{
            const tx = db.transaction("kept", "readwrite", {{ durability: "strict" }});
            tx.objectStore("kept").put(count, 1);
            tx.oncomplete = done;
        }});
        word.textContent = String(count);
        return (await painted()) - begun;
    }};
}}"""

READY = f"""
    new MutationObserver((_, watch) => {{
        if (document.documentElement?.dataset.ready !== "yes") return;
        watch.disconnect();
        ({PAINTED})().then((at) => (document.documentElement.dataset.usableAt = at));
    }}).observe(document, {{ attributes: true, childList: true, subtree: true }});
"""

MARK_ALL = f"""async (touches) => {{
    const {{ outbox }} = await import("{SCRIPT}");
    const device = await outbox.fact("active");
    for (const touch of touches) await outbox.addEvent(device, outbox.newId(), touch);
}}"""


@dataclass(frozen=True)
class Stage:
    """A show and the code for a phone of its first judge."""

    words: str
    code: str


def whole_cards(slug: str, n_entries: int) -> Show:
    """Plan a show in which every judge looks at all sixty rows of every wagon."""
    show = build_show(
        slug=slug,
        n_entries=n_entries,
        n_judges=JUDGES,
        judges_per_section=JUDGES,
        judging_minutes=240 * n_entries,
        kin=False,
        scorecard=CARD,
    )
    draw_panel(show)
    open_window(show)
    return show


def stages() -> list[Stage]:
    """Plan the shows."""
    shows = {
        "20 wagons": seated_show("twenty", 20),
        "40 wagons of 60 rows": whole_cards("forty", 40),
    }
    found = []
    for words, show in shows.items():
        judge = judge_of(show, "J1")
        _, code = make_pairing_code(judge=judge, by=office_of(show), at=timezone.now())
        found.append(Stage(words, code))
    # The browser's own loop bars the database from this process; the server has it now.
    connections.close_all()
    return found


class SlowPhone:
    """A judge's phone, half-way round."""

    def __init__(self, page: Page, url: str, code: str) -> None:
        self.phone = RoundPage(page, url)
        self.page = page
        page.add_init_script(READY)
        self.phone.pair(f"#pair={code}")
        bundle = self.phone.server_round()
        self.card: dict[str, Any] = bundle["card"]
        self.visits: list[dict[str, Any]] = bundle["visits"]
        self.next = len(self.visits) // 2
        self.marks = self.mark_earlier()
        cdp: CDPSession = page.context.new_cdp_session(page)
        cdp.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})

    def mark_earlier(self) -> int:
        """Mark the first half of the wagons on this phone and send it all."""
        marks = [
            {"kind": "mark", "entry": visit["entry"]["id"], "criterion": row, "state": "marked",
             "value": "7"}
            for visit in self.visits[: self.next]
            for row in self.rows_of(visit)
        ]  # fmt: skip
        self.page.evaluate(MARK_ALL, marks)
        self.phone.reload()
        self.phone.expect_waiting(0)
        return len(marks)

    def rows_of(self, visit: dict[str, Any]) -> list[str]:
        """The rows of the sections that the judge has at this wagon, for any rig."""
        return [
            row["code"]
            for section in self.card["sections"]
            if section["code"] in visit["sections"]
            for row in section["criteria"]
            if not row["applies"]
        ]

    def touches(self) -> Iterator[tuple[float, float]]:
        """Yield a touch's time and the floor's, in turn [ms]."""
        left = TOUCHES
        for visit in self.visits[self.next :]:
            self.phone.reload()
            self.page.evaluate(f"() => (location.hash = 'card={visit['entry']['id']}')")
            self.page.wait_for_selector("header.wagon")
            self.page.evaluate(f"({WATCH})()")
            for row in self.phone.empty_rows():
                if not left:
                    return
                left -= 1
                yield self.touch(row), self.page.evaluate(f"floorOf({left})")

    def touch(self, row: str) -> float:
        """Tap a key of the open row; return when its tick was on the screen."""
        self.page.wait_for_timeout(BETWEEN_MS)
        key = self.phone.unfold(row).locator(".key[data-key='8']")
        ticks = self.page.evaluate_handle(f"({{ tick: tickOf({row!r}, '8') }})")
        key.tap()
        took = float(ticks.evaluate("(it) => it.tick"))
        ticks.dispose()
        return took

    def loads(self) -> list[float]:
        """Open the page anew without a signal; return when it could be used, each time [ms]."""
        self.page.goto(f"{self.phone.url}/round/")
        self.phone.ready()
        self.page.context.set_offline(True)
        found = []
        for _ in range(LOADS):
            self.page.reload()
            opened = self.page.wait_for_selector("html[data-usable-at]:has(#list-title)")
            found.append(float((opened and opened.get_attribute("data-usable-at")) or "nan"))
        return found


def measured(stage: Stage, page: Page, url: str) -> Iterator[Row]:
    """Measure one show."""
    phone = SlowPhone(page, url, stage.code)
    pairs = list(phone.touches())
    times, floors = [one for one, _ in pairs], [floor for _, floor in pairs]
    late, late_floor = (quantiles(given, n=20)[-1] for given in (times, floors))
    yield Row(
        NAME,
        f"touch to tick, {stage.words}, {SLOWER} times slower; strict transaction and a word",
        median(times),
        median(floors),
        median(one / floor for one, floor in pairs),
        (Bound("p95 ms", late, TOUCH_MS),),
        f"{len(times)} touches after {phone.marks} marks on this phone; "
        f"p95 of the floor {late_floor:.1f} ms",
    )
    loads = phone.loads()
    script = (ROOT / "judging/static/judging/offline/page.js").read_bytes()
    size = len(gzip.compress(script, mtime=0))
    yield Row(
        NAME,
        f"page open without a signal, {stage.words}, {SLOWER} times slower",
        median(loads),
        bounds=(Bound("ms", median(loads), LOAD_MS), Bound("bytes of script", size, SCRIPT_BYTES)),
        note=f"slowest of {len(loads)}: {max(loads):.0f} ms",
    )


def rows() -> Iterator[Row]:
    """Measure both shows on one service."""
    program = find_chromium(os.environ)
    if isinstance(program, Missing):
        print(f"not measured: the judge's page; {program.reason}", file=sys.stderr)
        return
    staged = stages()
    live = LiveShow(Path(os.environ["SHOWRUN_DATA"]), os.environ["DATABASE_URL"])
    live.start_web()
    try:
        with sync_playwright() as driver:
            chromium = driver.chromium.launch(executable_path=program, args=FLAGS)
            for stage in staged:
                context = chromium.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
                yield from measured(stage, context.new_page(), live.url)
                context.close()
            chromium.close()
    finally:
        live.stop_web()
