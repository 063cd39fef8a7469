"""Plans a worker looks for: asked for, claimed, reported on, ended, and taken over or left.

The row is the queue. Nothing here touches an announced time; `use_plan` alone touches a window,
and only one that is not published.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, TypedDict

from django.db import transaction
from django.db.models import Q
from django.db.models.functions import Coalesce

from judging.actions.open_window import take_over
from judging.models import PlanJob, Window
from judging.queries.plan import fingerprint, show_problem
from judging.queries.window import window_of
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.language import in_english
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from showrun.shows.rules.clocks import CLOCKS_DIFFER

LONGEST_S = 300
# A worker says at least every two seconds that it lives.
LEASE = timedelta(seconds=15)
# A wanted job the queue has lost is put to it again after this.
PATIENCE = timedelta(seconds=10)
TRIES = 2


# Told the minutes of the best plan so far, and what no plan is shorter than.
Report = Callable[[int, int], None]


class Found(TypedDict):
    """A plan found on the way."""

    seconds: float
    minutes: int
    bound: int


@transaction.atomic
def ask_for_plan(
    *,
    show: Show,
    kind: str,
    case: Mapping[str, Any],
    limit_s: int,
    by: Person | None,
    at: datetime,
    seed: int = 1,
) -> PlanJob:
    """Want a plan; one of a kind at a time. What is in `case` is kept with a fingerprint."""
    if not 1 <= limit_s <= LONGEST_S:
        raise InvalidInput(
            _("A worker may look for 1 to {longest} seconds.").format(longest=LONGEST_S),
            fields={"limit_s": _("1 to {longest} seconds, please.").format(longest=LONGEST_S)},
        )
    show = Show.objects.select_for_update().get(pk=show.pk)
    window = window_of(show)
    if kind == PlanJob.Kind.DRAW and window and window.published_at:
        raise Conflict(_("The window is published; announced times are not drawn again."))
    if PlanJob.objects.filter(show=show, kind=kind, state__in=PlanJob.UNFINISHED).exists():
        raise Conflict(_("A plan is being looked for already. Wait for it, or stop it first."))
    print_now = fingerprint(show_problem(show), show)
    job = PlanJob.objects.create(
        show=show,
        kind=kind,
        asked_by=by,
        asked_at=at,
        seed=seed,
        limit_s=limit_s,
        case={"fingerprint": print_now, **case, "tries": 0},
    )
    _record(job, by, at, "asked for", {"seconds": limit_s})
    return job


@transaction.atomic
def claim(*, job_id: int, at: datetime) -> PlanJob | None:
    """Take a wanted job; None when somebody else has it or it has ended."""
    wanted = PlanJob.objects.filter(pk=job_id, state=PlanJob.State.WANTED)
    if not wanted.update(state=PlanJob.State.RUNNING, heard_at=at):
        return None
    job = PlanJob.objects.select_related("show").get(pk=job_id)
    job.case = {**job.case, "tries": job.case.get("tries", 0) + 1}
    job.progress = []
    job.save(update_fields=["case", "progress"])
    return job


def stop_is_wanted(job_id: int) -> bool:
    """Say whether the worker should end; also when the job is no longer its own."""
    return not PlanJob.objects.filter(
        pk=job_id, state=PlanJob.State.RUNNING, stop_wanted=False
    ).exists()


def note_progress(*, job_id: int, found: Sequence[Found], at: datetime) -> None:
    """Say that the worker lives, and what it has found so far."""
    running = PlanJob.objects.filter(pk=job_id, state=PlanJob.State.RUNNING)
    running.update(heard_at=at, progress=list(found))


def finish(*, job_id: int, result: Mapping[str, Any], said: str, at: datetime) -> bool:
    """Keep what was found; a job that was stopped says so and keeps it all the same."""
    running = PlanJob.objects.filter(pk=job_id, state=PlanJob.State.RUNNING)
    ended = {"result": dict(result), "said": said[:300], "finished_at": at, "heard_at": at}
    return bool(
        running.filter(stop_wanted=True).update(state=PlanJob.State.STOPPED, **ended)
        or running.update(state=PlanJob.State.DONE, **ended)
    )


def fail(*, job_id: int, said: str, at: datetime) -> None:
    """Note that no plan came of it."""
    live = PlanJob.objects.filter(pk=job_id, state__in=PlanJob.UNFINISHED)
    live.update(state=PlanJob.State.FAILED, said=said[:300], finished_at=at)


@transaction.atomic
def stop(*, job: PlanJob, by: Person | None, at: datetime) -> None:
    """Ask the worker to end with what it has; a job nobody has taken up ends at once."""
    rows = PlanJob.objects.filter(pk=job.pk)
    ended = rows.filter(state=PlanJob.State.WANTED).update(
        state=PlanJob.State.STOPPED, finished_at=at, said="Stopped before a worker took it up."
    )
    asked = rows.filter(state=PlanJob.State.RUNNING).update(stop_wanted=True)
    if not ended and not asked:
        raise Conflict(_("This plan is not being looked for any more."))
    _record(job, by, at, "stopped")


@transaction.atomic
def mark_queued(*, at: datetime) -> list[int]:
    """Requeue or fail jobs whose worker vanished; return those to ask the queue for again."""
    silent = Q(heard_at__lt=at - LEASE) | Q(heard_at__gt=at + CLOCKS_DIFFER)
    lost = PlanJob.objects.filter(silent, state=PlanJob.State.RUNNING)
    for job in lost:
        again = job.case.get("tries", 0) < TRIES and not job.stop_wanted
        mine = PlanJob.objects.filter(pk=job.pk, state=job.state, heard_at=job.heard_at)
        if again:
            mine.update(state=PlanJob.State.WANTED, heard_at=None)
        else:
            mine.update(
                state=PlanJob.State.FAILED,
                finished_at=at,
                said="The worker vanished. The plan there was still stands.",
            )
    told_at = Coalesce("heard_at", "asked_at")
    long_ago = Q(told_at__lt=at - PATIENCE) | Q(told_at__gt=at + CLOCKS_DIFFER)
    waiting = PlanJob.objects.filter(state=PlanJob.State.WANTED).alias(told_at=told_at)
    waiting = waiting.filter(long_ago)
    ids = list(waiting.order_by("asked_at", "pk").values_list("pk", flat=True))
    PlanJob.objects.filter(pk__in=ids, state=PlanJob.State.WANTED).update(heard_at=at)
    return ids


def use_plan(*, show: Show, job: PlanJob, by: Person | None, at: datetime) -> Window:
    """Make a drawn plan the window's; refused once what it was made from has changed."""
    with transaction.atomic():
        show = Show.objects.select_for_update().get(pk=show.pk)
        job = PlanJob.objects.select_for_update().get(pk=job.pk, show=show)
        window = _usable(show, job)
        stale = fingerprint(show_problem(show), show) != job.case.get("fingerprint")
        if stale:
            PlanJob.objects.filter(pk=job.pk).update(state=PlanJob.State.STALE)
        else:
            taken = take_over(show=show, result=job.result)
            PlanJob.objects.filter(pk=job.pk).update(state=PlanJob.State.USED)
            before = {"needed": window.needed_minutes} if window else None
            _record(job, by, at, "used", {"needed": taken.needed_minutes}, before)
    if stale:
        raise Conflict(
            _(
                "The panel, the hours or the rules of the day changed since this plan was asked "
                "for. Look for another one."
            ),
            code="stale",
        )
    return taken


