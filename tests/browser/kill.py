"""Ends a page or a whole browser as a phone does it: at once, with nothing said."""

from __future__ import annotations

import os
import signal
from contextlib import suppress
from pathlib import Path

from playwright.sync_api import BrowserContext, Page
from playwright.sync_api import Error as PlaywrightError


def crash_page(page: Page) -> None:
    """End the process that runs the page; what its browser keeps stays."""
    with suppress(PlaywrightError):  # nothing is left to answer
        page.goto("chrome://crash")
    page.close()


def processes_of(folder: Path) -> list[int]:
    """Return the processes of the browser that keeps its data in the folder."""
    found = []
    for line in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = line.read_bytes()
        except OSError:
            continue
        if str(folder).encode() in words:
            found.append(int(line.parent.name))
    return found


def kill_browser(context: BrowserContext, folder: Path) -> None:
    """Kill the whole browser that keeps its data in the folder."""
    for process in processes_of(folder):
        with suppress(ProcessLookupError):  # a child may be gone with its parent
            os.kill(process, signal.SIGKILL)
    with suppress(PlaywrightError):  # nothing is left to answer; whichever is seen first
        context.close()
