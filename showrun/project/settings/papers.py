"""The paper that papers are printed on."""

from __future__ import annotations

from django.core.exceptions import ImproperlyConfigured

SIZES = ("letter", "a4")


def paper_size(given: str) -> str:
    """Return the size as the style sheets name it, or say which ones there are."""
    size = given.strip().lower()
    if size not in SIZES:
        raise ImproperlyConfigured(f"PAPER_SIZE is “{given}”; it can be {' or '.join(SIZES)}.")
    return size
