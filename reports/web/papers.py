"""Papers: the office's page, the file, an entry's newest sheet, and the check of a code."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from entries.models import Entry
from entries.queries import entry_for
from judging.queries.results import released_results
from judging.queries.timetables import times_as_of
from judging.queries.window import window_of
from reports import tasks
from reports.actions.cancel_papers import cancel_papers
from reports.actions.redo_papers import redo_paper, redo_papers
from reports.actions.want_papers import want_papers
from reports.actions.want_wall_sheet import want_wall_sheet
from reports.models import Paper
from reports.queries import papers as queries
from reports.rules.code import CodeRefused, printed, read_code
from showrun.errors import Gone, InvalidInput, NotFound, NotReleased, NotYet, ShowError
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, show_by_slug
from showrun.shows.rules.access import Deed

NOTHING_HERE = "There is nothing at this address for you."


@never_cache
@require_http_methods(["GET", "POST"])
def papers(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the papers of a show; make, repeat or cancel them."""
    show = show_by_slug(slug)
    demand(request.user, Deed.MAKE_PAPERS, show)
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
        "papers": [paper for paper in current if not paper.is_wall],
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
    deed = request.POST.get("deed")
    if deed == "want":
        wanted = want_papers(show=show, by=by, at=at)
        tasks.queue_papers(wanted)
        count = sum(paper.state == Paper.State.WANTED for paper in wanted)
        return f"{count} of {len(wanted)} papers will be drawn now; the rest are there already."
    if deed == "wall":
        paper = want_wall_sheet(show=show, by=by, at=at)
        tasks.queue_papers([paper])
        if paper.state == Paper.State.WANTED:
            return f"The wall sheet of announcement {paper.version} will be drawn now."
        return f"The wall sheet of announcement {paper.version} is there already."
    if deed == "redo":
        again = redo_papers(show=show, by=by, at=at)
        tasks.queue_papers(again)
        return f"{len(again)} papers will be drawn again."
    if deed == "cancel":
        return f"{cancel_papers(show=show, by=by, at=at)} papers were cancelled."
    raise InvalidInput("Choose to make, repeat or cancel papers.")


@require_POST
def redo(request: HttpRequest, paper_id: int) -> HttpResponse:
    """Draw one paper again."""
    paper = _paper(paper_id)
    demand(request.user, Deed.MAKE_PAPERS, paper.show)
    assert isinstance(request.user, Person)
    try:
        again = redo_paper(paper=paper, by=request.user, at=now())
        tasks.queue_papers([again])
        messages.success(request, "The paper will be drawn again.")
    except ShowError as fault:
        messages.error(request, fault.detail)
    return redirect("reports:papers", slug=paper.show.slug)


@never_cache
@require_GET
def paper_file(request: HttpRequest, paper_id: int) -> HttpResponse | FileResponse:
    """Hand out a paper to the office, and to its exhibitor once its result is released."""
    paper = _paper(paper_id)
    if not allowed(request.user, Deed.MAKE_PAPERS, paper.show):
        if paper.names_judges:
            demand(request.user, Deed.MAKE_PAPERS, paper.show)
        _, entry, _ = paper.of_result
        owner = entry.exhibitor_id == request.user.pk
        demand(request.user, Deed.SEE_OWN_PAPERS, paper.show, owner=owner)
        _demand_release(paper)
    return _file(paper)


@never_cache
@require_GET
def entry_paper(request: HttpRequest, entry_id: int, kind: str) -> HttpResponse | FileResponse:
    """Hand out an entry's newest paper of a kind, of one class if `?class=` names it."""
    entry = _entry(request, entry_id)
    if kind not in (Paper.Kind.AWARD, Paper.Kind.FEEDBACK):
        raise NotFound(NOTHING_HERE)
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
        named = " and ".join(one.name for one in waiting) or "your classes"
        raise NotReleased(
            f"The results of {named} are not released yet; your sheet will be here when they are."
        )
    there = queries.current_papers(entry.show).filter(entry=entry, kind=kind, result__in=results)
    papers_there = list(there)
    if not papers_there:
        raise NotFound(_no_paper(kind))
    done = [paper for paper in papers_there if paper.state == Paper.State.DONE]
    return _file((done or papers_there)[0])


def _no_paper(kind: str) -> str:
    if kind == Paper.Kind.AWARD:
        return "There is no award sheet for this entry."
    return "The results are released; the office has not made the sheets yet."


@require_GET
def check_form(request: HttpRequest) -> HttpResponse:
    """Ask for a code, or go to its answer."""
    typed = request.GET.get("code", "")
    if not typed.strip():
        return render(request, "reports/check.html", {})
    return redirect("reports:paper-check", code=typed.strip().replace("/", "-"))


@never_cache
@require_GET
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
    papers_there = Paper.objects.select_related("show", "show_class", "entry", "result")
    paper = papers_there.filter(pk=paper_id).first()
    if paper is None:
        raise NotFound(NOTHING_HERE)
    return paper


def _entry(request: HttpRequest, entry_id: int) -> Entry:
    entry = Entry.objects.select_related("show").filter(pk=entry_id).first()
    if entry and allowed(request.user, Deed.MAKE_PAPERS, entry.show):
        return entry
    return entry_for(request.user, entry_id, Deed.SEE_OWN_PAPERS)


def _demand_release(paper: Paper) -> None:
    show_class, _, result = paper.of_result
    if result.released_at is None:
        raise NotReleased(
            f"The results of {show_class.name} are not released yet; your sheet will be "
            "here when they are."
        )
    if result.replaced_at is not None:
        raise Gone(
            f"This sheet belongs to version {paper.version} of the result, which has been "
            "replaced. The page of your entry has the sheet that counts."
        )


def _file(paper: Paper) -> FileResponse:
    if paper.state != Paper.State.DONE or not paper.file:
        raise NotYet(_not_ready(paper))
    answer = FileResponse(
        paper.file.open("rb"),
        as_attachment=True,
        filename=paper.download_name,
        content_type="application/pdf",
    )
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _not_ready(paper: Paper) -> str:
    if paper.state in (Paper.State.WANTED, Paper.State.DRAWING):
        return "The sheet is being made; it will be here in a few minutes."
    return "The sheet is not ready; the show office can make it again."
