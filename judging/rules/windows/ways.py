"""Ways out of a window that is too short, each computed again with the change made."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from judging.rules.windows.bound import by, counted, listed, total
from judging.rules.windows.cases import Case, Length, RotatingCase, Share, WalkingCase
from judging.rules.windows.problem import Entry, Judge, VisitNeed

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
    likely_minutes
        Nine days of ten of the changed plan end within this [min]; None when not known.
    """

    sentence: str
    change: Change
    needed_minutes: int
    amount: int
    likely_minutes: int | None = None


def start_way(case: Case, visits: Sequence[VisitNeed], earlier: int) -> WayOut | None:
    """Open the window earlier by what is missing; by more where pauses then fall otherwise."""
    tried = _start_that_fits(case, visits, earlier)
    if tried is None:
        return None
    earlier, length = tried
    when = f"Start {counted(earlier, 'minute')} earlier"
    if case.clock is not None:
        at = case.clock(earlier)
        if at is None:
            return None
        when = f"Start at {at}, {counted(earlier, 'minute')} earlier"
    elif case.starts_at is not None:
        start = case.starts_at.hour * 60 + case.starts_at.minute - earlier
        if start < 0:
            return None
        when = f"Start at {start // 60:02}:{start % 60:02}, {counted(earlier, 'minute')} earlier"
    return _way(f"{when}: {case.fits(length)}.", "start", length, earlier)


def _start_that_fits(
    case: Case, visits: Sequence[VisitNeed], earlier: int
) -> tuple[int, Length] | None:
    """Go back by what is missing until it fits, then look for less between the last two."""

    def length(minutes: int) -> Length:
        return replace(case, available=case.available + minutes).length(visits, minutes)

    short, fits = earlier - 1, earlier
    for _ in range(4):
        found = length(fits)
        missing = found.held(case.hold) - case.available - fits
        if missing <= 0:
            break
        short, fits = fits, fits + missing
    else:
        return None
    while fits - short > 1:
        middle = (short + fits) // 2
        nearer = length(middle)
        if nearer.held(case.hold) <= case.available + middle:
            fits, found = middle, nearer
        else:
            short = middle
    return fits, found


def _way(sentence: str, change: Change, length: Length, amount: int) -> WayOut:
    return WayOut(sentence, change, length.plan, amount, length.likely)


def cut_way(case: Case, visits: Sequence[VisitNeed]) -> WayOut | None:
    """Find by how many minutes all visits would have to be shorter."""
    longest = max(need.minutes for need in visits)

    def length(cut: int) -> Length:
        return case.length([replace(n, minutes=max(1, n.minutes - cut)) for n in visits])

    tried = _least(range(1, longest), length, case)
    if tried is None:
        return None
    cut, needed, almost = tried
    same = all(need.minutes == longest for need in visits)
    words = f"Take {counted(cut, 'minute')} off each visit"
    if same:
        words = f"Cut each visit to {counted(longest - cut, 'minute')}{_exact(case, visits)}"
    less = longest - cut + 1 if same else cut - 1
    still = "" if almost is None else f"; {less} would be {case.short(almost)}"
    return _way(f"{words}: {case.fits(needed)}{still}.", "minutes", needed, cut)


def _exact(case: Case, visits: Sequence[VisitNeed]) -> str:
    """The longest equal visit to the second, where the sum is exact."""
    if not isinstance(case, WalkingCase) or case.solved is not None:
        return ""
    seconds = (case.available - case.needed(visits) + total(visits)) * 60 // len(visits)
    return f" ({seconds // 60} min {seconds % 60} s at most)" if seconds % 60 else ""


def panels_way(case: WalkingCase, order: Sequence[VisitNeed]) -> WayOut | None:
    """Find among how many panels the wagons would have to be shared."""

    def length(panels: int) -> Length:
        return case.length(
            [
                replace(need, judge=Share(need.judge, p))
                for p, part in enumerate(_split(case, order, panels))
                for need in part
            ]
        )

    tried = _least(range(2, len(order) + 1), length, case)
    if tried is None:
        return None
    panels, needed, _ = tried
    sizes = listed([str(len(part)) for part in _split(case, order, panels)])
    return _way(
        f"{panels} panels at the same time ({sizes} wagons): {case.fits(needed)}; "
        "make their marks comparable.",
        "panels",
        needed,
        panels,
    )


def judges_way(case: RotatingCase, visits: Sequence[VisitNeed]) -> WayOut | None:
    """Find how many more judges would have to share the rounds."""
    rounds = {
        judge: case.in_order(own) for judge, own in by(visits, lambda need: need.judge).items()
    }

    def shared(more: int) -> tuple[list[VisitNeed], dict[Judge, int]]:
        teams = dict.fromkeys(rounds, 1)
        for _ in range(more):
            limit = case.bound(_shared_rounds(case, rounds, teams))
            if limit.kind == "wagon":
                break
            judge = limit.who.judge if isinstance(limit.who, Share) else limit.who
            if teams[judge] == len(rounds[judge]):
                break
            teams[judge] += 1
        return _shared_rounds(case, rounds, teams), teams

    most = min(len(rounds), len(visits) - len(rounds))  # nobody finds more than twice the judges
    tried = _least(range(1, most + 1), lambda more: case.length(shared(more)[0]), case)
    if tried is None:
        return None
    more, needed, _ = tried
    after, teams = shared(more)
    beside = listed([f"{n - 1} beside {case.named(j)}" for j, n in teams.items() if n > 1])
    limit = case.bound(after).who
    pace = case.named(limit.judge if isinstance(limit, Share) else limit)
    return _way(
        f"{counted(more, 'more judge')} ({beside}): {case.fits(needed)}; {pace} sets the pace.",
        "judges",
        needed,
        more,
    )


def _shared_rounds(
    case: RotatingCase, rounds: Mapping[Judge, Sequence[VisitNeed]], teams: Mapping[Judge, int]
) -> list[VisitNeed]:
    return [
        need if teams[judge] == 1 else replace(need, judge=Share(judge, p))
        for judge, own in rounds.items()
        for p, part in enumerate(_split(case, own, teams[judge]))
        for need in part
    ]


def wagons_way(
    case: Case, visits: Sequence[VisitNeed], leave_out: Sequence[Entry]
) -> WayOut | None:
    """Find how many wagons would have to be left out."""

    def length(fewer: int) -> Length:
        gone = set(leave_out[:fewer])
        return case.length([need for need in visits if need.entry not in gone])

    tried = _least(range(1, len(leave_out)), length, case)
    if tried is None:
        return None
    fewer, needed, _ = tried
    kept = counted(len(leave_out) - fewer, "wagon")
    gone = listed([case.named(entry) for entry in reversed(leave_out[:fewer])])
    return _way(
        f"Keep {kept} and leave {gone} to another window: {case.fits(needed)}.",
        "wagons",
        needed,
        fewer,
    )


def _least(
    amounts: range, length: Callable[[int], Length], case: Case
) -> tuple[int, Length, Length | None] | None:
    """Smallest change that fits, what it needs, and what one step less would need."""
    known: dict[int, Length] = {}

    def holds(amount: int) -> bool:
        known[amount] = length(amount)
        return known[amount].held(case.hold) <= case.available

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
