"""The plan a worker looks for, on the page of the window: progress, what was found, what to do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages

from judging.actions.plan_jobs import ask_for_plan, leave_plan, stop, use_plan
from judging.models import PlanJob, Window
from judging.queries.plan import latest_job
from judging.rules.windows.planner import chance_words
from judging.tasks import queue_plan
from showrun.errors import InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext
from showrun.shows.models import Person, Show
from showrun.shows.web.number_sent import number_sent

STATES = {
    PlanJob.State.WANTED: N_("waiting for a worker"),
    PlanJob.State.RUNNING: N_("looking"),
    PlanJob.State.DONE: N_("found"),
    PlanJob.State.STOPPED: N_("stopped"),
    PlanJob.State.FAILED: N_("failed"),
}


@dataclass(frozen=True)
class PlanView:
    """What the page says of the plan being looked for."""

    job: PlanJob | None = None
    state: str = ""
    live: bool = False
    ready: bool = False
    better: bool = False
    best: str = ""
    gap: str = ""
    chance: str = ""
    steps: tuple[tuple[float, int, int], ...] = ()


def plan_view(show: Show, window: Window | None) -> PlanView:
    """Lay out the newest plan looked for; nothing once it was used, left or overtaken."""
    job = latest_job(show, PlanJob.Kind.DRAW)
    if job is None or job.state not in STATES:
        return PlanView()
    steps = tuple((one["seconds"], one["minutes"], one["bound"]) for one in job.progress)
    ready = job.state in PlanJob.READY and bool(job.result)
    chance = job.result.get("chance")
    return PlanView(
        job=job,
        state=_(STATES[PlanJob.State(job.state)]),
        live=job.state in PlanJob.UNFINISHED,
        ready=ready,
        better=ready and window is not None and _differs(job, window),
        best=_("{minutes} minutes").format(minutes=steps[-1][1]) if steps else "",
        gap=gap_words(steps[-1][1], steps[-1][2]) if steps else "",
        chance="" if chance is None else chance_words(chance),
        steps=steps,
    )


def gap_words(minutes: int, bound: int) -> str:
    """Say how good a plan is known to be.

    >>> gap_words(212, 210), gap_words(210, 210)
    ('at most 2 minutes longer than the best there is', 'proven: no plan can be shorter')
    """
    gap = minutes - bound
    if gap <= 0:
        return _("proven: no plan can be shorter")
    return ngettext(
        "at most {gap} minute longer than the best there is",
        "at most {gap} minutes longer than the best there is",
        gap,
    ).format(gap=gap)


def _differs(job: PlanJob, window: Window) -> bool:
    """Whether taking it over would give a shorter plan or a better proof."""
    return (
        job.result["makespan"] < window.needed_minutes
        or job.result["bound"] > window.bound_minutes
        or (job.result["proven"] and not window.proven)
    )


def asked_plan(show: Show, limit_s: int, by: Person, at: datetime) -> tuple[int, str]:
    """Ask for a plan and put it to the queue."""
    job = ask_for_plan(show=show, kind=PlanJob.Kind.DRAW, case={}, limit_s=limit_s, by=by, at=at)
    queue_plan(job)
    return messages.SUCCESS, (
        _(
            "A worker looks for a shorter plan, {seconds} seconds at most. The plan there is "
            "stands meanwhile."
        ).format(seconds=limit_s)
    )


def change_plan(show: Show, do: str, number: str, by: Person, at: datetime) -> tuple[int, str]:
    """Stop the search, or use or leave what it found."""
    job = PlanJob.objects.filter(show=show, pk=number_sent(number)).first()
    if job is None:
        raise NotFound(_("That plan is not there any more."))
    if do == "stop":
        stop(job=job, by=by, at=at)
        return messages.SUCCESS, _("The search ends with what it has.")
    if do == "leave":
        leave_plan(show=show, job=job, by=by, at=at)
        return messages.SUCCESS, _("The plan found is left; the window stays as it is.")
    if do == "use":
        window = use_plan(show=show, job=job, by=by, at=at)
        return messages.SUCCESS, _("The plan is used: {minutes} minutes needed.").format(
            minutes=window.needed_minutes
        )
    raise InvalidInput(_("Stop, use or leave: choose one of them."))
