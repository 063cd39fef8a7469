"""Forgets what our functions have kept of earlier calls."""

from __future__ import annotations

import sys

OURS = ("showrun.", "entries.", "judging.", "reports.")


def forget_what_is_kept() -> None:
    """Empty the cache of each function of ours that has one, in whatever module it is loaded."""
    for name, module in list(sys.modules.items()):
        if not name.startswith(OURS):
            continue
        for one in list(vars(module).values()):
            if forget := getattr(one, "cache_clear", None):
                forget()
