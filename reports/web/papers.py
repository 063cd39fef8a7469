"""Papers: the office's page, the file, an entry's newest sheet, and the check of a code."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from entries.queries.entries import entry_for
from judging.models import Result
from judging.queries.panel_report import judge_reported_to
from judging.queries.results import released_results
from judging.queries.timetables import times_as_of
from judging.queries.window import window_of
from reports import tasks
from reports.actions.cancel_papers import cancel_papers
from reports.actions.redo_papers import redo_paper, redo_papers
from reports.actions.want_bundle import want_bundle
from reports.actions.want_camp_papers import want_camp_papers
from reports.actions.want_certificates import want_certificates
from reports.actions.want_judge_reports import want_judge_reports
from reports.actions.want_papers import want_papers
from reports.actions.want_study_sheet import want_study_sheet
from reports.actions.want_wall_sheet import want_wall_sheet
from reports.models import Paper
from reports.models.paper import BUNDLES, OF_ENTRY
from reports.queries import papers as queries
from reports.queries.bundles import bundles_of
from reports.queries.camp_papers import CAMP_KINDS
from reports.rules.code import CodeRefused, printed, read_code
from reports.web.hand_out import hand_out
from showrun.errors import Gone, InvalidInput, NotFound, NotReleased, NotYet, ShowError
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, show_by_slug
from showrun.shows.rules.access import Deed
from showrun.shows.web.limits import limited

CHECKS_ALLOWED = 120  # codes one visitor, or one ground, looks up in ten minutes
NOTHING_HERE = N_("There is nothing at this address for you.")
NOT_RELEASED = N_(
    "The results of {named} are not released yet; your sheet will be here when they are."
)
# What the office may ask for, by the button's name.
SEVERAL: dict[str, Callable[..., list[Paper]]] = {
    "want": want_papers,
    "certificates": want_certificates,
    "reports": want_judge_reports,
}
ONE: dict[str, Callable[..., Paper]] = {
    "wall": want_wall_sheet,
    "study": want_study_sheet,
    "bundle": partial(want_bundle, kind=Paper.Kind.BUNDLE),
    "book": partial(want_bundle, kind=Paper.Kind.BOOK),
}
# Kinds the page shows in places of their own.
ELSEWHERE = (*CAMP_KINDS, *BUNDLES)


@never_cache
@require_http_methods(["GET", "POST"])
def papers(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the papers of a show; make, repeat or cancel them."""
    show = show_by_slug(slug)
    own_roles = demand(request.user, Deed.MAKE_PAPERS, show)
    if request.method == "POST":
        try:
            messages.success(request, _change(request, show))
        except ShowError as fault:
            messages.error(request, fault.detail)
        return redirect("reports:papers", slug=slug)
    current = list(queries.current_papers(show))
    context = {
        "show": show,
        "here": "papers",
        "own_roles": own_roles,
        "papers": [p for p in current if not p.is_wall and p.kind not in ELSEWHERE],
        "bundles": bundles_of(show),
        "camp_papers": [paper for paper in current if paper.kind in CAMP_KINDS],
        "progress": queries.progress(show),
        "as_of": times_as_of(show, window_of(show)),
        "walls": [paper for paper in current if paper.is_wall],
        "replaced": list(queries.papers_of(show).exclude(pk__in=[p.pk for p in current])),
        "released": released_results(show),
        "unwanted": queries.results_lacking_papers(show),
    }
    return render(request, "reports/papers.html", context)


