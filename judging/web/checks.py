"""The checks in the office, how far judges agreed, and each judge's own report."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from judging.actions.ask_questions import SHOW_WISE_ALPHA, put_to_judges
from judging.queries.panel_findings import findings_of
from judging.queries.panel_report import judge_reported_to, own_report, panel_report
from judging.rules.results.panel_checks import MEANINGS
from judging.rules.results.question_words import clean_show_words
from showrun.errors import Conflict, InvalidInput
from showrun.language import ngettext
from showrun.shows.models import Show
from showrun.shows.queries import allowed, demand, person_of, show_by_slug, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def checks(request: HttpRequest, slug: str) -> HttpResponse:
    """Show what every check looks at and found, and put a finding about the day to its judge."""
    show = show_by_slug(slug)
    if request.method == "POST":
        demand(request.user, Deed.SETTLE, show)
        _put(request, show)
        return redirect("judging:checks", show.slug)
    demand(request.user, Deed.SEE_RESULTS, show)
    context = {
        "show": show,
        "here": "checks",
        "found": findings_of(show, SHOW_WISE_ALPHA),
        "alpha_percent": round(SHOW_WISE_ALPHA * 100),
        "clean_show": clean_show_words(SHOW_WISE_ALPHA, len(MEANINGS)),
        "may_settle": allowed(request.user, Deed.SETTLE, show),
    }
    return render(request, "judging/checks.html", context)


def _put(request: HttpRequest, show: Show) -> None:
    judge = request.POST.get("judge", "")
    try:
        asked = put_to_judges(
            show=show,
            check=request.POST.get("check", ""),
            judge_id=number_sent(judge) if judge else None,
            by=person_of(request.user),
            at=timezone.now(),
        )
    except (Conflict, InvalidInput) as fault:
        messages.error(request, fault.detail)
        return
    said = ngettext(
        "Put to {n} judge; it changes no mark.",
        "Put to {n} judges; it changes no mark.",
        len(asked),
    )
    messages.success(request, said.format(n=len(asked)))


@never_cache
@require_safe
def agreement(request: HttpRequest, slug: str) -> HttpResponse:
    """Show how far the judges agreed, section by section and judge by judge."""
    show = show_for(request.user, slug, Deed.SEE_RESULTS)
    context = {"show": show, "here": "agreement", "report": panel_report(show)}
    return render(request, "judging/agreement.html", context)


@never_cache
@require_safe
def judge_report(request: HttpRequest, judge_id: int) -> HttpResponse:
    """Show a judge's report to that judge after release, and to the office; else it is not there.

    Nobody learns from the address whether there is such a judge.
    """
    judge = judge_reported_to(request.user, judge_id, Deed.SEE_JUDGE_REPORT)
    report, sections = own_report(judge)
    context = {
        "show": judge.show,
        "judge": judge,
        "report": report,
        "sections": sections,
        "office": allowed(request.user, Deed.SEE_RESULTS, judge.show),
    }
    return render(request, "judging/judge_report.html", context)
