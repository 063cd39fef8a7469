"""Which of the seven rules a rotation breaks: written from their text, apart from any solver."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from judging.rules.windows.problem import (
    Break,
    Entry,
    Judge,
    Rotation,
    RotationProblem,
    Span,
    Visit,
    VisitNeed,
)

FAR = 10**9  # minutes; after the last visit a judge has all the time there is


@dataclass(frozen=True)
class Gap:
    """The time of a judge between two visits, before the first or after the last.

    Parameters
    ----------
    after, before
        The visits on both sides, None where there is none.
    pieces
        Free spans inside it, those away taken out [min].
    walk
        Minutes of them that are needed to walk [min].
    """

    after: Visit | None
    before: Visit | None
    pieces: tuple[Span, ...]
    walk: int

    @property
    def free(self) -> int:
        """Minutes neither visiting nor away [min]."""
        return sum(b - a for a, b in self.pieces)

    @property
    def spare(self) -> int:
        """Minutes that are left to rest [min]."""
        return max(0, self.free - self.walk)


def faults(problem: RotationProblem, rotation: Rotation) -> tuple[str, ...]:
    """List every rule of `problem.py` that a rotation breaks.

    Parameters
    ----------
    problem, rotation
        What was asked for and what was made of it.

    Returns
    -------
    tuple of str
        One sentence a fault, empty for a clean rotation.

    Notes
    -----
    All seven rules, and the rotation's own figures. Rests are searched for: a judge's breaks
    are laid into the gaps between visits in every order; the minutes left must hold the walk,
    which may be split by rests and by spans away.

    Source
    ------
    Common practice, no source: the seven rules.

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> problem = RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1})
    >>> faults(problem, Rotation((Visit(1, "gear", 1, 6),), 6, 7, False, "by hand"))
    ('gear is at 1 at minute 1 but needs 2 to walk there', 'the bound 7 is above the makespan 6')
    """
    placed = tuple(sorted(rotation.visits, key=lambda visit: (visit.start, visit.end)))
    return (
        *_visit_faults(problem, placed),
        *_wagon_faults(problem, placed),
        *_judge_faults(problem, placed),
        *_away_faults(problem, placed),
        *_rest_faults(problem, placed),
        *(_end_faults(problem, placed) if problem.fair_ends else ()),
        *_figure_faults(rotation),
    )


def gaps(problem: RotationProblem, judge: Judge, own: Sequence[Visit]) -> tuple[Gap, ...]:
    """Take a judge's day apart into the gaps between visits.

    Parameters
    ----------
    problem
        Walks and spans away.
    judge
        Whose day it is.
    own
        The judge's visits by start.

    Returns
    -------
    tuple of Gap
        Shape ``(n_visits + 1,)``; the last one has no end.

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> problem = RotationProblem(
    ...     (VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1}, judge_away={"gear": ((1, 3),)}
    ... )
    >>> [gap.free for gap in gaps(problem, "gear", [Visit(1, "gear", 9, 14)])][0]
    7
    """
    away = problem.judge_away.get(judge, ())
    ends = [(0, None), *((visit.end, visit) for visit in own)]
    starts = [*((visit.start, visit) for visit in own), (FAR, None)]
    found = []
    for (end, after), (start, before) in zip(ends, starts, strict=True):
        walk = 0 if before is None else _way(problem, after, before)
        found.append(Gap(after, before, free_pieces(end, start, away), walk))
    return tuple(found)


def free_pieces(start: int, end: int, away: Sequence[Span]) -> tuple[Span, ...]:
    """Take spans out of a span.

    Parameters
    ----------
    start, end
        The span [min].
    away
        What is taken out, in any order; they may overlap.

    Returns
    -------
    tuple of Span
        What is left, in order; empty if nothing is.

    Example
    -------
    >>> free_pieces(0, 20, [(15, 30), (3, 5), (4, 8)])
    ((0, 3), (8, 15))
    """
    pieces, here = [], start
    for a, b in sorted(away):
        if min(a, end) > here:
            pieces.append((here, min(a, end)))
        here = max(here, b)
    if here < end:
        pieces.append((here, end))
    return tuple(pieces)


def rests(day: Sequence[Gap], breaks: Sequence[Break]) -> tuple[tuple[int, int], ...] | None:
    """Lay breaks into the gaps of a day.

    Parameters
    ----------
    day
        The gaps in order.
    breaks
        What is to be rested.

    Returns
    -------
    tuple of pairs, or None
        For each break the number of its gap and the minute it begins; None where they do not
        all fit. Where several ways fit, an early one.

    Notes
    -----
    A search over all orders and pieces. A break laid into a piece begins as early there as it
    can: later ones then have the most room, and the spare minutes of the gap are the same.

    Source
    ------
    Common practice, no source: rule 6.

    Example
    -------
    >>> day = (Gap(None, None, ((0, 10), (15, 30)), walk=2),)
    >>> rests(day, [Break(12, 0, 60)])
    ((0, 15),)
    >>> rests(day, [Break(16, 0, 60)]) is None
    True
    """
    pieces = [(g, piece) for g, gap in enumerate(day) for piece in gap.pieces]
    dead: set[tuple[frozenset[int], int, int, int]] = set()

    def lay(
        left: frozenset[int], here: int, now: int, spare: int
    ) -> tuple[tuple[int, int, int], ...] | None:
        """Lay those left from piece ``here`` on, in the first piece not before ``now``."""
        if not left:
            return ()
        state = (left, here, now, spare)
        if state in dead:
            return None
        for p in range(here, len(pieces)):
            g, (a, b) = pieces[p]
            same_gap = p == here or pieces[here][0] == g
            room = spare if same_gap else day[g].spare
            for i in sorted(left):
                rest = breaks[i]
                begin = max(a, rest.earliest, now if p == here else a)
                if rest.minutes > room or begin + rest.minutes > min(b, rest.latest):
                    continue
                later = lay(left - {i}, p, begin + rest.minutes, room - rest.minutes)
                if later is not None:
                    return ((i, g, begin), *later)
        dead.add(state)
        return None

    first = day[pieces[0][0]].spare if pieces else 0
    found = lay(frozenset(range(len(breaks))), 0, 0, first)
    return None if found is None else tuple((g, begin) for _, g, begin in sorted(found))


def _way(problem: RotationProblem, after: Visit | None, before: Visit) -> int:
    here = 0 if after is None else problem.spot.get(after.entry, 0)
    return problem.walk[here][problem.spot.get(before.entry, 0)]


def _visit_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    asked = {(need.entry, need.judge): need.minutes for need in problem.visits}
    times = Counter((visit.entry, visit.judge) for visit in placed)
    for entry, judge in asked:
        if (n := times[entry, judge]) != 1:
            yield f"{judge} visits {entry} {n} times"
    for visit in placed:
        minutes = asked.get((visit.entry, visit.judge))
        if minutes is None:
            yield f"nobody asked {visit.judge} to visit {visit.entry}"
        elif visit.end - visit.start != minutes:
            had = visit.end - visit.start
            yield f"{visit.judge} has {had} of {minutes} minutes at {visit.entry}"


def _wagon_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    for entry, own in _grouped(placed, _entry_of).items():
        longest = own[0]  # of those begun so far, the one that ends last
        for visit in own[1:]:
            if visit.start < longest.end:
                yield f"{longest.judge} and {visit.judge} are at {entry} at once"
            elif visit.start < longest.end + problem.crew_reset_minutes:
                yield f"{visit.judge} comes to {entry} before the crew is ready"
            longest = max(longest, visit, key=lambda each: each.end)


def _judge_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    for judge, own in _grouped(placed, _judge_of).items():
        for first, second in pairwise(own):
            if second.start < first.end:
                yield f"{judge} is at {first.entry} and {second.entry} at once"
        for gap in gaps(problem, judge, own):
            if gap.before is None or gap.free >= gap.walk:
                continue
            if gap.after is None:
                first_stop = f"{gap.before.entry} at minute {gap.before.start}"
                yield f"{judge} is at {first_stop} but needs {gap.walk} to walk there"
            elif gap.before.start >= gap.after.end:
                ends = f"from {gap.after.entry} to {gap.before.entry}"
                yield f"{judge} has no time to walk {ends}"


def _away_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    for visit in placed:
        at = f"at {visit.entry} from minute {visit.start} to {visit.end}"
        for a, b in problem.judge_away.get(visit.judge, ()):
            if visit.start < b and a < visit.end:
                yield f"{visit.judge} is {at} but away from {a} to {b}"
        for a, b in problem.crew_away.get(visit.entry, ()):
            if visit.start < b and a < visit.end:
                yield f"{visit.judge} is {at} but the crew is away from {a} to {b}"


def _rest_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    days = _grouped(placed, _judge_of)
    for judge, breaks in problem.breaks.items():
        day = gaps(problem, judge, days.get(judge, []))
        if rests(day, breaks) is not None:
            continue
        alone = [each for each in breaks if rests(day, [each]) is None]
        for each in alone:
            span = f"between minute {each.earliest} and {each.latest}"
            yield f"{judge} has no {each.minutes} minutes in one piece to rest {span}"
        if not alone:
            yield f"{judge} has no time for all {len(breaks)} breaks together"


def _end_faults(problem: RotationProblem, placed: Sequence[Visit]) -> Iterator[str]:
    judges, wagons = ({of(need) for need in problem.visits} for of in (_judge_of, _entry_of))
    days = _grouped(placed, _judge_of)
    most = -(-len(judges) // len(wagons))
    for at, which in (("first", 0), ("last", -1)):
        stops = Counter(
            own[which].entry for own in days.values() if len({visit.entry for visit in own}) > 1
        )
        for entry, times in stops.items():
            if times > most:
                yield f"{entry} is the {at} stop of {times} judges where {most} would do"


def _figure_faults(rotation: Rotation) -> Iterator[str]:
    last = max((visit.end for visit in rotation.visits), default=0)
    if rotation.makespan != last:
        yield f"the last visit ends at {last}, not at {rotation.makespan}"
    if rotation.lower_bound > rotation.makespan:
        yield f"the bound {rotation.lower_bound} is above the makespan {rotation.makespan}"


def _entry_of(visit: Visit | VisitNeed) -> Entry:
    return visit.entry


def _judge_of(visit: Visit | VisitNeed) -> Judge:
    return visit.judge


def _grouped(
    placed: Sequence[Visit], key: Callable[[Visit], Hashable]
) -> Mapping[Hashable, list[Visit]]:
    groups: dict[Hashable, list[Visit]] = {}
    for visit in placed:
        groups.setdefault(key(visit), []).append(visit)
    return groups
