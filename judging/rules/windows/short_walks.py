"""Announced times held against the camp as it stands now: walks that take longer than they may."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise


@dataclass(frozen=True)
class Stay:
    """A judge's announced stay; `place` is the wagon's row in the walking times."""

    judge: Hashable
    place: int
    starts_at: datetime
    ends_at: datetime


@dataclass(frozen=True)
class ShortWalk:
    """A walk for which the times leave less than it takes now [min]."""

    judge: Hashable
    leaves: int
    reaches: int
    takes: int
    has: int


def short_walks(stays: Iterable[Stay], walk: Sequence[Sequence[int]]) -> tuple[ShortWalk, ...]:
    """List the walks between two stays of a judge that the announced times leave too little for.

    Parameters
    ----------
    stays : iterable of Stay
        As announced, in any order.
    walk : sequence of sequence of int, shape (n_places, n_places) [min]
        How long a judge walks, by the camp as it stands now.

    Returns
    -------
    tuple of ShortWalk
        By judge as they first come, then by time.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = lambda minute: datetime(2027, 5, 15, 8, minute, tzinfo=UTC)
    >>> stays = [Stay("J1", 1, at(0), at(10)), Stay("J1", 2, at(12), at(20))]
    >>> short_walks(stays, [[0, 1, 1], [1, 0, 5], [1, 5, 0]])
    (ShortWalk(judge='J1', leaves=1, reaches=2, takes=5, has=2),)
    """
    own: dict[Hashable, list[Stay]] = defaultdict(list)
    for stay in stays:
        own[stay.judge].append(stay)
    found = []
    for judge, days in own.items():
        days.sort(key=lambda stay: (stay.starts_at, stay.ends_at))
        for one, other in pairwise(days):
            has = (other.starts_at - one.ends_at) // timedelta(minutes=1)
            takes = walk[one.place][other.place]
            if takes > has:
                found.append(ShortWalk(judge, one.place, other.place, takes, has))
    return tuple(found)
