"""How much a drill does: enough to see it in each run, and all of it with `TEST_THOROUGH=1`."""

from __future__ import annotations

import os

THOROUGH = os.environ.get("TEST_THOROUGH") == "1"


def volume(everyday: int, thorough: int) -> int:
    """Return how many of something this run asks for."""
    return thorough if THOROUGH else everyday
