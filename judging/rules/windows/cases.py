"""What stays the same while a way out of a short window is tried, and how long it then takes."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from datetime import time
from typing import Literal

from judging.rules.windows.bound import (
    Bound,
    by,
    named,
    rotation_bound,
    total,
    visits_in_words,
    wagon_bound,
)
from judging.rules.windows.problem import Entry, Judge, Names, Spots, VisitNeed
from judging.rules.windows.walk import Walk, WalkMinutes, from_gate, shortest_walk

Hold = Literal["plan", "likely"]


@dataclass(frozen=True)
class Length:
    """How long the judging takes with some visits.

    Parameters
    ----------
    plan
        End of the shortest plan found, every visit taking just its minutes [min].
    likely
        Nine days of ten end within this [min]; None when not known.
    exact
        False when ``plan`` is only what no plan can be shorter than.
    """

    plan: int
    likely: int | None = None
    exact: bool = True

    def held(self, hold: Hold) -> int:
        """What the window has to hold [min]."""
        return self.plan if hold == "plan" or self.likely is None else self.likely


# Plans some visits with the window opened so many minutes earlier.
Solved = Callable[[Sequence[VisitNeed], int], Length]


@dataclass(frozen=True)
class Share:
    """One of several judges, or parties, who share a round."""

    judge: Judge
    part: int


@dataclass(frozen=True, kw_only=True)
class Case:
    """What stays the same while a way out is tried."""

    walk: WalkMinutes
    spot: Spots
    available: int
    starts_at: time | None
    names: Names
    certain: bool
    solved: Solved | None = None
    hold: Hold = "plan"
    clock: Callable[[int], str | None] | None = None

    def needed(self, visits: Sequence[VisitNeed]) -> int:
        raise NotImplementedError

    def length(self, visits: Sequence[VisitNeed], earlier: int = 0) -> Length:
        """The visits planned again, which is done for every way out before it is advised."""
        if self.solved is None:
            return Length(self.needed(visits))
        return self.solved(visits, earlier)

    def named(self, thing: Hashable) -> str:
        return named(thing, self.names)

    def walk_of(self, visits: Sequence[VisitNeed]) -> Walk:
        return shortest_walk(self.walk, [self.spot[need.entry] for need in visits])

    def in_order(self, visits: Sequence[VisitNeed]) -> list[VisitNeed]:
        place = {stop: p for p, stop in enumerate(self.walk_of(visits).order)}
        return sorted(visits, key=lambda need: place[self.spot[need.entry]])

    def fits(self, length: Length) -> str:
        if not self.certain:
            return f"at least {length.plan} minutes, fits by the bound"
        if length.likely is None:
            return f"{length.plan} minutes, fits"
        if self.hold == "likely":
            return f"{length.plan} minutes, {length.likely} in nine days of ten, fits"
        return f"{length.plan} minutes, fits; {length.likely} in nine days of ten"

    def short(self, length: Length) -> str:
        short = length.held(self.hold) - self.available
        return f"{short} short" if length.exact else f"at least {short} short"


@dataclass(frozen=True, kw_only=True)
class WalkingCase(Case):
    breaks: int

    def needed(self, visits: Sequence[VisitNeed]) -> int:
        parts = by(visits, lambda need: need.judge).values()
        return max(total(own) + self.walk_of(own).minutes + self.breaks for own in parts)

    def sum_in_words(self, visits: Sequence[VisitNeed]) -> str:
        walking, needed = self.walk_of(visits).minutes, self.length(visits).plan
        words = f"{visits_in_words(visits, 'wagon')} + {walking} walking"
        if self.solved is None and self.breaks:
            words += f" + {self.breaks} of breaks"
        elif beside := needed - total(visits) - walking:
            words += f" + {beside} of breaks, pauses and the detours they cause"
        return f"{words} = {needed} minutes."


@dataclass(frozen=True, kw_only=True)
class RotatingCase(Case):
    reset: int
    planned: Callable[[Sequence[VisitNeed]], int] | None
    bounded: Callable[[Sequence[VisitNeed], int], Bound] | None = None

    def bound(self, visits: Sequence[VisitNeed], earlier: int = 0) -> Bound:
        if self.bounded is not None:
            return self.bounded(visits, earlier)
        return rotation_bound(visits, self.walk, self.spot, self.reset, self.names)

    def needed(self, visits: Sequence[VisitNeed]) -> int:
        """The bound where it already fails or nothing better is known, else a real rotation."""
        bound = self.bound(visits).minutes
        return bound if self.planned is None or bound > self.available else self.planned(visits)

    def length(self, visits: Sequence[VisitNeed], earlier: int = 0) -> Length:
        """Where even the bound fails nothing is drawn."""
        if self.solved is None:
            return Length(self.needed(visits))
        bound = self.bound(visits, earlier).minutes
        if bound > self.available:
            return Length(bound, exact=False)
        return self.solved(visits, earlier)

    def leave_out_first(self, visits: Sequence[VisitNeed], bound: Bound) -> list[Entry]:
        wagons = by(visits, lambda need: need.entry)
        if bound.kind == "wagon":
            gate = from_gate(self.walk)
            return sorted(
                wagons,
                key=lambda entry: (
                    -wagon_bound(
                        entry, wagons[entry], gate[self.spot[entry]], self.reset, {}
                    ).minutes
                ),
            )
        return [n.entry for n in reversed(self.in_order([own[0] for own in wagons.values()]))]
