"""Whole numbers as forms and addresses bring them."""

from __future__ import annotations

LONGEST = 18  # digits: no database keeps more, and Python itself refuses to read thousands


def number_sent(typed: str | None) -> int:
    """Read the number of a row, or a count; 0, which no row has, for anything else."""
    text = typed or ""
    return int(text) if text.isascii() and text.isdecimal() and len(text) <= LONGEST else 0
