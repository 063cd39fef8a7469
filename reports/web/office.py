"""The office's start page: what is next, what calls for somebody now, and the day's stages."""

from __future__ import annotations

from dataclasses import asdict

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from judging.actions.release_result import HANDS_NEEDED
from judging.queries.queries_of import open_queries
from judging.queries.rigs import open_rig_reports
from judging.queries.stages import Standing, alarms_of, standing_of
from judging.web.alerts import alerts_of
from reports.queries.papers import current_papers, progress
from reports.rules.stage_words import Counts
from reports.rules.stages import next_stage, stages
from showrun.shows.models import Show
from showrun.shows.queries import allowed, show_for
from showrun.shows.rules.access import Deed


def counts_of(show: Show, standing: Standing) -> Counts:
    """Return how far the show is, papers included."""
    papers = progress(show)
    return Counts(
        **asdict(standing),
        classes_on_paper=_classes_on_paper(show),
        papers_made=papers.done,
        papers_waiting=papers.unfinished,
        papers_failed=papers.failed,
    )


def _classes_on_paper(show: Show) -> int:
    """Count the classes with a paper that counts; wall sheet, signs and such are of none."""
    of_classes = current_papers(show).filter(show_class__isnull=False)
    return of_classes.order_by().values("show_class").distinct().count()


@never_cache
@require_safe
def office_start(request: HttpRequest, slug: str) -> HttpResponse:
    """Say what is next in one line, with the alarms above it and the whole day below."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    standing = standing_of(show, hands_needed=HANDS_NEEDED)
    alarms = alarms_of(show, standing)
    day = stages(counts_of(show, standing))
    context = {
        "show": show,
        "here": "start",
        "stages": day,
        "next": next_stage(day),
        "alarms": alarms,
        "queries_open": open_queries(show),
        "alerts": alerts_of(
            show,
            concerns=alarms.concerns,
            held=alarms.held,
            n_rigs=len(open_rig_reports(show)),
            at=timezone.now(),
        ),
        "may_settle": allowed(request.user, Deed.SETTLE, show),
    }
    return render(request, "reports/office.html", context)
