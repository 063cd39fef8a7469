"""The pace clock: how long a judge still has at this wagon, and how far from the announced times.

The phone has the same rule in `judging/round_script/src/pace.ts`; both are held to the
vectors in `tests/vectors/pace.json`.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from showrun.language import gettext as _

MINUTE_S = 60
# Of a visit farther off nothing is said: the day has not begun, or there is a long pause.
FAR_MINUTES = 120


@dataclass(frozen=True)
class Stop:
    """One announced visit of a judge; instants are seconds of one clock [s].

    Parameters
    ----------
    key
        The wagon.
    starts_s, ends_s
        As announced.
    began_s, ended_s
        As it came about; None: not yet. A visit that ended without a known beginning counts as
        done.
    """

    key: Hashable
    starts_s: float
    ends_s: float
    began_s: float | None = None
    ended_s: float | None = None

    @property
    def done(self) -> bool:
        """Whether the judge has left it behind."""
        return self.ended_s is not None


@dataclass(frozen=True)
class Pace:
    """How a judge stands.

    Parameters
    ----------
    at
        The wagon where the judge is; None: on the way, or done.
    next
        The wagon after this one; None: there is none.
    left_minutes
        Of the planned length at this wagon [min]; negative: over by so many; None: at no wagon.
    wait_minutes
        Until the next announced start, for a judge on the way [min]; 0: it is due; None otherwise.
    behind_minutes
        Later than announced [min]; negative: earlier; None before the first visit is due and when
        all is done.
    words
        The same in words, "" when there is nothing to say.
    """

    at: Hashable | None
    next: Hashable | None
    left_minutes: int | None
    wait_minutes: int | None
    behind_minutes: int | None
    words: str


def pace(stops: Sequence[Stop], now_s: float) -> Pace:
    """Say how a judge stands against the announced times.

    Parameters
    ----------
    stops
        The judge's visits, in any order.
    now_s
        The moment, on the clock of the stops [s].

    Returns
    -------
    Pace
        Whole minutes: those left are rounded up, those behind or ahead towards on time.

    Notes
    -----
    At a wagon the visit is thought to take its planned length, or until now if that is longer;
    what lies after the announced end is behind. On the way a judge falls behind once the next
    start has passed. Of two visits under way the one begun last counts.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> stops = [Stop("wagon 3", 0, 540, began_s=360), Stop("wagon 4", 600, 1140)]
    >>> pace(stops, 660).words
    '4 min left here · 6 min behind'
    >>> pace([Stop("wagon 3", 600, 1140)], 300).words
    'next in 5 min'
    """
    here = _here(stops)
    ahead = sorted(
        (stop for stop in stops if not stop.done and stop.began_s is None),
        key=lambda stop: stop.starts_s,
    )
    after = ahead[0] if ahead else None
    if here is not None:
        return _at(here, after, now_s)
    if after is None:
        return Pace(None, None, None, None, None, "all wagons seen" if stops else "")
    return _on_the_way(after, now_s, begun=any(stop.done for stop in stops))


def _here(stops: Sequence[Stop]) -> Stop | None:
    under_way = [stop for stop in stops if not stop.done and stop.began_s is not None]
    return max(under_way, key=lambda stop: stop.began_s or 0, default=None)


def _at(here: Stop, after: Stop | None, now_s: float) -> Pace:
    began_s = here.began_s or 0
    length_s = here.ends_s - here.starts_s
    left_s = began_s + length_s - now_s
    behind = _towards_zero(max(began_s + length_s, now_s) - here.ends_s)
    left = math.ceil(left_s / MINUTE_S) if left_s > 0 else -math.floor(-left_s / MINUTE_S)
    words = f"{_left_words(left)} · {_behind_words(behind)}"
    return Pace(here.key, after.key if after else None, left, None, behind, words)


def _on_the_way(after: Stop, now_s: float, *, begun: bool) -> Pace:
    wait_s = after.starts_s - now_s
    wait = math.ceil(wait_s / MINUTE_S) if wait_s > 0 else 0
    behind = _towards_zero(max(-wait_s, 0))
    told = behind if begun or behind else None
    words = f"next in {wait} min" if wait else "next is due"
    if wait > FAR_MINUTES:
        words = ""
    if behind:
        words = f"{words} · {_behind_words(behind)}"
    return Pace(None, after.key, None, wait, told, words)


def _towards_zero(seconds: float) -> int:
    return math.trunc(seconds / MINUTE_S)


def _left_words(left: int) -> str:
    if left > 0:
        return _("{left} min left here").format(left=left)
    return _("{over} min over here").format(over=-left) if left else _("time is up here")


def _behind_words(behind: int) -> str:
    if behind == 0:
        return _("on time")
    return (
        _("{behind} min behind").format(behind=behind)
        if behind > 0
        else _("{ahead} min ahead").format(ahead=-behind)
    )
