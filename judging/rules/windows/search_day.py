"""One judge's day: minutes away, the way on foot round them, and where the breaks can go."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import TYPE_CHECKING

from showrun.language import gettext as _

if TYPE_CHECKING:
    from judging.rules.windows.problem import Break, Span

ALL_ORDERS_UP_TO = 5  # breaks of one judge; more are tried by their latest end alone


def merged(spans: Iterable[Span]) -> tuple[Span, ...]:
    """Put spans in order, join those that touch, and leave out what lies before minute 0.

    Parameters
    ----------
    spans
        Any order, overlapping or not [min].

    Returns
    -------
    tuple of Span
        Apart from each other, by time [min].

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> merged([(30, 40), (-5, 10), (10, 15), (35, 50)])
    ((0, 15), (30, 50))
    """
    joined: list[Span] = []
    for begins, ends in sorted(spans):
        if ends <= 0:
            continue
        if joined and begins <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], ends))
        else:
            joined.append((max(0, begins), ends))
    return tuple(joined)


def reached(now: int, minutes: int, away: Sequence[Span]) -> int:
    """Say when so many minutes have passed that are not spent away.

    Parameters
    ----------
    now
        Where the count begins [min].
    minutes
        Free minutes wanted [min].
    away
        As `merged` gives them.

    Returns
    -------
    int
        The first minute by which they have passed [min].

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> reached(5, 8, ((10, 30),)), reached(5, 5, ((10, 30),)), reached(5, 0, ((0, 30),))
    (33, 10, 5)
    """
    for begins, ends in away:
        if not minutes:
            break
        if ends <= now:
            continue
        if now + minutes <= begins:
            break
        minutes -= max(0, begins - now)
        now = ends
    return now + minutes


def fitted(now: int, minutes: int, away: Sequence[Span]) -> int:
    """Say when a piece of so many minutes can begin at the soonest.

    Parameters
    ----------
    now
        Not before this minute [min].
    minutes
        Length of the piece [min].
    away
        Spans it must not overlap, as `merged` gives them.

    Returns
    -------
    int
        Its soonest begin [min].

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> fitted(5, 5, ((10, 30),)), fitted(6, 5, ((10, 30), (34, 40)))
    (5, 40)
    """
    for begins, ends in away:
        if now + minutes <= begins:
            break
        now = max(now, ends)
    return now


@dataclass(frozen=True)
class Rest:
    """A break with the last minute at which it can still begin, the later breaks kept in mind.

    Parameters
    ----------
    minutes
        Its length [min].
    earliest, last_begin
        It can begin from one to the other, where the judge is not away [min].
    """

    minutes: int
    earliest: int
    last_begin: int


def rests(breaks: Sequence[Break], away: Sequence[Span], who: object = "the judge") -> list[Rest]:
    """Order the breaks of one judge so that all of them can be had.

    Parameters
    ----------
    breaks
        Rests of one judge.
    away
        When that judge is away, as `merged` gives them.
    who
        Named when it cannot be.

    Returns
    -------
    list of Rest
        In the order in which they are taken.

    Raises
    ------
    ValueError
        When no order leaves room for all breaks.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> from judging.rules.windows.problem import Break
    >>> rests([Break(20, 60, 120), Break(10, 60, 90)], [(70, 75)])
    [Rest(minutes=10, earliest=60, last_begin=80), Rest(minutes=20, earliest=60, last_begin=100)]
    """
    own = sorted(breaks, key=lambda rest: (rest.latest, rest.earliest))
    orders = permutations(own) if len(own) <= ALL_ORDERS_UP_TO else [tuple(own)]
    for order in orders:
        if (found := _backwards(order, away)) is not None:
            return found
    raise ValueError(
        _("{who} has no time for {breaks} beside the time away").format(
            who=who, breaks=_in_words(own)
        )
    )


def _backwards(order: Sequence[Break], away: Sequence[Span]) -> list[Rest] | None:
    found: list[Rest] = []
    limit = max((rest.latest for rest in order), default=0)
    for rest in reversed(order):
        limit = _last_begin(rest.minutes, min(limit, rest.latest), away)
        if limit < max(0, rest.earliest):
            return None
        found.append(Rest(rest.minutes, max(0, rest.earliest), limit))
    return found[::-1]


def _last_begin(minutes: int, latest: int, away: Sequence[Span]) -> int:
    for begins, ends in reversed(away):
        if latest - minutes >= ends:
            break
        latest = min(latest, begins)
    return latest - minutes


def _in_words(breaks: Sequence[Break]) -> str:
    words = [
        _("{minutes} minutes between {earliest} and {latest}").format(
            minutes=rest.minutes, earliest=rest.earliest, latest=rest.latest
        )
        for rest in breaks
    ]
    return _("a break of {breaks}").format(breaks=_(" and one of ").join(words))


@dataclass(frozen=True)
class Gap:
    """Free time between two visits of a judge.

    Parameters
    ----------
    begins, ends
        End of the visit before, or 0, and start of the next, None after the last [min].
    walk
        Walking between the two [min].
    """

    begins: int
    ends: int | None
    walk: int


def placed_rests(
    breaks: Sequence[Break], gaps: Sequence[Gap], away: Sequence[Span]
) -> list[tuple[int, int]] | None:
    """Find where a judge takes each break between given visits.

    Parameters
    ----------
    breaks
        Rests of the judge, shape ``(n_breaks,)``.
    gaps
        Free time by the clock, shape ``(n_visits + 1,)``.
    away
        When the judge is away, as `merged` gives them.

    Returns
    -------
    list of (int, int) or None
        Number of the gap and begin of each break [min]; None where they do not fit.

    Notes
    -----
    Every order of the breaks and every choice of gaps is tried; there is seldom more than one.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> from judging.rules.windows.problem import Break
    >>> placed_rests([Break(20, 60, 120)], [Gap(0, 50, 3), Gap(58, 84, 6), Gap(90, None, 0)], [])
    [(1, 60)]
    """
    for order in permutations(range(len(breaks))):
        found = _placed([breaks[k] for k in order], gaps, away, 0, 0, 0)
        if found is not None:
            back = dict(zip(order, found, strict=True))
            return [back[k] for k in range(len(breaks))]
    return None


def _placed(
    left: Sequence[Break],
    gaps: Sequence[Gap],
    away: Sequence[Span],
    first: int,
    after: int,
    used: int,
) -> list[tuple[int, int]] | None:
    """Place the breaks left from gap ``first`` on, where ``used`` minutes are taken already."""
    if not left:
        return []
    rest = left[0]
    for g in range(first, len(gaps)):
        gap = gaps[g]
        taken = used if g == first else 0
        begin = fitted(max(gap.begins, after, rest.earliest), rest.minutes, away)
        if begin + rest.minutes > rest.latest:
            return None
        if gap.ends is not None and (
            begin + rest.minutes > gap.ends
            or reached(gap.begins, gap.walk + taken + rest.minutes, away) > gap.ends
        ):
            continue
        later = _placed(left[1:], gaps, away, g, begin + rest.minutes, taken + rest.minutes)
        if later is not None:
            return [(g, begin), *later]
    return None
