"""Which queue a paper waits in, so that nobody at a table waits behind two hundred sheets."""

from __future__ import annotations

from typing import Final

URGENT: Final = "urgent"
BULK: Final = "bulk"

# Somebody stands at a table, at a wagon or at the microphone until it is there.
WAITED_FOR: Final = frozenset({"card", "calls", "receipt", "wall"})


def queue_of(kind: str) -> str:
    """Return the queue for papers of a kind: `URGENT` or `BULK`.

    Source
    ------
    common practice, no source

    Example
    -------
    >>> queue_of("receipt"), queue_of("feedback")
    ('urgent', 'bulk')
    """
    return URGENT if kind in WAITED_FOR else BULK
