"""Ways out of a window that is too short, each computed again with the change made."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import time
from typing import Literal

from judging.rules.windows.bound import (
    Bound,
    Entry,
    Judge,
    Names,
    Spots,
    VisitNeed,
    by,
    counted,
    listed,
    named,
    rotation_bound,
    total,
    visits_in_words,
    wagon_bound,
)
from judging.rules.windows.walk import Walk, WalkMinutes, from_gate, shortest_walk

Change = Literal["start", "minutes", "panels", "judges", "wagons"]


@dataclass(frozen=True)
class WayOut:
    """One change that makes the window hold; computed again with the change made.

    Parameters
    ----------
    sentence
        For the show office.
    change
        What changes: the start, the minutes of a visit, the number of panels or judges, the wagons.
    needed_minutes
        What the changed plan needs [min].
    amount
        Minutes earlier, minutes taken off each visit, panels in all, judges more, or wagons fewer.
    """

    sentence: str
    change: Change
    needed_minutes: int
    amount: int


@dataclass(frozen=True, kw_only=True)
class Case:
    """What stays the same while a way out is tried."""

    walk: WalkMinutes
    spot: Spots
    available: int
    starts_at: time | None
    names: Names
    certain: bool

    def needed(self, visits: Sequence[VisitNeed]) -> int:
        raise NotImplementedError

    def named(self, thing: Hashable) -> str:
        return named(thing, self.names)

    def walk_of(self, visits: Sequence[VisitNeed]) -> Walk:
        return shortest_walk(self.walk, [self.spot[need.entry] for need in visits])

    def in_order(self, visits: Sequence[VisitNeed]) -> list[VisitNeed]:
        place = {stop: p for p, stop in enumerate(self.walk_of(visits).order)}
        return sorted(visits, key=lambda need: place[self.spot[need.entry]])

    def fits(self, needed: int) -> str:
        if self.certain:
            return f"{needed} minutes, fits"
        return f"at least {needed} minutes, fits by the bound"


@dataclass(frozen=True, kw_only=True)
class WalkingCase(Case):
    breaks: int

    def needed(self, visits: Sequence[VisitNeed]) -> int:
        return total(visits) + self.walk_of(visits).minutes + self.breaks

    def sum_in_words(self, visits: Sequence[VisitNeed]) -> str:
        words = f"{visits_in_words(visits, 'wagon')} + {self.walk_of(visits).minutes} walking"
        if self.breaks:
            words += f" + {self.breaks} of breaks"
        return f"{words} = {self.needed(visits)} minutes."


@dataclass(frozen=True, kw_only=True)
class RotatingCase(Case):
    reset: int
    planned: Callable[[Sequence[VisitNeed]], int] | None

    def bound(self, visits: Sequence[VisitNeed]) -> Bound:
        return rotation_bound(visits, self.walk, self.spot, self.reset, self.names)

    def needed(self, visits: Sequence[VisitNeed]) -> int:
        """The bound where it already fails or nothing better is known, else a real rotation."""
        bound = self.bound(visits).minutes
        return bound if self.planned is None or bound > self.available else self.planned(visits)

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


def start_way(case: Case, visits: Sequence[VisitNeed], earlier: int) -> WayOut | None:
    """Open the window earlier by what is missing."""
    longer = replace(case, available=case.available + earlier)
    needed = longer.needed(visits)
    if needed > longer.available:
        return None
    when = f"Start {counted(earlier, 'minute')} earlier"
    if case.starts_at is not None:
        start = case.starts_at.hour * 60 + case.starts_at.minute - earlier
        if start < 0:
            return None
        when = f"Start at {start // 60:02}:{start % 60:02}, {counted(earlier, 'minute')} earlier"
    return WayOut(f"{when}: {case.fits(needed)}.", "start", needed, earlier)


def cut_way(case: Case, visits: Sequence[VisitNeed]) -> WayOut | None:
    longest = max(need.minutes for need in visits)

    def needed(cut: int) -> int:
        return case.needed([replace(n, minutes=max(1, n.minutes - cut)) for n in visits])

    tried = _least(range(1, longest), needed, case.available)
    if tried is None:
        return None
    cut, minutes, almost = tried
    same = all(need.minutes == longest for need in visits)
    words = f"Take {counted(cut, 'minute')} off each visit"
    if same:
        words = f"Cut each visit to {counted(longest - cut, 'minute')}{_exact(case, visits)}"
    less = longest - cut + 1 if same else cut - 1
    still = "" if almost is None else f"; {less} would be {almost - case.available} short"
    return WayOut(f"{words}: {case.fits(minutes)}{still}.", "minutes", minutes, cut)


def _exact(case: Case, visits: Sequence[VisitNeed]) -> str:
    """The longest equal visit to the second, where the sum is exact."""
    if not isinstance(case, WalkingCase):
        return ""
    seconds = (case.available - case.needed(visits) + total(visits)) * 60 // len(visits)
    return f" ({seconds // 60} min {seconds % 60} s at most)" if seconds % 60 else ""


def panels_way(case: WalkingCase, order: Sequence[VisitNeed]) -> WayOut | None:
    def needed(panels: int) -> int:
        return max(case.needed(part) for part in _split(case, order, panels))

    tried = _least(range(2, len(order) + 1), needed, case.available)
    if tried is None:
        return None
    panels, minutes, _ = tried
    sizes = listed([str(len(part)) for part in _split(case, order, panels)])
    return WayOut(
        f"{panels} panels at the same time ({sizes} wagons): {case.fits(minutes)}; "
        "make their marks comparable.",
        "panels",
        minutes,
        panels,
    )


@dataclass(frozen=True)
class _Share:
    """One of several judges who share a round."""

    judge: Judge
    part: int


def judges_way(case: RotatingCase, visits: Sequence[VisitNeed]) -> WayOut | None:
    rounds = {
        judge: case.in_order(own) for judge, own in by(visits, lambda need: need.judge).items()
    }

    def shared(more: int) -> tuple[list[VisitNeed], dict[Judge, int]]:
        teams = dict.fromkeys(rounds, 1)
        for _ in range(more):
            limit = case.bound(_shared_rounds(case, rounds, teams))
            if limit.kind == "wagon":
                break
            judge = limit.who.judge if isinstance(limit.who, _Share) else limit.who
            if teams[judge] == len(rounds[judge]):
                break
            teams[judge] += 1
        return _shared_rounds(case, rounds, teams), teams

    most = min(len(rounds), len(visits) - len(rounds))  # nobody finds more than twice the judges
    tried = _least(range(1, most + 1), lambda more: case.needed(shared(more)[0]), case.available)
    if tried is None:
        return None
    more, minutes, _ = tried
    after, teams = shared(more)
    beside = listed([f"{n - 1} beside {case.named(j)}" for j, n in teams.items() if n > 1])
    limit = case.bound(after).who
    pace = case.named(limit.judge if isinstance(limit, _Share) else limit)
    return WayOut(
        f"{counted(more, 'more judge')} ({beside}): {case.fits(minutes)}; {pace} sets the pace.",
        "judges",
        minutes,
        more,
    )


def _shared_rounds(
    case: RotatingCase, rounds: Mapping[Judge, Sequence[VisitNeed]], teams: Mapping[Judge, int]
) -> list[VisitNeed]:
    return [
        need if teams[judge] == 1 else replace(need, judge=_Share(judge, p))
        for judge, own in rounds.items()
        for p, part in enumerate(_split(case, own, teams[judge]))
        for need in part
    ]


def wagons_way(
    case: Case, visits: Sequence[VisitNeed], leave_out: Sequence[Entry]
) -> WayOut | None:
    def needed(fewer: int) -> int:
        gone = set(leave_out[:fewer])
        return case.needed([need for need in visits if need.entry not in gone])

    tried = _least(range(1, len(leave_out)), needed, case.available)
    if tried is None:
        return None
    fewer, minutes, _ = tried
    kept = counted(len(leave_out) - fewer, "wagon")
    gone = listed([case.named(entry) for entry in reversed(leave_out[:fewer])])
    return WayOut(
        f"Keep {kept} and leave {gone} to another window: {case.fits(minutes)}.",
        "wagons",
        minutes,
        fewer,
    )


def _least(
    amounts: range, needed: Callable[[int], int], available: int
) -> tuple[int, int, int | None] | None:
    """Smallest change that fits, what it needs, and what one step less would need."""
    known: dict[int, int] = {}

    def holds(amount: int) -> bool:
        known[amount] = needed(amount)
        return known[amount] <= available

    at = bisect_left(amounts, True, key=holds)
    if at == len(amounts):
        return None
    amount = amounts[at]
    return amount, known[amount], known[amounts[at - 1]] if at else None


def _split(case: Case, order: Sequence[VisitNeed], parts: int) -> list[Sequence[VisitNeed]]:
    """Cut a round into stretches whose longest, walk from the gate included, is shortest."""
    walk, spot, n = case.walk, case.spot, len(order)
    done = [0]
    for p, need in enumerate(order):
        leg = walk[spot[order[p - 1].entry]][spot[need.entry]] if p else 0
        done.append(done[-1] + leg + need.minutes)

    def stretch(start: int, stop: int) -> int:
        first = order[start]
        legs = done[stop] - done[start + 1] + first.minutes
        return walk[0][spot[first.entry]] + legs

    best = [[(stretch(0, stop), 0) if stop else (0, 0) for stop in range(n + 1)]]
    for q in range(1, parts):
        row = [(0, 0)] * (n + 1)
        for stop in range(q + 1, n + 1):
            row[stop] = min(
                (max(best[-1][cut][0], stretch(cut, stop)), cut) for cut in range(q, stop)
            )
        best.append(row)
    pieces: list[Sequence[VisitNeed]] = []
    stop = n
    for row in reversed(best):
        start = row[stop][1]
        pieces.append(order[start:stop])
        stop = start
    return pieces[::-1]
