"""Photograph the pages of README and guides: `python -m tests.browser.make_pictures`.

A service of its own is driven from entry to award sheet; on the way the pages are looked at in
a real Chromium. With a folder as argument, every other page is photographed into it as well,
by day and by night, on a desk and on a phone.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path

import django
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

# What drives the show reads its models, so the project is loaded before it.
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "showrun.project.settings.test")
django.setup()

# ruff: noqa: E402
from showrun.project.demo.drive import Drive
from showrun.project.demo.scenario import Scenario, read_scenario
from showrun.project.management.services_for_tests import Missing, find_chromium
from showrun.project.supervisor import Supervisor
from tests.browser.round_page import RoundPage
from tests.live import LiveShow

FOLDER = Path(__file__).parent / "pictures"
GUIDES = Path(__file__).parents[2] / "showrun/project/static/show/guides"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync"]
DESK, PHONE = {"width": 1100, "height": 760}, {"width": 390, "height": 844}
# At once: a page that still glides is photographed halfway.
TO_TOP = "one => one.scrollIntoView({ behavior: 'instant' })"
LARGEST = 150_000  # bytes
LARGEST_IN_GUIDES = 80_000
# What a judge's phone shows while it stands at its first wagon.
ON_THE_GROUND = datetime(2027, 5, 15, 14, 6, tzinfo=UTC)
JUDGE, MARKS = "abara", ("8", "7", "9", "6")
PAGES = (
    *("", "entries/", "judges/", "scorecard/", "panel/", "window/", "progress/", "questions/"),
    *("results/", "record/", "papers/"),
)


def keep(shot: bytes, name: str, folder: Path = FOLDER, largest: int = LARGEST) -> None:
    """Write a picture with as few colours as keep it small."""
    picture = Image.open(BytesIO(shot)).convert("RGB")
    for colours in (128, 64, 32, 16):
        reduced = picture.quantize(colours, dither=Image.Dither.NONE)
        reduced.save(folder / f"{name}.png", optimize=True)
        size = (folder / f"{name}.png").stat().st_size
        if size < largest:
            print(f"{name}.png: {size // 1000} kB, {colours} colours")
            return
    raise SystemExit(f"{name}.png stays above {largest} bytes; photograph less of the page.")


def for_guide(page: Page, name: str) -> None:
    """Photograph what stands on the screen for a guide."""
    keep(page.screenshot(), name, GUIDES, LARGEST_IN_GUIDES)


@dataclass
class Stage:
    """The running show, and the browser that looks at it."""

    live: LiveShow
    scenario: Scenario
    browser: Browser
    review: Path | None

    @contextmanager
    def context(self, **options: object) -> Iterator[BrowserContext]:
        """A browser with nothing in it yet, with dots enough for sharp letters."""
        given = {"viewport": DESK, "device_scale_factor": 1.5, **options}
        context = self.browser.new_context(**given)  # type: ignore[arg-type]
        yield context
        context.close()

    def sign_in(self, page: Page, email: str) -> None:
        """Open somebody's link and press its button."""
        page.goto(self.live.sign_in_link(email))
        page.click("main button[type=submit]")
        page.wait_for_load_state()

    def visit(self, page: Page, address: str) -> None:
        """Open a page of the show; one that broke makes no picture."""
        answer = page.goto(self.live.url + address)
        if answer is None or answer.status >= 500:
            raise SystemExit(f"{address} broke: see the logs in {self.live.data}.")

    def look_at(self, page: Page, address: str, name: str) -> None:
        """Photograph a page for review, whole, in every light and width."""
        if self.review is None:
            return
        for width, size in (("desk", DESK), ("phone", PHONE)):
            for light in ("light", "dark"):
                page.set_viewport_size(size)  # type: ignore[arg-type]
                page.emulate_media(color_scheme=light)  # type: ignore[arg-type]
                self.visit(page, address)
                path = self.review / f"{name}-{width}-{light}.png"
                page.screenshot(path=str(path), full_page=True)
        page.set_viewport_size(DESK)  # type: ignore[arg-type]
        page.emulate_media(color_scheme="light")

    def office(self, name: str | None, when: str) -> None:
        """Photograph the office's start page, and for review every other one."""
        with self.context() as context:
            page = context.new_page()
            self.sign_in(page, self.scenario.office("show_secretary")["email"])
            start = f"/shows/{self.scenario.meta['slug']}/office/"
            self.visit(page, start)
            if name:
                keep(page.screenshot(), name)
                for_guide(page, "office-start")
                self.visit(page, f"{start}window/")
                page.locator("#fits-h").evaluate(TO_TOP)
                for_guide(page, "office-window")
            for part in PAGES:
                self.look_at(page, start + part, f"office-{when}-{part.strip('/') or 'start'}")

    def round(self, drive: Drive) -> None:
        """Photograph a judge's phone that has lost its signal at the first wagon."""
        judge_id = drive.judges[JUDGE]
        code = drive.office.post(f"/judges/{judge_id}/pairings", status=201)["code"]
        with self.context(viewport=PHONE, has_touch=True, is_mobile=True) as context:
            page = context.new_page()
            page.clock.set_system_time(ON_THE_GROUND)
            phone = RoundPage(page, self.live.url)
            phone.pair(f"#pair={code}")
            self.snap(page, "round-declared")
            phone.read_declared()
            self.snap(page, "round-list")
            for_guide(page, "judge-list")
            context.set_offline(True)
            phone.open_card(phone.entries()[0])
            for row, mark in zip(phone.rows(), MARKS, strict=False):
                phone.mark(row, mark)
            phone.unfold(phone.rows()[len(MARKS)])
            phone.expect_waiting(len(MARKS))
            # The marks, and the keys of the row that is open.
            phone.row(phone.rows()[0]).evaluate(TO_TOP)
            keep(page.screenshot(), "round")
            for_guide(page, "judge-card")
            self.snap(page, "round-card")
            phone.to_list()
            self.snap(page, "round-list-offline")

    def snap(self, page: Page, name: str) -> None:
        """Photograph the page as it stands, for review."""
        if self.review is not None:
            page.screenshot(path=str(self.review / f"{name}.png"), full_page=True)

    def exhibitor(self, drive: Drive) -> None:
        """Photograph the page of the first entry, and for review what everybody sees."""
        slug, line = self.scenario.meta["slug"], self.scenario.show["entries"][0]
        entry = f"/entries/{drive.entries[line['number']]}/"
        with self.context() as context:
            page = context.new_page()
            self.sign_in(page, line["exhibitor_email"])
            self.visit(page, entry)
            page.wait_for_selector(".facts")
            keep(page.screenshot(), "entry")
            for_guide(page, "exhibitor-entry")
            page.locator("#results").evaluate(TO_TOP)
            for_guide(page, "exhibitor-result")
            page.get_by_role("link", name="What to prepare").click()
            page.get_by_role("heading", name="First: lay").evaluate(TO_TOP)
            for_guide(page, "exhibitor-prepare")
            for address, name in ((entry, "entry"), (f"/shows/{slug}/enter/", "enter")):
                self.look_at(page, address, name)
        with self.context() as context:
            page = context.new_page()
            public = ("/", f"/shows/{slug}/", f"/shows/{slug}/results/", "/sign-in/", "/nowhere/")
            for address in (*public, "/papers/check/"):
                self.look_at(page, address, f"public-{address.strip('/').replace('/', '-')}")

    def paper(self, made: Path) -> None:
        """Photograph the first page of the first feedback sheet."""
        sheet = sorted(made.glob("feedback-*.pdf"))[0]
        command = ["pdftoppm", "-png", "-r", "90", "-f", "1", "-singlefile", str(sheet)]
        subprocess.run([*command, str(made / "sheet")], check=True)
        keep((made / "sheet.png").read_bytes(), "feedback")


