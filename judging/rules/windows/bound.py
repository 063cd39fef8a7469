"""The judge or the wagon that no rotation can be quicker than."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from judging.rules.windows.bound_crew import Piece, crew_finish
from judging.rules.windows.problem import (
    Break,
    Entry,
    Judge,
    Names,
    RotationProblem,
    Span,
    Spans,
    Spots,
    VisitNeed,
)
from judging.rules.windows.search_day import merged, reached, rests
from judging.rules.windows.walk import WalkMinutes, check_walk, from_gate, shortest_walk


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
    *,
    judge_away: Spans | None = None,
    crew_away: Spans | None = None,
    breaks: Mapping[Any, tuple[Break, ...]] | None = None,
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
    judge_away, crew_away, breaks
        As in `RotationProblem`.

    Returns
    -------
    Bound
        The largest of all judges' and all wagons' bounds.

    Raises
    ------
    ValueError
        When a judge has no time for a break.

    Notes
    -----
    Judge: sum of the minutes + shortest walk from the gate, in minutes not away, + every break
    that cannot wait until that is done. Wagon: quickest way from the gate, past other spots if
    that is quicker, + sum of the minutes + a reset between each two visits; where a crew or its
    judges are away, the soonest end over every order of the visits, each in one piece.
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
    >>> rotation_bound(visits, table, {1: 1, 2: 2}, 0, judge_away={"gear": ((5, 15),)}).sentence
    'gear: 2 visits x 9 + 2 walking + 10 away = 30 minutes; none can be shorter.'
    """
    check_walk(walk)
    if not visits:
        raise ValueError("there is no visit to plan")
    away = {who: merged(spans) for who, spans in (judge_away or {}).items()}
    bounds = [
        _judge_bound(
            judge, own, walk, spot, names or {}, away.get(judge, ()), (breaks or {}).get(judge, ())
        )
        for judge, own in by(visits, lambda need: need.judge).items()
    ]
    gate = from_gate(walk)
    for entry, own in by(visits, lambda need: need.entry).items():
        soonest = gate[spot[entry]]
        bound = wagon_bound(entry, own, soonest, crew_reset_minutes, names or {})
        closed = (crew_away or {}).get(entry, ())
        if closed or any(away.get(need.judge) for need in own):
            pieces = [
                Piece(
                    reached(0, soonest, away.get(need.judge, ())),
                    need.minutes,
                    merged((*closed, *away.get(need.judge, ()))),
                )
                for need in own
            ]
            bound = _round_away(bound, crew_finish(pieces, crew_reset_minutes), names or {})
        bounds.append(bound)
    return max(bounds, key=lambda bound: bound.minutes)


def bound_of(problem: RotationProblem) -> Bound:
    """Say the same of a whole problem, breaks and times away included.

    Parameters
    ----------
    problem
        The visits and all rules; fair ends do not count.

    Returns
    -------
    Bound
        As `rotation_bound` gives it.

    Raises
    ------
    ValueError
        When a judge has no time for a break.

    Source
    ------
    As `rotation_bound`.

    Example
    -------
    >>> from judging.rules.windows.problem import RotationProblem
    >>> bound_of(RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1})).minutes
    7
    """
    return rotation_bound(
        problem.visits,
        problem.walk,
        problem.spot,
        problem.crew_reset_minutes,
        judge_away=problem.judge_away,
        crew_away=problem.crew_away,
        breaks=problem.breaks,
    )


def _judge_bound(
    judge: Judge,
    own: Sequence[VisitNeed],
    walk: WalkMinutes,
    spot: Spots,
    names: Names,
    away: Sequence[Span],
    breaks: Sequence[Break],
) -> Bound:
    walking = shortest_walk(walk, [spot[need.entry] for need in own]).lower_bound
    last_begins = [
        (alone.last_begin, alone.minutes)
        for rest in breaks
        for alone in rests([rest], away, named(judge, names))
    ]
    resting, minutes = -1, 0
    needed = 0
    while needed != resting:
        # A break that cannot begin after the last visit lies before it, so it makes it later.
        resting = needed
        minutes = reached(0, total(own) + walking + resting, away)
        needed = sum(length for begin, length in last_begins if begin < minutes)
    out = minutes - total(own) - walking - resting
    extra = f" + {resting} of breaks" * bool(resting) + f" + {out} away" * bool(out)
    return Bound(
        minutes,
        "judge",
        judge,
        f"{named(judge, names)}: {visits_in_words(own, 'visit')} + {walking} walking{extra} "
        f"= {minutes} minutes; none can be shorter.",
    )


def _round_away(bound: Bound, minutes: int, names: Names) -> Bound:
    """Raise a wagon's bound to what times away leave possible."""
    if minutes <= bound.minutes:
        return bound
    return replace(
        bound,
        minutes=minutes,
        sentence=f"{named(bound.who, names)}: no order of its visits round the times away ends "
        f"before minute {minutes}; none can be shorter.",
    )


def wagon_bound(
    entry: Entry, own: Sequence[VisitNeed], gate: int, reset: int, names: Names
) -> Bound:
    """Bound by one wagon: the way from the gate, its visits and the resets between them."""
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
    """Say how many visits there are and how long they take."""
    minutes = {need.minutes for need in visits}
    if len(minutes) == 1:
        return f"{counted(len(visits), noun)} x {minutes.pop()}"
    return f"{counted(len(visits), noun)} of {total(visits)} minutes in all"


def by(
    visits: Sequence[VisitNeed], key: Callable[[VisitNeed], Hashable]
) -> dict[Hashable, list[VisitNeed]]:
    """Put visits into groups, in the order the groups first come."""
    groups: dict[Hashable, list[VisitNeed]] = {}
    for need in visits:
        groups.setdefault(key(need), []).append(need)
    return groups


def total(visits: Sequence[VisitNeed]) -> int:
    """Add the visits' minutes up [min]."""
    return sum(need.minutes for need in visits)


def named(thing: Hashable, names: Names) -> str:
    """Name a thing as people do, or by its key."""
    return names.get(thing, str(thing))


def counted(number: int, noun: str) -> str:
    """Say how many of something, in digits."""
    return f"{number} {noun}{'' if number == 1 else 's'}"


def listed(words: Sequence[str]) -> str:
    """List words as a sentence does."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
