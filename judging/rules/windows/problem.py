"""What a rotation is asked to do, and what it is: the words every planner and checker shares.

The rules of a rotation, for whoever draws or checks one:

1. Every visit asked for takes place once, in one piece, with its full minutes; no other does.
2. A wagon has one judge at a time, and its crew has ``crew_reset_minutes`` free between two visits.
3. A judge is at one wagon at a time. Between two visits there is the walk between their spots;
   before the first visit the walk from the gate, where every judge stands at minute 0.
4. No visit overlaps a span in which its crew or its judge is away. A crew that is away still has
   its reset between two visits; the time away may serve as reset.
5. A judge does not walk while away: the free minutes between two visits, less those away, hold
   the walk. The same holds between minute 0 and the first visit.
6. A judge rests each break in one piece, wholly inside its span, not while visiting, walking or
   away; anywhere on the way will do. A break may come before the first visit or after the last.
7. With ``fair_ends`` no wagon is the first stop of more judges than must be, nor the last: at most
   ``ceil(judges / wagons)`` of those who come to more than one wagon.

A span ``(a, b)`` holds the minutes from a up to, and without, b.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from typing import Any

from judging.rules.windows.walk import WalkMinutes, check_walk

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


Span = tuple[int, int]
# Keys are entries or judges; a mapping's key type is invariant, so Any lets every dict in.
Spans = Mapping[Any, tuple[Span, ...]]


@dataclass(frozen=True)
class Break:
    """A rest a judge must have.

    Parameters
    ----------
    minutes
        Its length, in one piece [min].
    earliest, latest
        It begins no sooner and ends no later [min from the opening].
    """

    minutes: int
    earliest: int
    latest: int

    def __post_init__(self) -> None:
        if self.minutes < 1:
            raise ValueError("a break takes at least one whole minute")
        if self.latest - self.earliest < self.minutes:
            raise ValueError(
                f"a break of {self.minutes} minutes does not fit between minute {self.earliest} "
                f"and {self.latest}"
            )


@dataclass(frozen=True)
class RotationProblem:
    """The visits to be placed in a window.

    Parameters
    ----------
    visits
        Shape ``(n_visits,)``, each pair of entry and judge once.
    walk
        Shape ``(n_spots + 1, n_spots + 1)`` [min], symmetric; row 0 is the gate.
    spot
        Row of ``walk`` for each entry.
    crew_reset_minutes
        The crew's time between two visits at its wagon [min].
    judge_away, crew_away
        Spans in which a judge, or the crew of an entry, cannot take a visit [min from the opening].
    breaks
        Rests of each judge.
    fair_ends
        Whether first and last stops are spread over the wagons.
    """

    visits: tuple[VisitNeed, ...]
    walk: WalkMinutes
    spot: Spots
    crew_reset_minutes: int = 0
    judge_away: Spans = field(default_factory=dict)
    crew_away: Spans = field(default_factory=dict)
    breaks: Mapping[Any, tuple[Break, ...]] = field(default_factory=dict)
    fair_ends: bool = False

    def __post_init__(self) -> None:
        check_walk(self.walk)
        if not self.visits:
            raise ValueError("there is no visit to plan")
        if self.crew_reset_minutes < 0:
            raise ValueError("a crew reset cannot take less than no time")
        pair, times = Counter((need.entry, need.judge) for need in self.visits).most_common(1)[0]
        if times > 1:
            raise ValueError(f"judge {pair[1]} is to visit entry {pair[0]} {times} times")
        for need in self.visits:
            if not 1 <= self.spot.get(need.entry, 0) < len(self.walk):
                raise ValueError(f"entry {need.entry} has no camp spot in the walking table")
        for who, spans in (*self.judge_away.items(), *self.crew_away.items()):
            for a, b in spans:
                if a >= b:
                    raise ValueError(f"{who} is away from minute {a} to {b}, which is no time")

    @property
    def on_the_clock(self) -> bool:
        """Whether it matters when the window opens: somebody is away, or rests, at set times."""
        return bool(self.judge_away or self.crew_away or self.breaks)


@dataclass(frozen=True)
class Visit:
    """One judge at one wagon, in whole minutes from the opening of the window [min]."""

    entry: Entry
    judge: Judge
    start: int
    end: int


@dataclass(frozen=True)
class Rotation:
    """A timetable of all visits.

    Parameters
    ----------
    visits
        By start.
    makespan
        End of the last visit [min].
    lower_bound
        No rotation is shorter [min].
    proven
        Whether this rotation is known to be a shortest one.
    solver
        What made it.
    """

    visits: tuple[Visit, ...]
    makespan: int
    lower_bound: int
    proven: bool
    solver: str

    @property
    def gap_minutes(self) -> int:
        """At most so many minutes longer than a shortest rotation [min]."""
        return 0 if self.proven else self.makespan - self.lower_bound

    @property
    def gap_share(self) -> float:
        """The same as a share of the lower bound."""
        return self.gap_minutes / self.lower_bound
