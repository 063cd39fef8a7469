"""Somebody who finds their way by what stands on the page, with every step counted."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import FilePayload, Locator, Page, expect

from tests.browser.steps import Kind, Steps


def part_of(page: Page, heading: str) -> Locator:
    """The section, article or unfolded part of the page under this heading."""
    return page.locator("section, article, fieldset", has=page.get_by_role("heading", name=heading))


@dataclass
class Walker:
    """A person at one browser. Only `arrive` types an address; all else is found on the page."""

    page: Page
    name: str  # of its pictures
    steps: Steps = field(default_factory=Steps)
    faults: list[str] = field(default_factory=list)
    _shots: int = 0

    def __post_init__(self) -> None:
        self.page.on("domcontentloaded", lambda page: self.steps.add(Kind.LOAD, page.url))
        self.page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        self.page.on("console", lambda line: self._hear(line.text))

    def _hear(self, line: str) -> None:
        if "Content Security Policy" in line:
            self.faults.append(line)

    def begin(self, part: str) -> None:
        """Give the steps that follow a name."""
        self.steps.part = part

    def arrive(self, address: str) -> None:
        """Open the first page, or a link out of a mail or off a phone's camera."""
        self.steps.add(Kind.TAP, address)
        self.page.goto(address)

    # --- By what stands there -------------------------------------------------------------

    def follow(self, link: str, *, within: Locator | None = None, exact: bool = False) -> None:
        """Follow the first link of these words."""
        found = (within or self.page).get_by_role("link", name=link, exact=exact).first
        self.tap(found, link)

    def press(self, button: str, *, within: Locator | None = None, exact: bool = False) -> None:
        """Press the first button of these words."""
        found = (within or self.page).get_by_role("button", name=button, exact=exact).first
        self.tap(found, button)

    def unfold(self, words: str, *, within: Locator | None = None) -> None:
        """Unfold what says these words."""
        self.tap((within or self.page).locator("summary", has_text=words).first, words)

    def tick(self, label: str, *, within: Locator | None = None, again: bool = False) -> None:
        """Tick a box or choose a dot."""
        self._note(Kind.AGAIN if again else Kind.TAP, label)
        (within or self.page).get_by_label(label).first.check()

    def type_in(self, label: str, words: str, *, within: Locator | None = None) -> None:
        """Type in the field of this label; what stands in it goes."""
        self._note(Kind.TYPE, label, len(words))
        scope = within or self.page
        scope.locator("input, textarea").and_(scope.get_by_label(label)).first.fill(words)

    def choose(self, label: str, line: str, *, within: Locator | None = None) -> None:
        """Choose a line of a list."""
        self._note(Kind.CHOOSE, f"{label}: {line}")
        (within or self.page).get_by_label(label).first.select_option(label=line)

    def give_file(self, label: str, file: FilePayload) -> None:
        """Choose a file: the field, the file in the window that opens, and that window's button."""
        for what in (label, file["name"], "Open"):
            self._note(Kind.TAP, what)
        self.page.get_by_label(label).first.set_input_files(file)

    def tap(self, target: Locator, what: str, *, again: bool = False) -> None:
        """Tap something and wait until the page that may come is there."""
        self._note(Kind.AGAIN if again else Kind.TAP, what)
        target.click()
        self.page.wait_for_load_state()

    def read(self, words: str, *, within: Locator | None = None) -> None:
        """Look for words that must stand where they can be seen."""
        self._note(Kind.READ, words)
        expect((within or self.page.locator("body")).get_by_text(words).first).to_be_visible()

    def _note(self, kind: Kind, what: str, typed: int = 0) -> None:
        self.steps.add(kind, what, typed)

    # --- Pictures -------------------------------------------------------------------------

    def shoot(self, what: str) -> None:
        """Keep a picture of the whole page when SHOWRUN_SCREENSHOTS names a folder."""
        folder = os.environ.get("SHOWRUN_SCREENSHOTS", "")
        if folder:
            self._shots += 1
            path = Path(folder) / f"{self.name}-{self._shots:02}-{what}.png"
            path.parent.mkdir(parents=True, exist_ok=True)
            self.page.screenshot(path=str(path), full_page=True)

    def finish(self) -> str:
        """Hold that nothing broke on the way; return the counts."""
        assert self.faults == []
        report = f"{self.name}\n{self.steps.report()}"
        print(report)
        return report
