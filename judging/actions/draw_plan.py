"""Look for a shorter plan than the window's, or prove that there is none; changes no row."""

from __future__ import annotations

import threading
from typing import Any

from judging.actions.open_window import SEED, drawn_plan
from judging.actions.plan_jobs import Report
from judging.models import PlanJob, Window
from judging.queries.plan import ShowProblem, fingerprint, planner_of, row_of, show_problem
from judging.queries.window import window_of
from judging.rules.windows.planner import Planner, apart, together
from judging.rules.windows.problem import Rotation, Visit
from judging.rules.windows.rotation import DispatchSolver
from judging.rules.windows.verify import faults
from showrun.errors import Conflict
from showrun.language import gettext as _
from showrun.shows.models import Show


def solve_draw(job: PlanJob, stop: threading.Event, report: Report) -> dict[str, Any]:
    """Improve the plan at hand until it is proven, stopped or out of time."""
    show = Show.objects.get(pk=job.show_id)
    plan = show_problem(show)
    if fingerprint(plan, show) != job.case.get("fingerprint"):
        raise Conflict(_("The panel, the hours or the rules of the day changed meanwhile."))
    planner = planner_of(show, plan, DispatchSolver(seed=SEED), seed=SEED)
    at_hand = _present(planner, window_of(show)) or drawn_plan(planner)
    report(at_hand.makespan, at_hand.lower_bound)
    # A large library that a web server never needs: loaded by who searches.
    from judging.rules.windows.exact import improve  # noqa: PLC0415

    best = improve(
        planner.problem,
        at_hand,
        limit_s=job.limit_s,
        seed=job.seed,
        on_better=lambda found: report(found.makespan, found.lower_bound),
        stop=stop,
    )
    report(best.makespan, best.lower_bound)
    return _result(show, plan, planner, best, at_hand)


def _present(planner: Planner, window: Window | None) -> Rotation | None:
    """The window's own plan, so that what is found is never longer; None when it is out of date."""
    if window is None:
        return None
    opens = window.opens_at
    stays = tuple(
        Visit(
            visit.entry,
            visit.judge,
            round((visit.starts_at - opens).total_seconds() / 60),
            round((visit.ends_at - opens).total_seconds() / 60),
        )
        for visit in window.visits.select_related("judge", "entry")
    )
    rotation = Rotation(
        stays, window.needed_minutes, window.bound_minutes, window.proven, window.solver
    )
    if planner.walking:
        rotation = together(rotation)
    return None if faults(planner.problem, rotation) else rotation


def _result(
    show: Show, plan: ShowProblem, planner: Planner, best: Rotation, at_hand: Rotation
) -> dict[str, Any]:
    risk = planner.risk(planner.problem, best)
    visits = apart(plan.problem, best) if planner.walking else best
    return {
        "visits": [row_of(visit) for visit in visits.visits],
        "makespan": best.makespan,
        "bound": best.lower_bound,
        "proven": best.proven,
        "solver": best.solver,
        "likely": planner.keep(best).likely,
        "chance": risk.chance(show.judging_minutes),
        "saved": at_hand.makespan - best.makespan,
        "said": _said(best, at_hand),
    }


def _said(best: Rotation, at_hand: Rotation) -> str:
    saved = at_hand.makespan - best.makespan
    found = f"{saved} minutes shorter" if saved > 1 else "1 minute shorter" if saved else ""
    if best.proven:
        return f"{found or 'Nothing shorter'}; proven: no plan of these visits can be shorter."
    gap = f"at most {best.gap_minutes} minutes longer than the best there is"
    return f"{found or 'Nothing shorter found'}; {gap}."
