"""The office's page on which paper cards are printed."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.models import Entry
from judging.models import Judge
from judging.queries.cards import card_of
from judging.queries.panel import judges_with_phones, shared_seats
from reports import tasks
from reports.actions.want_card_papers import want_card_papers
from reports.queries.card_papers import card_papers_of
from showrun.errors import NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent

REFRESH_S = 3


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def card_papers(request: HttpRequest, slug: str) -> HttpResponse:
    """Print a judge's cards of all wagons, or of one; fetch what was printed."""
    show = show_for(request.user, slug, Deed.MAKE_PAPERS)
    if request.method == "POST":
        judge, entry = _asked(request, show)
        try:
            paper = want_card_papers(judge=judge, entry=entry, by=person_of(request.user), at=now())
        except ShowError as fault:
            messages.error(request, fault.detail)
        else:
            tasks.queue_papers([paper])
            if entry:
                told = _("The cards of {judge}, wagon {entry}, will be drawn now.")
            else:
                told = _("The cards of {judge}, all wagons, will be drawn now.")
            messages.success(request, told.format(judge=judge, entry=entry and entry.called))
        return redirect("reports:card-papers", slug=slug)
    wagons: dict[int, dict[int, Entry]] = {}
    for seat in shared_seats(show):
        wagons.setdefault(seat.judge_id, {})[seat.entry_id] = seat.entry
    papers = list(card_papers_of(show))
    context = {
        "show": show,
        "here": "paper-cards",
        "judges": [
            (judge, list(wagons[judge.pk].values()))
            for judge in judges_with_phones(show)
            if judge.pk in wagons
        ],
        "papers": papers,
        "waiting": any(not paper.is_finished for paper in papers),
        "refresh_s": REFRESH_S,
        "scorecard": card_of(show),
    }
    return render(request, "reports/card_papers.html", context)


def _asked(request: HttpRequest, show: Show) -> tuple[Judge, Entry | None]:
    judges = Judge.objects.select_related("person", "show")
    judge = judges.filter(show=show, pk=number_sent(request.POST.get("judge"))).first()
    if judge is None:
        raise NotFound(_("This show has no such judge."))
    wanted = request.POST.get("entry", "")
    if not wanted:
        return judge, None
    entry = Entry.objects.filter(show=show, pk=number_sent(wanted)).first()
    if entry is None:
        raise NotFound(_("This show has no such wagon."))
    return judge, entry
