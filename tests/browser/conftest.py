"""A judge's phone in a real browser, against the real server."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Playwright, expect, sync_playwright

from judging.rules.cards.scorecard import Mark, MarkState
from tests.browser.round_page import RoundPage
from tests.browser.small_show import SmallShow
from tests.warm_show import WarmShow

CHROMIUM = os.environ.get("TEST_CHROMIUM", "/usr/bin/chromium")
# A test must not reach for the network on the browser's own account.
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
ORGANIZER = "opal.renner@showrun.example"  # whom whoever runs the service has named
PHONE = {"width": 390, "height": 844}
# Long enough for a machine on which four of these run at once; who waits for nothing fails then.
PATIENCE_MS = 20_000
expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="package")
def driver() -> Iterator[Playwright]:
    """What drives the browser; for this folder only, as its event loop bars Django's ORM."""
    if shutil.which(CHROMIUM) is None:
        pytest.skip(f"no Chromium at {CHROMIUM}; set TEST_CHROMIUM")
    with sync_playwright() as found:
        yield found


@pytest.fixture(scope="package")
def browser(driver: Playwright) -> Iterator[Browser]:
    """A headless Chromium."""
    found = driver.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield found
    found.close()


@pytest.fixture
def new_context(browser: Browser) -> Iterator[Callable[..., BrowserContext]]:
    """Make a phone with nothing on it; options go to the browser."""
    made: list[BrowserContext] = []

    def make(**options: object) -> BrowserContext:
        given = {"viewport": PHONE, "has_touch": True, "is_mobile": True, **options}
        context = browser.new_context(**given)  # type: ignore[arg-type]
        context.set_default_timeout(PATIENCE_MS)
        made.append(context)
        return context

    yield make
    for context in made:
        # A request that is still held back must not fail the test that comes next.
        for page in context.pages:
            page.unroute_all(behavior="ignoreErrors")
        context.unroute_all(behavior="ignoreErrors")
        context.close()


@pytest.fixture
def phone(new_context: Callable[..., BrowserContext], live_show) -> Iterator[RoundPage]:  # type: ignore[no-untyped-def]
    """A phone on the round's page; no script may fail and nothing may break the page's policy."""
    round_page = RoundPage(new_context().new_page(), live_show.url)
    yield round_page
    assert round_page.faults == []


# Every test pairs phones of its own, all from one address.
MANY_TRIES = {"PAIRING_TRIES_PER_MINUTE": "10000"}


@pytest.fixture(scope="session")
def live_show(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WarmShow]:
    """The invented show, served by a real web server of its own that starts and stops quickly."""
    yield from served(WarmShow(tmp_path_factory.mktemp("live"), more=MANY_TRIES))


@pytest.fixture(scope="module")
def own_service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WarmShow]:
    """A service of a file's own, where it may add shows that no other file looks at."""
    yield from served(WarmShow(tmp_path_factory.mktemp("own"), more={"SHOW_PLANNERS": ORGANIZER}))


def served(live: WarmShow) -> Iterator[WarmShow]:
    """The show with its web server, ended when it is not asked for any more."""
    live.prepare()
    live.start_web()
    yield live
    live.close()


@pytest.fixture(scope="session")
def small_show(live_show) -> SmallShow:  # type: ignore[no-untyped-def]
    """A show of three wagons with every form of section, in the same service."""
    return SmallShow(live_show).prepare()


@pytest.fixture(scope="session")
def signing_show(live_show) -> SmallShow:  # type: ignore[no-untyped-def]
    """One more such show, where cards are handed in that other tests want open."""
    return SmallShow(live_show, "small-signing").prepare()


@pytest.fixture
def shoot() -> Callable[[RoundPage, str], None]:
    """Keep a picture of the page when SHOWRUN_SCREENSHOTS names a folder."""
    folder = os.environ.get("SHOWRUN_SCREENSHOTS", "")

    def keep(round_page: RoundPage, name: str) -> None:
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            round_page.page.screenshot(path=str(Path(folder) / f"{name}.png"))

    return keep


def as_marks(given: dict[str, dict[str, str | None]]) -> dict[str, Mark]:
    """Read marks as they go over the wire."""
    return {
        code: Mark(
            MarkState(str(mark["state"])),
            None if mark["value"] is None else Decimal(mark["value"]),
        )
        for code, mark in given.items()
    }
