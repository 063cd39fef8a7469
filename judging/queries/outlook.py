"""When the day will end, from how it went so far."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from judging.queries.day_case import DayCase, day_case
from judging.queries.plan import day_rules
from judging.queries.running_day import RunningDay
from judging.rules.windows.forecast import Prior, rotation_forecast
from judging.rules.windows.planner import chance_words
from judging.rules.windows.problem import Rotation
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Show

RUNS = 2_000
SEED = 1
GOOD, FAIR = 0.9, 0.5
LEAST_SPREAD = 0.01


@dataclass(frozen=True)
class Outlook:
    """The expected end, the span of 8 days of 10, and the chance that the window holds."""

    likely_at: datetime
    low_at: datetime
    high_at: datetime
    chance: float
    learned: str

    @property
    def chance_words(self) -> str:
        """The chance in words."""
        return chance_words(self.chance)

    @property
    def sign(self) -> str:
        """How it looks."""
        if self.chance >= GOOD:
            return "state-good"
        return "state-wait" if self.chance >= FAIR else "state-bad"


def outlook(show: Show, day: RunningDay, *, at: datetime) -> Outlook | None:
    """Return when the day will end by what was learned so far; None where it cannot be said."""
    if day.window is None:
        return None
    try:
        found = day_case(show, at=at, times=day.times)
    except NotYet:
        return None
    announced = _wanted(found)
    if announced is None:
        return None
    case, rules = found.case, day_rules(show)
    prior = Prior(
        visit_cv=max(LEAST_SPREAD, rules.visit_spread_percent / 100),
        pace_sd=rules.pace_spread_percent / 100,
    )
    begun = {(visit.entry, visit.judge): float(visit.start) for visit in case.under_way}
    ahead = rotation_forecast(
        case.problem,
        announced,
        now=case.now,
        done=case.done,
        under_way=begun,
        prior=prior,
        runs=RUNS,
        seed=SEED,
    )

    def moment(minute: float) -> datetime:
        return found.window.opens_at + timedelta(minutes=round(minute))

    return Outlook(
        likely_at=moment(ahead.finish),
        low_at=moment(ahead.low),
        high_at=moment(ahead.high),
        chance=ahead.chance(case.window),
        learned=_learned(day, ahead.visit_cv),
    )


def _wanted(found: DayCase) -> Rotation | None:
    """The announced visits that are still wanted."""
    asked = {(need.entry, need.judge) for need in found.case.problem.visits}
    visits = tuple(v for v in found.case.announced.visits if (v.entry, v.judge) in asked)
    if not visits:
        return None
    return replace(found.case.announced, visits=visits, makespan=max(visit.end for visit in visits))


def _learned(day: RunningDay, visit_cv: float) -> str:
    """Say what this show's own visits tell of pace and spread."""
    done = [
        (time.planned_minutes, time.took_minutes)
        for time in day.times
        if time.took_minutes is not None and time.took_minutes > 0
    ]
    spread = round(visit_cv * 100)
    if not done:
        return _(
            "no visit is over yet; until then lengths spread by {spread} %, as set for the day"
        ).format(spread=spread)
    share = sum(took for _, took in done) / sum(planned for planned, _ in done)
    n = len(done)
    return ngettext(
        "{n} visit took {share} % of the planned minutes; lengths spread by {spread} %",
        "{n} visits took {share} % of the planned minutes; lengths spread by {spread} %",
        n,
    ).format(n=n, share=round(share * 100), spread=spread)
