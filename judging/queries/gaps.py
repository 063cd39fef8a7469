"""What everybody is told of the cards that a result lacks."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from judging.models import Result


@dataclass(frozen=True)
class PublicGap:
    """How many cards are missing of one section at one wagon; not whose they are."""

    entry: int
    section: str
    cards: int


def public_gaps(result: Result) -> list[PublicGap]:
    """Return the cards missing, by entry number and section code."""
    cards = Counter((gap["entry"], gap["section"]) for gap in result.gaps)
    return [PublicGap(entry, section, n) for (entry, section), n in sorted(cards.items())]
