"""How soon a wagon can have had all its visits when its crew or its judges go away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from judging.rules.windows.search_day import fitted

if TYPE_CHECKING:
    from judging.rules.windows.problem import Span

ALL_ORDERS_UP_TO = 10  # visits of one wagon; dynamic programming over 1,024 sets of them


@dataclass(frozen=True)
class Piece:
    """A visit as its wagon sees it.

    Parameters
    ----------
    earliest
        The judge cannot be there sooner [min].
    minutes
        Its length [min].
    away
        Spans it must not overlap, apart and in order [min].
    """

    earliest: int
    minutes: int
    away: tuple[Span, ...]


def crew_finish(pieces: Sequence[Piece], reset: int) -> int:
    """Say when the last of a wagon's visits ends at the soonest.

    Parameters
    ----------
    pieces
        Shape ``(n_visits,)``.
    reset
        Free minutes between two visits [min].

    Returns
    -------
    int
        Exact up to ten visits, above that no more than a bound [min].

    Notes
    -----
    Over every set of visits already had, the soonest end of the set: ending sooner is never
    worse, because whoever is ready sooner may wait. Above ten visits only the sum is taken.

    Source
    ------
    Held and Karp (1962), J. SIAM 10:196-210: sets instead of orders (from memory).

    Example
    -------
    >>> crew_finish([Piece(2, 10, ((20, 30),)), Piece(2, 9, ((20, 30),))], 1)
    39
    """
    if len(pieces) > ALL_ORDERS_UP_TO:
        first = min(piece.earliest for piece in pieces)
        return first + sum(piece.minutes for piece in pieces) + (len(pieces) - 1) * reset
    soonest = [0] * (1 << len(pieces))
    soonest[0] = -reset
    for had in range(1, len(soonest)):
        soonest[had] = min(
            fitted(max(soonest[had & ~(1 << p)] + reset, piece.earliest), piece.minutes, piece.away)
            + piece.minutes
            for p, piece in enumerate(pieces)
            if had >> p & 1
        )
    return soonest[-1]
