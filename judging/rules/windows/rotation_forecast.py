"""When a running rotation will end: what each judge has left, played through many days."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy

from judging.rules.windows.learning import Learned, Prior, learn, log_ratios
from judging.rules.windows.problem import Rotation, RotationProblem, Visit
from judging.rules.windows.rotation_risk import RotationRisk
from judging.rules.windows.simulate import Floats, Standing, played, rests_before

INSIDE = 0.8  # share of days whose end lies in the interval


@dataclass(frozen=True, eq=False)
class RotationForecast:
    """When a running rotation will end.

    Parameters
    ----------
    days
        Ends of many simulated days.
    judges
        Ends of each judge's last visit on these days, sorted [min].
    pace, visit_cv
        Median pace of each judge, 1 as planned, and the spread all have together.
    inside
        Share of days whose end lies between ``low`` and ``high``.
    """

    days: RotationRisk
    judges: Mapping[Any, RotationRisk]
    pace: Mapping[Any, float]
    visit_cv: float
    inside: float

    @property
    def finish(self) -> float:
        """Median end [min from the opening]."""
        return self.days.quantile(0.5)

    @property
    def low(self) -> float:
        """Lower bound of the interval [min]."""
        return self.days.quantile((1 - self.inside) / 2)

    @property
    def high(self) -> float:
        """Upper bound of the interval [min]."""
        return self.days.quantile((1 + self.inside) / 2)

    def chance(self, window: float) -> float:
        """Say how likely the window holds."""
        return self.days.chance(window)


def rotation_forecast(
    problem: RotationProblem,
    rotation: Rotation,
    *,
    now: float,
    done: Iterable[Visit] = (),
    under_way: Mapping[tuple[Hashable, Hashable], float] | None = None,
    prior: Prior | None = None,
    inside: float = INSIDE,
    runs: int = 4_000,
    seed: int = 0,
) -> RotationForecast:
    """Play the rest of a running rotation through many days.

    Parameters
    ----------
    problem, rotation
        What is asked for and the times announced now.
    now
        [min from the opening].
    done
        Visits with their real times [min].
    under_way
        Real start of each visit that has begun, by ``(entry, judge)`` [min].
    prior
        What past shows say; the usual unless given.
    inside
        Share of days whose end lies between ``low`` and ``high``.
    runs, seed
        Days, and chance.

    Returns
    -------
    RotationForecast
        The latest judge ends the day.

    Raises
    ------
    ValueError
        For a visit done that ends before it begins, and for a rotation without visits.

    Notes
    -----
    Each judge has a pace of his own, the spread is shared by all. A visit under way takes at
    least as long as it has taken already. Everybody keeps the announced orders, and nobody
    begins before the announced minute. Breaks are rested where the announced times left room.

    Source
    ------
    As `learn` (from memory); common practice, no source (the simulation).

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> problem = RotationProblem(
    ...     tuple(VisitNeed(w, "gear", 10) for w in (1, 2)), ((0, 0, 0),) * 3, {1: 1, 2: 2}
    ... )
    >>> plan = Rotation((Visit(1, "gear", 0, 10), Visit(2, "gear", 10, 20)), 20, 20, True, "")
    >>> late = rotation_forecast(problem, plan, now=14, done=[Visit(1, "gear", 0, 14)])
    >>> late.low < late.finish < late.high, late.chance(20) < 0.2
    (True, True)
    """
    if not rotation.visits:
        raise ValueError("there is no visit to forecast")
    before, seen, begun = prior or Prior(), list(done), dict(under_way or {})
    minutes = {(need.entry, need.judge): need.minutes for need in problem.visits}
    own: dict[Hashable, list[Visit]] = {}
    for visit in seen:
        own.setdefault(visit.judge, []).append(visit)
    learned = _learned(own, minutes, before)
    over = {(visit.entry, visit.judge) for visit in seen}
    order = sorted(
        (v for v in rotation.visits if (v.entry, v.judge) not in over),
        key=lambda v: ((v.entry, v.judge) not in begun, v.start, v.end),
    )
    rng = np.random.default_rng(seed)
    paces = {
        judge: learned.get(judge, learned[None])
        for judge in dict.fromkeys(visit.judge for visit in rotation.visits)
    }
    cv = learned[None].visit_cv
    judges = {
        judge: np.full(runs, max((v.end for v in own.get(judge, [])), default=0.0))
        for judge in paces
    }
    lengths = _lengths(rng, order, paces, begun, now, runs)
    waiting = [visit for visit in order if (visit.entry, visit.judge) not in begun]
    standing = _standing(problem, order, own, begun, lengths, now, judges)
    if waiting:
        ends = played(
            problem,
            waiting,
            lengths[len(order) - len(waiting) :],
            resting=rests_before(problem, rotation.visits),
            standing=standing,
        )
        for visit, end in zip(waiting, ends, strict=True):
            judges[visit.judge] = np.maximum(judges[visit.judge], end)
    return RotationForecast(
        RotationRisk(np.sort(np.max(list(judges.values()), axis=0))),
        {judge: RotationRisk(np.sort(ends)) for judge, ends in judges.items()},
        {judge: math.exp(each.pace) for judge, each in paces.items()},
        cv,
        inside,
    )


def _learned(
    own: Mapping[Hashable, Sequence[Visit]],
    minutes: Mapping[tuple[Hashable, Hashable], int],
    prior: Prior,
) -> dict[Hashable, Learned]:
    """One spread for all judges, around each one's own mean; then each judge's pace with it."""
    pairs = {
        judge: [
            (float(minutes[v.entry, judge]), float(v.end - v.start))
            for v in visits
            if (v.entry, judge) in minutes and v.end > v.start
        ]
        for judge, visits in own.items()
    }
    for judge, visits in own.items():
        if any(visit.end < visit.start for visit in visits):
            raise ValueError(f"a visit of {judge} ends before it begins")
    weight, total = prior.weight, prior.weight * math.log1p(prior.visit_cv**2)
    for times in pairs.values():
        if len(times) > 1:
            ratios = log_ratios(*zip(*times, strict=True))
            total += float(((ratios - ratios.mean()) ** 2).sum())
            weight += len(times) - 1
    # So much weight that the shared spread stays as it is.
    shared = Prior(math.sqrt(math.expm1(total / weight)), 1e9, prior.pace_sd)
    return {
        judge: learn([p for p, _ in times], [a for _, a in times], shared)
        for judge, times in pairs.items()
    } | {None: learn((), (), shared)}


def _lengths(
    rng: np.random.Generator,
    order: Sequence[Visit],
    paces: Mapping[Hashable, Learned],
    begun: Mapping[tuple[Hashable, Hashable], float],
    now: float,
    runs: int,
) -> Floats:
    """Minutes of each visit to come, shape ``(n_visits, runs)``."""
    pace = {
        judge: each.pace + each.pace_sd * rng.standard_normal(runs) for judge, each in paces.items()
    }
    found = np.empty((len(order), runs))
    for n, visit in enumerate(order):
        each = paces[visit.judge]
        sigma = math.sqrt(each.log_variance)
        middle = math.log(visit.end - visit.start) + pace[visit.judge] - each.log_variance / 2
        chance = rng.uniform(size=runs)
        since = begun.get((visit.entry, visit.judge))
        if since is not None and now > since:
            taken = scipy.special.ndtr((math.log(now - since) - middle) / sigma)
            chance = np.minimum(taken + chance * (1 - taken), 1 - 1e-12)
        found[n] = np.exp(middle + sigma * scipy.special.ndtri(chance))
    return found


def _standing(
    problem: RotationProblem,
    order: Sequence[Visit],
    own: Mapping[Hashable, Sequence[Visit]],
    begun: Mapping[tuple[Hashable, Hashable], float],
    lengths: Floats,
    now: float,
    judges: dict[Hashable, Floats],
) -> Standing:
    rows: dict[Hashable, int] = {}
    crews: dict[Hashable, Floats | float] = {}
    ready: dict[Hashable, Floats] = {}
    for judge, visits in own.items():
        last = max(visits, key=lambda visit: visit.end)
        ready[judge], rows[judge] = np.asarray(float(last.end)), problem.spot[last.entry]
        for visit in visits:
            after = float(visit.end + problem.crew_reset_minutes)
            crews[visit.entry] = np.maximum(crews.get(visit.entry, 0.0), after)
    for n, visit in enumerate(order):
        since = begun.get((visit.entry, visit.judge))
        if since is not None:
            end = np.maximum(since + lengths[n], now)
            judges[visit.judge] = np.maximum(judges[visit.judge], end)
            ready[visit.judge], rows[visit.judge] = end, problem.spot[visit.entry]
            crews[visit.entry] = end + problem.crew_reset_minutes
    return Standing(now, ready, rows, crews)
