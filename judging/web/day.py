"""The running day: who is where, when it will end, and new times when it goes another way."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.replan_day import announce_replan, ask_replan, leave_replan
from judging.models import PlanJob
from judging.queries.announcements import announcements_of
from judging.queries.difference import Difference, difference
from judging.queries.outlook import outlook
from judging.queries.running_day import RunningDay, open_replan, running_day, step_of
from judging.tasks import queue_plan
from judging.web.day_forms import FORMS, HappeningForm
from judging.web.progress_grid import ago
from showrun.errors import InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent

REFRESH_S = 15
LOOKING_S = 3


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def day(request: HttpRequest, slug: str) -> HttpResponse:
    """Show how the day stands; take what happened, and announce new times."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    if request.method != "POST":
        return _page(request, show, _forms(show))
    demand(request.user, Deed.RUN_WINDOW, show)
    do, by, at = request.POST.get("do", ""), person_of(request.user), timezone.now()
    form_of = next((form for form in FORMS if form.what.value == do), None)
    if form_of is not None:
        return _happened(request, show, form_of, by, at)
    try:
        _decide(request, show, do, by, at)
    except ShowError as fault:
        messages.error(request, fault.detail)
    return redirect("judging:day", slug=slug)


def _happened(
    request: HttpRequest, show: Show, form_of: type[HappeningForm], by: Person, at: datetime
) -> HttpResponse:
    """Work out new times for what was typed, or say beside the form what is wrong."""
    form = form_of(request.POST, show=show)
    status = 422
    if form.is_valid():
        try:
            job = ask_replan(show=show, happening=form.happening, by=by, at=at)
        except ShowError as fault:
            form.take(fault)
            status = fault.status
        else:
            if job.state == PlanJob.State.WANTED:
                queue_plan(job)
            messages.success(
                request, _("{cause} Nothing is announced yet.").format(cause=job.case["cause"])
            )
            return redirect(f"{reverse('judging:day', args=[show.slug])}#difference")
    forms = [form if isinstance(other, form_of) else other for other in _forms(show)]
    return _page(request, show, forms, status=status)


def _decide(request: HttpRequest, show: Show, do: str, by: Person, at: datetime) -> None:
    """Announce what was worked out, or leave it."""
    job = PlanJob.objects.filter(show=show, pk=number_sent(request.POST.get("job"))).first()
    if job is None:
        raise InvalidInput(_("Those times are no longer there; work them out again."))
    if do == "announce":
        way = request.POST.get("way", "")
        told = announce_replan(show=show, job=job, way=way, by=by, at=at)
        n = len(told.changes)
        messages.success(
            request,
            ngettext(
                "Announced: {n} visit changed. Phones have it with their next contact, exhibitors "
                "on their pages.",
                "Announced: {n} visits changed. Phones have it with their next contact, "
                "exhibitors on their pages.",
                n,
            ).format(n=n),
        )
    elif do == "leave":
        leave_replan(show=show, job=job, by=by, at=at)
        messages.success(request, _("Left. The announced times stand."))
    else:
        raise InvalidInput(_("Announce the times or leave them: choose one."))


def _forms(show: Show) -> list[HappeningForm]:
    return [form(show=show) for form in FORMS]


def _page(
    request: HttpRequest, show: Show, forms: list[HappeningForm], *, status: int = 200
) -> HttpResponse:
    at = timezone.now()
    found = running_day(show, at=at)
    ahead = outlook(show, found, at=at) if found.published else None
    job = found.job if found.published else open_replan(show)
    looking = job is not None and job.state in PlanJob.UNFINISHED
    context = {
        "show": show,
        "here": "day",
        "at": at,
        "day": found,
        "lines": [
            (line, ago(line.heard_at, at=at) if line.heard_at else "") for line in found.judges
        ],
        "ahead": ahead,
        "step": step_of(found, chance=ahead.chance if ahead else None, at=at),
        "job": job,
        "looking": looking,
        "difference": _difference(show, found),
        "forms": forms,
        "told": announcements_of(show),
        "may_run": allowed(request.user, Deed.RUN_WINDOW, show),
        "refresh_s": LOOKING_S if looking else REFRESH_S,
    }
    return render(request, "judging/day.html", context, status=status)


def _difference(show: Show, found: RunningDay) -> Difference | None:
    return difference(show, found.job) if found.job else None
