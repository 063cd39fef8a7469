"""What workers do for judging: look for one plan or for plans left behind, release what is due.

The settings send plans to the queue `plans`, so that none keeps a paper waiting.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from typing import Any

import structlog
from billiard.exceptions import SoftTimeLimitExceeded
from celery import shared_task
from django.db import connections, transaction
from django.utils.timezone import now

from judging.actions import plan_jobs
from judging.actions.draw_plan import solve_draw
from judging.actions.replan_day import solve_replan
from judging.actions.set_release_hour import release_due
from judging.models import PlanJob
from showrun.errors import ShowError

log = structlog.get_logger(__name__)

# How often the office's wish to stop is looked for, and how often the worker says it lives.
LOOK_S = 0.25
SAY_S = 2.0
# How long a search that was told to end may take to do so.
WIND_UP_S = 20.0

Solve = Callable[[PlanJob, threading.Event, plan_jobs.Report], dict[str, Any]]
SOLVERS: dict[str, Solve] = {
    PlanJob.Kind.DRAW: solve_draw,
    PlanJob.Kind.REPLAN: solve_replan,
}


@shared_task(
    name="judging.tasks.plan_job_task",
    acks_late=True,
    soft_time_limit=plan_jobs.LONGEST_S + 30,
    time_limit=plan_jobs.LONGEST_S + 90,
)
def plan_job_task(*, job_id: int) -> None:
    """Look for a plan; told twice or late, it does nothing."""
    job = plan_jobs.claim(job_id=job_id, at=now())
    if job is None:
        return
    search = _Search(job, SOLVERS[job.kind])
    try:
        _watch(search)
    except SoftTimeLimitExceeded:
        search.stop.set()
        search.thread.join(WIND_UP_S)
    _wind_up(search)


@shared_task(name="judging.tasks.sweep_plan_jobs")
def sweep_plan_jobs() -> int:
    """Ask the queue again for wanted plans, and give those back whose worker vanished."""
    ids = plan_jobs.mark_queued(at=now())
    for job_id in ids:
        plan_job_task.delay(job_id=job_id)
    return len(ids)


@shared_task(name="judging.tasks.release_due_results")
def release_due_results() -> int:
    """Release the signed results whose hour has come."""
    return len(release_due(at=now()))


def queue_plan(job: PlanJob) -> None:
    """Nudge the queue once the row is committed; the sweep asks again for what gets lost."""
    transaction.on_commit(lambda: plan_job_task.delay(job_id=job.pk), robust=True)


class _Search:
    """A search in a thread of its own: a signal to the main thread would wait for its end."""

    def __init__(self, job: PlanJob, solve: Solve) -> None:
        self.job = job
        self.solve = solve
        self.stop = threading.Event()
        self.found: list[plan_jobs.Found] = []
        self.result: dict[str, Any] | None = None
        self.fault: BaseException | None = None
        self.began = time.monotonic()
        self.thread = threading.Thread(target=self._run, name=f"plan-{job.pk}", daemon=True)

    def _note(self, minutes: int, bound: int) -> None:
        seconds = round(time.monotonic() - self.began, 1)
        self.found.append({"seconds": seconds, "minutes": minutes, "bound": bound})

    def _run(self) -> None:
        try:
            self.result = self.solve(self.job, self.stop, self._note)
        except Exception as fault:
            self.fault = fault
        finally:
            connections.close_all()


def _watch(search: _Search) -> None:
    """Wait for the search; meanwhile say what it finds, and hear whether it should stop."""
    search.thread.start()
    told, said_at = 0, time.monotonic()
    while search.thread.is_alive():
        search.thread.join(LOOK_S)
        if plan_jobs.stop_is_wanted(search.job.pk):
            search.stop.set()
        found = list(search.found)
        if len(found) > told or time.monotonic() - said_at > SAY_S:
            plan_jobs.note_progress(job_id=search.job.pk, found=found, at=now())
            told, said_at = len(found), time.monotonic()


def _wind_up(search: _Search) -> None:
    """Keep the result, or say why there is none."""
    job = search.job
    if search.result is not None:
        plan_jobs.note_progress(job_id=job.pk, found=search.found, at=now())
        said = str(search.result.get("said", ""))
        plan_jobs.finish(job_id=job.pk, result=search.result, said=said, at=now())
    elif isinstance(search.fault, ShowError):
        plan_jobs.fail(job_id=job.pk, said=search.fault.detail, at=now())
    else:
        log.error("plan_failed", job=job.pk, exc_info=search.fault)
        plan_jobs.fail(
            job_id=job.pk, said="The search failed. The plan there was still stands.", at=now()
        )
