"""The one place where a show becomes a problem for the planners, and plans in the making."""

from __future__ import annotations

import hashlib
import json
from collections import defaultdict
from collections.abc import Container
from dataclasses import dataclass
from datetime import UTC
from typing import Literal, cast

from entries.models import Entry
from judging.models import DayRules, Judge, Pause, PlanJob
from judging.queries.panel import seats_of
from judging.rules.windows.clock import break_span, minutes_away
from judging.rules.windows.ground import walk_minutes
from judging.rules.windows.planner import Planner, Spread, party_problem
from judging.rules.windows.problem import (
    Break,
    Names,
    RotationProblem,
    Span,
    Visit,
    VisitNeed,
)
from judging.rules.windows.rotation import RotationSolver
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.models import Show

Style = Literal["rotating", "walking"]


@dataclass(frozen=True)
class ShowProblem:
    """What is to be planned; its judges and entries are the show's own.

    With style "walking" all judges go from wagon to wagon together: the visits are the same, but
    those at one wagon begin at the same time, which rule 2 of a rotation forbids.
    """

    problem: RotationProblem
    judges: list[Judge]
    entries: list[Entry]
    style: Style = "rotating"


def day_rules(show: Show) -> DayRules:
    """Return the office's rules for the day, or the defaults, which are not saved."""
    return DayRules.objects.filter(show=show).first() or DayRules(show=show)


def pauses_of(show: Show) -> list[Pause]:
    """Return who cannot take part when, by time."""
    pauses = Pause.objects.filter(show=show)
    return list(pauses.select_related("judge__person", "entry"))


def show_problem(show: Show, *, only: Container[tuple[int, int]] | None = None) -> ShowProblem:
    """Gather visits, walking times, pauses and breaks; `only` keeps these (judge, entry) ids."""
    rules = day_rules(show)
    beside = rules.talk_minutes + rules.settling_minutes
    minutes: dict[tuple[Entry, Judge], int] = defaultdict(lambda: beside)
    for seat in seats_of(show).order_by("entry__number", "judge__code"):
        if only is None or (seat.judge_id, seat.entry_id) in only:
            minutes[seat.entry, seat.judge] += seat.section.minutes
    if not minutes:
        raise NotYet(_("Draw the panel first; the window is sized to its visits."))
    entries = list(dict.fromkeys(entry for entry, _ in minutes))
    judges = list(dict.fromkeys(judge for _, judge in minutes))
    homeless = [entry for entry in entries if entry.spot is None]
    if homeless:
        raise NotYet(
            _("Entry {entry} has no camp spot; walking times need one.").format(
                entry=homeless[0].called
            )
        )
    judge_away, crew_away = _away(show, judges, entries)
    problem = RotationProblem(
        visits=tuple(VisitNeed(entry, judge, m) for (entry, judge), m in minutes.items()),
        walk=walk_minutes(
            (show.gate_x_ft, show.gate_y_ft),
            [(e.spot.x_ft, e.spot.y_ft) for e in entries if e.spot],
            ft_per_minute=show.walking_ft_per_minute,
        ),
        spot={entry: row for row, entry in enumerate(entries, start=1)},
        crew_reset_minutes=show.crew_reset_minutes,
        judge_away=judge_away,
        crew_away=crew_away,
        breaks=_breaks(show, rules, judges),
        fair_ends=rules.fair_ends,
    )
    return ShowProblem(problem, judges, entries, cast(Style, rules.style))


def _away(
    show: Show, judges: list[Judge], entries: list[Entry]
) -> tuple[dict[Judge, tuple[Span, ...]], dict[Entry, tuple[Span, ...]]]:
    """Give each pause to those it stops, as minutes from the opening."""
    of_judge: dict[int, list[Span]] = defaultdict(list)
    of_entry: dict[int, list[Span]] = defaultdict(list)
    for pause in Pause.objects.filter(show=show):
        span = minutes_away(show.judging_starts_at, pause.starts_at, pause.ends_at)
        if span is None:
            continue
        for judge in judges:
            if pause.entry_id is None and pause.judge_id in (None, judge.pk):
                of_judge[judge.pk].append(span)
        for entry in entries:
            if pause.judge_id is None and pause.entry_id in (None, entry.pk):
                of_entry[entry.pk].append(span)
    _refuse_whole_days(show, judges, entries, of_judge, of_entry)
    return (
        {judge: tuple(of_judge[judge.pk]) for judge in judges if judge.pk in of_judge},
        {entry: tuple(of_entry[entry.pk]) for entry in entries if entry.pk in of_entry},
    )