def _usable(show: Show, job: PlanJob) -> Window | None:
    """Return the present window, after making sure that this plan may take its place."""
    window = window_of(show)
    if window and window.published_at:
        raise Conflict(_("The window is published; announced times are not drawn again."))
    if (
        job.kind != PlanJob.Kind.DRAW
        or job.state not in PlanJob.READY
        or not job.result.get("visits")
    ):
        raise NotYet(_("There is no plan here that could be used."))
    return window


@transaction.atomic
def leave_plan(*, show: Show, job: PlanJob, by: Person | None, at: datetime) -> None:
    """Put a found plan aside; the window stays as it is."""
    left = PlanJob.objects.filter(pk=job.pk, show=show, state__in=PlanJob.READY)
    if not left.update(state=PlanJob.State.STALE, said="Looked at, and left."):
        raise Conflict(_("There is no plan here that could be left."))
    _record(job, by, at, "left")


def _record(
    job: PlanJob, by: Person | None, at: datetime, verb: str, after: Any = None, before: Any = None
) -> None:
    with in_english():  # the record says it alike, whoever asked
        kind = job.get_kind_display()
    record_change(
        show=job.show,
        actor=by,
        at=at,
        verb=verb,
        subject=f"the plan looked for: {kind}",
        before=before,
        after=after,
    )