def _change(request: HttpRequest, show: Show) -> str:
    by, at = request.user, now()
    assert isinstance(by, Person)
    deed = request.POST.get("deed", "")
    if deed in SEVERAL:
        several = SEVERAL[deed](show=show, by=by, at=at)
        tasks.queue_papers(several)
        count = sum(paper.state == Paper.State.WANTED for paper in several)
        return _drawn_words(count, there=len(several) - count)
    if deed in ONE or deed in CAMP_KINDS:
        return _one(deed, show, by, at)
    if deed == "redo":
        again = redo_papers(show=show, by=by, at=at)
        tasks.queue_papers(again)
        n = len(again)
        return ngettext(
            "{n} paper will be drawn again.", "{n} papers will be drawn again.", n
        ).format(n=n)
    if deed == "cancel":
        gone = cancel_papers(show=show, by=by, at=at)
        return ngettext("{n} paper was cancelled.", "{n} papers were cancelled.", gone).format(
            n=gone
        )
    raise InvalidInput(_("Choose to make, repeat or cancel papers."))


def _drawn_words(wanted: int, *, there: int) -> str:
    said = ngettext("{n} paper will be drawn now.", "{n} papers will be drawn now.", wanted)
    said = said.format(n=wanted)
    if there:
        said += " " + ngettext("{n} is there already.", "{n} are there already.", there).format(
            n=there
        )
    return said


def _one(deed: str, show: Show, by: Person, at: datetime) -> str:
    if deed in ONE:
        paper = ONE[deed](show=show, by=by, at=at)
    else:
        paper = want_camp_papers(show=show, kind=Paper.Kind(deed), by=by, at=at)
    tasks.queue_papers([paper])
    if paper.state == Paper.State.WANTED:
        of_times = N_("The {kind} of announcement {version} will be drawn now.")
        printed_anew = N_("The {kind}, printing {version}, will be drawn now.")
    else:
        of_times = N_("The {kind} of announcement {version} is there already.")
        printed_anew = N_("The {kind}, printing {version}, is there already.")
    told = _(of_times) if paper.is_wall else _(printed_anew)
    return told.format(kind=paper.get_kind_display(), version=paper.version)


@require_POST
def redo(request: HttpRequest, paper_id: int) -> HttpResponse:
    """Draw one paper again."""
    paper = _paper(paper_id)
    demand(request.user, Deed.MAKE_PAPERS, paper.show)
    assert isinstance(request.user, Person)
    try:
        again = redo_paper(paper=paper, by=request.user, at=now())
        tasks.queue_papers([again])
        messages.success(request, _("The paper will be drawn again."))
    except ShowError as fault:
        messages.error(request, fault.detail)
    return redirect("reports:papers", slug=paper.show.slug)


@never_cache
@require_GET
def paper_file(request: HttpRequest, paper_id: int) -> HttpResponse | FileResponse:
    """Hand out a paper to the office, and to its exhibitor once its result is released."""
    paper = _paper(paper_id)
    if not allowed(request.user, Deed.MAKE_PAPERS, paper.show):
        _demand_own(request, paper)
        _demand_in_force(paper)
    return hand_out(paper)


@never_cache
@require_GET
def judge_report_paper(request: HttpRequest, judge_id: int) -> HttpResponse | FileResponse:
    """Hand out a judge's newest own report, to the office and after release to that judge."""
    judge = judge_reported_to(request.user, judge_id, Deed.FETCH_JUDGE_REPORT)
    printings = queries.current_papers(judge.show).filter(judge=judge, kind=Paper.Kind.REPORT)
    paper = printings.first()
    if paper is None:
        raise NotYet(_("The office has not made this report as a paper yet."))
    return hand_out(paper)


@never_cache
@require_GET
def entry_paper(request: HttpRequest, entry_id: int, kind: str) -> HttpResponse | FileResponse:
    """Hand out an entry's newest paper of a kind, of one class if `?class=` names it."""
    entry = entry_for(request.user, entry_id, Deed.SEE_OWN_PAPERS)
    if kind not in OF_ENTRY:
        raise NotFound(_(NOTHING_HERE))
    wanted_class = request.GET.get("class", "")
    waiting = queries.unreleased_classes(entry)
    if wanted_class:
        waiting = [one for one in waiting if one.code == wanted_class]
    results = [
        result
        for result in queries.released_results_of(entry)
        if wanted_class in ("", result.show_class.code)
    ]
    if not results:
        named = _all_of([one.name for one in waiting]) or _("your classes")
        raise NotReleased(_(NOT_RELEASED).format(named=named))
    there = queries.current_papers(entry.show).filter(entry=entry, kind=kind, result__in=results)
    papers_there = list(there)
    if not papers_there:
        raise NotFound(_no_paper(kind))
    done = [paper for paper in papers_there if paper.state == Paper.State.DONE]
    return hand_out((done or papers_there)[0])


