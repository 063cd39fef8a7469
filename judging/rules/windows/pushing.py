"""Quick new times for a running day: everybody keeps the order, or only what must move moves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from judging.rules.windows.problem import Break, Entry, Judge, RotationProblem, Visit, VisitNeed
from judging.rules.windows.replan_case import Case, adjusted
from judging.rules.windows.search_day import fitted, merged, reached
from judging.rules.windows.verify import gaps, rests


@dataclass
class Pushed:
    """New times, with breaks that may have had to leave their spans.

    Parameters
    ----------
    visits
        Those still to come.
    breaks
        What each judge is still to rest; spans as far as they could be kept.
    """

    visits: list[Visit] = field(default_factory=list)
    breaks: dict[Judge, list[Break]] = field(default_factory=dict)


def pushed(case: Case) -> Pushed:
    """Keep every judge's and every wagon's order, and begin later where one must.

    Parameters
    ----------
    case
        The running day.

    Returns
    -------
    Pushed
        Clean against the adjusted problem with its breaks. Visits that were never announced are
        put where they move nobody.
    """
    done = Pushed()
    if not case.left:
        return done
    bare = adjusted(case, {})
    ready = {judge: (minute, bare.spot[place]) for judge, place, minute in _stands(case)}
    crews = case.crews()
    anchors = _anchors(case)
    for need in case.left:
        key = need.entry, need.judge
        if key not in case.was:
            continue
        minute, row = ready.get(need.judge, (0, 0))
        away = merged(bare.judge_away.get(need.judge, ()))
        breaks = anchors.get(key, [])
        rested = _rest(done, need.judge, breaks, minute, away)
        wanted = bare.walk[row][bare.spot[need.entry]] + sum(each.minutes for each in breaks)
        start = max(
            case.was[key], case.now, crews[need.entry], rested, reached(minute, wanted, away)
        )
        closed = merged((*away, *bare.crew_away.get(need.entry, ())))
        start = fitted(start, need.minutes, closed)
        end = start + need.minutes
        done.visits.append(Visit(need.entry, need.judge, start, end))
        ready[need.judge] = end, bare.spot[need.entry]
        crews[need.entry] = end + bare.crew_reset_minutes
    for judge in dict.fromkeys(need.judge for need in case.left):
        away = merged(bare.judge_away.get(judge, ()))
        _rest(done, judge, anchors.get((None, judge), []), ready.get(judge, (0, 0))[0], away)
    added = [need for need in case.left if (need.entry, need.judge) not in case.was]
    problem = adjusted(case, done.breaks)
    for need in sorted(added, key=lambda need: -need.minutes):
        slot = next(_slots(case, problem, done.visits, need, None), None)
        assert slot is not None, "there is always room after the last visit"
        done.visits.append(slot)
    return done


def clashing(case: Case, base: Pushed, horizon: int) -> tuple[list[Visit], list[VisitNeed]]:
    """Tell visits that can keep their announced times from those that cannot.

    Parameters
    ----------
    case
        The running day.
    base
        From `pushed`: its visits in the frozen minutes, and its breaks, are kept.
    horizon
        No visit ends later [min].

    Returns
    -------
    pair of lists
        Visits at their announced times, and what finds no place beside them or is new.
    """
    problem = adjusted(case, base.breaks)
    kept = [visit for visit in base.visits if case.holds(visit)]
    frozen = {(visit.entry, visit.judge) for visit in kept}
    moving = []
    for need in case.left:
        key = need.entry, need.judge
        if key in frozen:
            continue
        at = case.was.get(key)
        if at is not None and at >= case.soonest(key) and at + need.minutes <= horizon:
            visit = Visit(need.entry, need.judge, at, at + need.minutes)
            if _fits(case, problem, kept, visit):
                kept.append(visit)
                continue
        moving.append(need)
    return kept, moving


def mended(
    case: Case, base: Pushed, kept: Sequence[Visit], moving: Sequence[VisitNeed], horizon: int
) -> list[Visit] | None:
    """Leave everybody where they were announced, and put only those elsewhere who cannot be.

    Parameters
    ----------
    case, base, horizon
        As in `clashing`.
    kept, moving
        What it came to.

    Returns
    -------
    list of Visit, or None
        None where some visit finds no place.
    """
    problem = adjusted(case, base.breaks)
    visits = list(kept)
    for need in moving:
        target = case.was.get((need.entry, need.judge))
        slot = next(_slots(case, problem, visits, need, target, horizon), None)
        if slot is None:
            return None
        visits.append(slot)
    return visits


def _stands(case: Case) -> Iterator[tuple[Judge, Entry, int]]:
    for visit in case.standing_visits:
        yield visit.judge, visit.entry, visit.end


def _anchors(case: Case) -> dict[tuple[Entry | None, Judge], list[Break]]:
    """Before which visit each break was meant to be rested; None where after the last."""
    found: dict[tuple[Entry | None, Judge], list[Break]] = {}
    for judge in dict.fromkeys(need.judge for need in case.left):
        owed = case.owed(judge)
        announced = [visit for visit in case.announced.visits if visit.judge == judge]
        announced.sort(key=lambda visit: visit.start)
        day = gaps(case.problem, judge, announced)
        places = rests(day, owed) if announced else None
        begins = [each.earliest for each in owed] if places is None else [at for _, at in places]
        for begin, each in sorted(zip(begins, owed, strict=True), key=lambda pair: pair[0]):
            entry = next(
                (
                    need.entry
                    for need in case.left
                    if need.judge == judge
                    and case.was.get((need.entry, judge), -1) >= begin + each.minutes
                ),
                None,
            )
            found.setdefault((entry, judge), []).append(each)
    return found


def _rest(
    done: Pushed, judge: Judge, breaks: Sequence[Break], now: int, away: Sequence[tuple[int, int]]
) -> int:
    """Rest breaks one after the other from now on; return when the last one ends."""
    for each in breaks:
        begin = fitted(max(now, each.earliest), each.minutes, away)
        now = begin + each.minutes
        late = replace(each, latest=max(each.latest, now))
        done.breaks.setdefault(judge, []).append(late)
    return now


def _slots(
    case: Case,
    problem: RotationProblem,
    placed: Sequence[Visit],
    need: VisitNeed,
    target: int | None,
    horizon: int | None = None,
) -> Iterator[Visit]:
    """Times at which a visit moves nobody, nearest to the target or soonest first."""
    key = need.entry, need.judge
    first = case.soonest(key)
    spans = (*problem.judge_away.get(need.judge, ()), *problem.crew_away.get(need.entry, ()))
    busy = max((b for _, b in spans), default=0)
    busy = max([busy, first, *(visit.end for visit in placed)])
    longest = max(max(row) for row in problem.walk) + problem.crew_reset_minutes
    resting = sum(each.minutes for each in problem.breaks.get(need.judge, ()))
    late = max((each.latest for each in problem.breaks.get(need.judge, ())), default=0)
    last = horizon - need.minutes if horizon is not None else max(busy, late) + longest + resting
    starts: Sequence[int] = range(first, last + 1)
    if target is not None:
        starts = sorted(starts, key=lambda at: abs(at - target))
    for at in starts:
        visit = Visit(need.entry, need.judge, at, at + need.minutes)
        if _fits(case, problem, placed, visit):
            yield visit


def _fits(case: Case, problem: RotationProblem, placed: Sequence[Visit], visit: Visit) -> bool:
    """Whether a visit can be added to others without moving any."""
    spans = (*problem.judge_away.get(visit.judge, ()), *problem.crew_away.get(visit.entry, ()))
    if any(visit.start < b and a < visit.end for a, b in spans):
        return False
    reset = problem.crew_reset_minutes
    for other in placed:
        pause = reset if other.entry == visit.entry else 0
        same = other.entry == visit.entry or other.judge == visit.judge
        if same and visit.start < other.end + pause and other.start < visit.end + pause:
            return False
    own = [each for each in (*case.standing_visits, *placed) if each.judge == visit.judge]
    own = sorted([*own, visit], key=lambda each: each.start)
    if own[0].start < 0 or any(b.start < a.end for a, b in pairwise(own)):
        return False
    day = gaps(problem, visit.judge, own)
    if any(gap.before is not None and gap.free < gap.walk for gap in day):
        return False
    return rests(day, problem.breaks.get(visit.judge, ())) is not None