def photograph(stage: Stage, supervisor: Supervisor, data: Path) -> None:
    """Drive the show through its day and photograph it on the way."""
    stage.live.manage("migrate", "--verbosity", "0")
    stage.live.manage("load_demo", "--bare")
    with supervisor:
        stage.live.port = supervisor.port
        people = [line["email"] for line in stage.scenario.show["people"]["office"]]
        people += [line["exhibitor_email"] for line in stage.scenario.all_entries]
        links = stage.live.manage("sign_in_link", "--base", stage.live.url, *people).split()
        link_for = dict(zip(people, links, strict=True)).__getitem__
        drive = Drive(
            base=stage.live.url, scenario=stage.scenario, link_for=link_for, out=data, say=print
        )
        drive.take_entries()
        drive.engage_judges()
        drive.draw_panel()
        drive.open_window()
        drive.pair_phones()
        stage.round(drive)
        late = drive.judge()
        stage.office("office", "judging")
        drive.settle_concerns_and_held()
        drive.settle_rig()
        drive.meet_incomplete(late)
        drive.sign_and_release()
        drive.make_papers()
        stage.exhibitor(drive)
        stage.paper(data / "papers")
        if stage.review is not None:
            stage.office(None, "released")


def main(review: Path | None) -> None:
    """Set the stage up, and take it down whatever happens."""
    chromium = find_chromium(os.environ)
    if isinstance(chromium, Missing):
        sys.exit(chromium.reason)
    for folder in (FOLDER, GUIDES, review):
        if folder is not None:
            folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="showrun-pictures-") as name, sync_playwright() as play:
        data = Path(name)
        browser = play.chromium.launch(executable_path=chromium, args=FLAGS)
        live = LiveShow(data=data)
        database = {"DATABASE_URL": live.env["DATABASE_URL"]}
        supervisor = Supervisor(data, "127.0.0.1", 0, None, env=database)
        photograph(Stage(live, read_scenario(), browser, review), supervisor, data)
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