def _all_of(names: list[str]) -> str:
    """Join names by the language's word for "and", each of them."""
    said = names[0] if names else ""
    for name in names[1:]:
        said = _("{words} and {last}").format(words=said, last=name)
    return said


def _no_paper(kind: str) -> str:
    if kind != Paper.Kind.FEEDBACK:
        return _("There is no {kind} for this entry.").format(kind=Paper.Kind(kind).label)
    return _("The results are released; the office has not made the sheets yet.")


@require_GET
def check_form(request: HttpRequest) -> HttpResponse:
    """Ask for a code, or go to its answer."""
    typed = request.GET.get("code", "")
    if not typed.strip():
        return render(request, "reports/check.html", {})
    return redirect("reports:paper-check", code=typed.strip().replace("/", "-"))


@never_cache
@require_GET
@limited("paper-check", CHECKS_ALLOWED, method="GET")
def check(request: HttpRequest, code: str) -> HttpResponse:
    """Say whether a printed code is ours and whether its version still stands; no more."""
    try:
        signs = read_code(code)
    except CodeRefused as fault:
        return render(
            request, "reports/check.html", {"fault": str(fault), "typed": code}, status=404
        )
    paper = queries.paper_by_code(signs)
    if paper is None or paper.done_at is None:
        context: dict[str, object] = {"unknown": True, "typed": printed(signs)}
        return render(request, "reports/check.html", context, status=404)
    context = {
        "paper": paper,
        "typed": printed(signs),
        "replaced": queries.is_replaced(paper),
        "in_force": queries.version_in_force(paper),
    }
    return render(request, "reports/check.html", context)


def _paper(paper_id: int) -> Paper:
    papers_there = Paper.objects.select_related(
        "show", "show_class", "entry", "result__show_class", "judge"
    )
    paper = papers_there.filter(pk=paper_id).first()
    if paper is None:
        raise NotFound(_(NOTHING_HERE))
    return paper


def _demand_own(request: HttpRequest, paper: Paper) -> None:
    """Refuse whoever the paper is not for: all but the office, its exhibitor or its judge."""
    if paper.kind == Paper.Kind.CALLS:
        demand(request.user, Deed.READ_CALL_LIST, paper.show)
    elif paper.is_of_judge:
        if paper.judge is None:
            demand(request.user, Deed.MAKE_PAPERS, paper.show)
        else:
            judge_reported_to(request.user, paper.judge.pk, Deed.FETCH_JUDGE_REPORT)
    elif paper.entry is None or paper.judge is not None:
        demand(request.user, Deed.MAKE_PAPERS, paper.show)
    else:
        owner = paper.entry.exhibitor_id == request.user.pk
        demand(request.user, Deed.SEE_OWN_PAPERS, paper.show, owner=owner)


def _demand_in_force(paper: Paper) -> None:
    if paper.result is not None:
        _demand_release(paper, paper.result)
    elif paper.posting_id is not None and queries.is_replaced(paper):
        raise Gone(_("This payment was undone since; there is no receipt of it any more."))


def _demand_release(paper: Paper, result: Result) -> None:
    if result.released_at is None:
        raise NotReleased(_(NOT_RELEASED).format(named=result.show_class.name))
    if result.replaced_at is not None:
        raise Gone(
            _(
                "This sheet belongs to version {version} of the result, which has been replaced. "
                "The page of your entry has the sheet that counts."
            ).format(version=paper.version)
        )
