"""Days played through announced orders: who is ready when, many days at once."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from judging.rules.windows.problem import Break, Judge, RotationProblem, Span, Visit
from judging.rules.windows.verify import gaps, rests

Floats = NDArray[np.float64]
Ready = Mapping[Any, Floats | float]


@dataclass(frozen=True)
class Standing:
    """Where a day stands when it is taken up in its middle.

    Parameters
    ----------
    now
        Nothing begins before [min].
    judge_ready
        When a judge is done with the visit that is under way, shape ``(runs,)`` or one value
        [min]; others stand at the gate at minute 0.
    judge_row
        Row of the walking table where that is.
    crew_ready
        When a crew is ready again, its reset included [min].
    """

    now: float = 0.0
    judge_ready: Ready = field(default_factory=dict)
    judge_row: Mapping[Any, int] = field(default_factory=dict)
    crew_ready: Ready = field(default_factory=dict)


def lognormal_minutes(
    rng: np.random.Generator, means: Sequence[float], cv: float, runs: int
) -> Floats:
    """Draw visits that take their means on average.

    Parameters
    ----------
    rng
        Chance.
    means
        Shape ``(n_visits,)`` [min].
    cv
        Standard deviation over mean.
    runs
        Number of days.

    Returns
    -------
    array
        Shape ``(n_visits, runs)`` [min].
    """
    log_variance = np.log1p(cv * cv)
    noise = rng.standard_normal((len(means), runs)) * np.sqrt(log_variance) - log_variance / 2
    return np.asarray(np.exp(noise) * np.asarray(means, dtype=float)[:, None])


def played(
    problem: RotationProblem,
    visits: Sequence[Visit],
    minutes: Floats,
    *,
    hold_starts: bool = True,
    resting: Mapping[tuple[Hashable, Hashable], Sequence[Break]],
    standing: Standing | None = None,
) -> Floats:
    """Play days through the announced orders.

    Parameters
    ----------
    problem
        Walks, resets and spans away.
    visits
        Those still to come, in the order of their announced starts.
    minutes
        Shape ``(n_visits, runs)``, what each takes on each day [min].
    hold_starts
        Whether nobody begins before the announced minute.
    resting
        Breaks a judge rests before a visit, by ``(entry, judge)``; see `rests_before`.
    standing
        Where the day stands; at the gate at minute 0 unless given.

    Returns
    -------
    array
        Shape ``(n_visits, runs)``, the end of each visit [min].

    Notes
    -----
    Each visit begins when judge and crew are ready, in the announced order of both. A visit is
    begun only if its planned minutes are over before the next span away of judge or crew; once
    begun it is finished. Breaks are rested whole and not before their span, if need be after it.
    """
    at = standing or Standing()
    runs = minutes.shape[1]
    ends = np.empty_like(minutes)
    ready: dict[Hashable, Floats] = {}
    rows: dict[Hashable, int] = {}
    crews: dict[Hashable, Floats | float] = dict(at.crew_ready)
    for n, visit in enumerate(visits):
        row = problem.spot[visit.entry]
        before = ready.get(visit.judge)
        if before is None:
            before = np.broadcast_to(np.asarray(at.judge_ready.get(visit.judge, 0.0)), (runs,))
            rows[visit.judge] = at.judge_row.get(visit.judge, 0)
        judge_away = _merged(problem.judge_away.get(visit.judge, ()))
        breaks = resting.get((visit.entry, visit.judge), ())
        start = _rested_and_walked(before, problem.walk[rows[visit.judge]][row], breaks, judge_away)
        start = np.maximum(start, crews.get(visit.entry, 0.0))
        start = np.maximum(start, max(at.now, visit.start if hold_starts else 0))
        spans = _merged((*judge_away, *problem.crew_away.get(visit.entry, ())))
        for a, b in spans:
            start = np.where((start < b) & (start + (visit.end - visit.start) > a), b, start)
        ends[n] = start + minutes[n]
        ready[visit.judge], rows[visit.judge] = ends[n], row
        crews[visit.entry] = ends[n] + problem.crew_reset_minutes
    return ends


def rests_before(
    problem: RotationProblem, visits: Sequence[Visit]
) -> dict[tuple[Hashable, Hashable], tuple[Break, ...]]:
    """Say before which visit each break is rested, as a rotation leaves room for it.

    Parameters
    ----------
    problem
        Breaks and what they must keep clear of.
    visits
        All of a clean rotation.

    Returns
    -------
    dict
        Breaks by ``(entry, judge)`` of the visit that follows, in order of their rest; those
        after a judge's last visit are left out, as are those for which there is no room.
    """
    found: dict[tuple[Hashable, Hashable], tuple[Break, ...]] = {}
    for judge, breaks in problem.breaks.items():
        own = own_visits(visits, judge)
        places = rests(gaps(problem, judge, own), breaks) or ()
        for (gap, _), each in sorted(zip(places, breaks, strict=False), key=lambda pair: pair[0]):
            if gap < len(own):
                key = own[gap].entry, judge
                found[key] = (*found.get(key, ()), each)
    return found


def own_visits(visits: Sequence[Visit], judge: Judge) -> list[Visit]:
    """Return a judge's visits by start."""
    own = (visit for visit in visits if visit.judge == judge)
    return sorted(own, key=lambda visit: visit.start)


def _rested_and_walked(
    ready: Floats, walk: int, breaks: Sequence[Break], away: Sequence[Span]
) -> Floats:
    left = sum(each.minutes for each in breaks)
    done = np.asarray(ready + (walk + left))
    for a, b in away:  # walking and resting stand still meanwhile
        done = np.where((done > a) & (ready < b), done + (b - np.maximum(ready, a)), done)
    for each in breaks:
        done = np.maximum(done, each.earliest + left)
        left -= each.minutes
    return done


def _merged(spans: Sequence[Span]) -> tuple[Span, ...]:
    merged: list[Span] = []
    for a, b in sorted(spans):
        if merged and a <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(b, merged[-1][1]))
        else:
            merged.append((a, b))
    return tuple(merged)
