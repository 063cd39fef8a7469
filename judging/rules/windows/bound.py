"""The judge or the wagon that no rotation can be quicker than."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from judging.rules.windows.walk import WalkMinutes, check_walk, from_gate, shortest_walk

Entry = Hashable
Judge = Hashable
# Keys are entries or judges; a mapping's key type is invariant, so Any lets every dict in.
Names = Mapping[Any, str]
Spots = Mapping[Any, int]


@dataclass(frozen=True)
class VisitNeed:
    """One judge, or one panel that walks together, must spend these minutes at one wagon.

    Parameters
    ----------
    entry, judge
        Any hashable values.
    minutes
        Whole minutes of the visit, talk and settling included [min].
    """

    entry: Entry
    judge: Judge
    minutes: int

    def __post_init__(self) -> None:
        if self.minutes < 1:
            raise ValueError("a visit takes at least one whole minute")


@dataclass(frozen=True)
class Bound:
    """The one judge or wagon that no rotation can be quicker than.

    Parameters
    ----------
    minutes
        [min] from the opening of the window.
    kind
        Whether a judge or a wagon sets it.
    who
        That judge or entry.
    sentence
        The sum behind it in words.
    """

    minutes: int
    kind: Literal["judge", "wagon"]
    who: Hashable
    sentence: str


def rotation_bound(
    visits: Sequence[VisitNeed],
    walk: WalkMinutes,
    spot: Spots,
    crew_reset_minutes: int,
    names: Names | None = None,
) -> Bound:
    """Say which judge or wagon no rotation can be quicker than.

    Parameters
    ----------
    visits
        Shape ``(n_visits,)``.
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min]; row 0 is the gate.
    spot
        Row of ``walk`` for each entry.
    crew_reset_minutes
        The crew's time between two visits at its wagon [min].
    names
        Words for judges and entries.

    Returns
    -------
    Bound
        The largest of all judges' and all wagons' bounds.

    Notes
    -----
    Judge: sum of the minutes + shortest walk from the gate. Wagon: quickest way from the gate,
    past other spots if that is quicker, + sum of the minutes + a reset between each two visits.
    With no more wagons than judges the best rotation may be far longer than either.

    Source
    ------
    Taillard (1993), EJOR 64:278-285: load bounds of the open shop, here with walking and resets.

    Example
    -------
    >>> visits = [VisitNeed(w, j, 9) for w in (1, 2) for j in ("gear", "fire")]
    >>> table = ((0, 1, 2), (1, 0, 1), (2, 1, 0))
    >>> rotation_bound(visits, table, {1: 1, 2: 2}, 3, {2: "wagon 2"}).sentence
    'wagon 2: 2 from the gate + 2 visits x 9 + 3 of crew reset = 23 minutes; none can be shorter.'
    """
    check_walk(walk)
    if not visits:
        raise ValueError("there is no visit to plan")
    bounds = [
        _judge_bound(judge, own, walk, spot, names or {})
        for judge, own in by(visits, lambda need: need.judge).items()
    ]
    gate = from_gate(walk)
    bounds += [
        wagon_bound(entry, own, gate[spot[entry]], crew_reset_minutes, names or {})
        for entry, own in by(visits, lambda need: need.entry).items()
    ]
    return max(bounds, key=lambda bound: bound.minutes)


def _judge_bound(
    judge: Judge,
    own: Sequence[VisitNeed],
    walk: WalkMinutes,
    spot: Spots,
    names: Names,
) -> Bound:
    walking = shortest_walk(walk, [spot[need.entry] for need in own]).lower_bound
    minutes = total(own) + walking
    return Bound(
        minutes,
        "judge",
        judge,
        f"{named(judge, names)}: {visits_in_words(own, 'visit')} + {walking} walking "
        f"= {minutes} minutes; none can be shorter.",
    )


def wagon_bound(
    entry: Entry, own: Sequence[VisitNeed], gate: int, reset: int, names: Names
) -> Bound:
    resets = (len(own) - 1) * reset
    minutes = gate + total(own) + resets
    return Bound(
        minutes,
        "wagon",
        entry,
        f"{named(entry, names)}: {gate} from the gate + {visits_in_words(own, 'visit')} "
        f"+ {resets} of crew reset = {minutes} minutes; none can be shorter.",
    )


def visits_in_words(visits: Sequence[VisitNeed], noun: str) -> str:
    minutes = {need.minutes for need in visits}
    if len(minutes) == 1:
        return f"{counted(len(visits), noun)} x {minutes.pop()}"
    return f"{counted(len(visits), noun)} of {total(visits)} minutes in all"


def by(
    visits: Sequence[VisitNeed], key: Callable[[VisitNeed], Hashable]
) -> dict[Hashable, list[VisitNeed]]:
    groups: dict[Hashable, list[VisitNeed]] = {}
    for need in visits:
        groups.setdefault(key(need), []).append(need)
    return groups


def total(visits: Sequence[VisitNeed]) -> int:
    return sum(need.minutes for need in visits)


def named(thing: Hashable, names: Names) -> str:
    return names.get(thing, str(thing))


def counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