def _refuse_whole_days(
    show: Show,
    judges: list[Judge],
    entries: list[Entry],
    of_judge: dict[int, list[Span]],
    of_entry: dict[int, list[Span]],
) -> None:
    for judge in judges:
        if _covers(of_judge.get(judge.pk, []), show.judging_minutes):
            raise NotYet(
                _(
                    "{judge} ({code}) is away for the whole window. Shorten the pause, or take "
                    "the judge off the panel and mend it."
                ).format(judge=judge.person.name, code=judge.code)
            )
    for entry in entries:
        if _covers(of_entry.get(entry.pk, []), show.judging_minutes):
            raise NotYet(
                _(
                    "The crew of entry {entry} is away for the whole window. Shorten the pause, "
                    "move the hours, or scratch the entry."
                ).format(entry=entry.called)
            )


def _covers(spans: list[Span], available_minutes: int) -> bool:
    reached = 0
    for start, end in sorted(spans):
        if start > reached:
            break
        reached = max(reached, end)
    return reached >= available_minutes


def break_span_of(show: Show, rules: DayRules) -> Span | None:
    """Return the minutes in which a judge's break may lie; None where no part is in the window."""
    return break_span(
        show.judging_starts_at,
        show.judging_minutes,
        rules.break_from,
        rules.break_until,
        show.tz,
    )


def _breaks(show: Show, rules: DayRules, judges: list[Judge]) -> dict[Judge, tuple[Break, ...]]:
    if not rules.break_minutes:
        return {}
    span = break_span_of(show, rules)
    if span is None:
        raise NotYet(_("The judges' break lies outside the window. Move the break or the hours."))
    try:
        rest = Break(rules.break_minutes, *span)
    except ValueError as fault:
        raise NotYet(
            _(
                "The judges' break of {minutes} minutes does not fit into the {room} minutes it "
                "may take place in. Give it more room."
            ).format(minutes=rules.break_minutes, room=span[1] - span[0])
        ) from fault
    return {judge: (rest,) for judge in judges}


def planner_of(
    show: Show,
    plan: ShowProblem,
    solver: RotationSolver,
    names: Names | None = None,
    *,
    seed: int = 1,
) -> Planner:
    """Return what draws this show's plans, by the style and the spread the office has set."""
    rules = day_rules(show)
    walking = plan.style == "walking"
    return Planner(
        problem=party_problem(plan.problem) if walking else plan.problem,
        walking=walking,
        solver=solver,
        spread=Spread(rules.visit_spread_percent / 100, rules.pace_spread_percent / 100),
        seed=seed,
        names=names or {},
    )


def jobs_of(show: Show) -> list[PlanJob]:
    """Return the show's plans in the making and those that ended, newest first."""
    return list(PlanJob.objects.filter(show=show).select_related("asked_by"))


def latest_job(show: Show, kind: str) -> PlanJob | None:
    """Return the newest plan of this kind, in whatever state."""
    return PlanJob.objects.filter(show=show, kind=kind).select_related("asked_by").first()


def fingerprint(plan: ShowProblem, show: Show) -> str:
    """Say in one word what a plan was made from; any change of it gives another word."""
    problem = plan.problem
    facts = {
        "opens": show.judging_starts_at.astimezone(UTC).isoformat(),
        "style": plan.style,
        "visits": [[*pair_of(need), need.minutes] for need in problem.visits],
        "walk": problem.walk,
        "reset": problem.crew_reset_minutes,
        "judge_away": sorted([_pk(who), sorted(s)] for who, s in problem.judge_away.items()),
        "crew_away": sorted([_pk(who), sorted(s)] for who, s in problem.crew_away.items()),
        "breaks": sorted(
            [_pk(who), [[b.minutes, b.earliest, b.latest] for b in own]]
            for who, own in problem.breaks.items()
        ),
        "fair_ends": problem.fair_ends,
    }
    return hashlib.sha256(json.dumps(facts, sort_keys=True).encode()).hexdigest()


def pair_of(visit: Visit | VisitNeed) -> tuple[int, int]:
    """Return a planned visit's judge and entry id."""
    return _pk(visit.judge), _pk(visit.entry)


def row_of(visit: Visit) -> list[int]:
    """Return a planned visit as it is kept: judge id, entry id, start and end minute."""
    return [*pair_of(visit), visit.start, visit.end]


def _pk(who: object) -> int:
    assert isinstance(who, Judge | Entry)
    return who.pk
