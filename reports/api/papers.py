"""Papers for other programs: ask for them, watch them, find their files."""

from __future__ import annotations

from django.utils.timezone import now
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from reports import tasks
from reports.actions.want_papers import want_papers
from reports.api.serializers import PaperOut, PapersAsked, PapersOut, ProgressOut
from reports.models import Paper
from reports.queries import papers as queries
from showrun.errors import NotFound
from showrun.shows.api.described import refuses
from showrun.shows.api.lists import page_of, read_asked
from showrun.shows.api.once import once
from showrun.shows.api.view import View
from showrun.shows.models import Person
from showrun.shows.queries import demand, show_for
from showrun.shows.rules.access import Deed

IN_ORDER = ("show_class__position", "kind", "entry__number", "-version")


class ShowPapers(View):
    """The papers of a show's released results."""

    @extend_schema(operation_id="papers_list", parameters=[PapersAsked], responses=PapersOut)
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        """List the papers with their progress."""
        show = show_for(request.user, slug, Deed.MAKE_PAPERS)
        asked = read_asked(PapersAsked, request)
        papers = queries.current_papers(show).order_by(*IN_ORDER, "pk")
        for name in ("state", "kind"):
            if asked[name]:
                papers = papers.filter(**{name: asked[name]})
        page, headers = page_of(papers, request, asked)
        listed = {"progress": queries.progress(show)._asdict(), "papers": page}
        return Response(PapersOut(listed).data, headers=headers)

    @extend_schema(operation_id="papers_want", request=None, responses={202: ProgressOut})
    @refuses("not-allowed", "conflict", "not-yet")
    @once
    def post(self, request: Request, slug: str) -> Response:
        """Want papers of all released results; repeated, it changes nothing."""
        show = show_for(request.user, slug, Deed.MAKE_PAPERS)
        assert isinstance(request.user, Person)
        tasks.queue_papers(want_papers(show=show, by=request.user, at=now()))
        return Response(ProgressOut(queries.progress(show)._asdict()).data, status=202)


class OnePaper(View):
    """One paper."""

    @extend_schema(operation_id="papers_retrieve", responses=PaperOut)
    @refuses("not-allowed")
    def get(self, request: Request, paper_id: int) -> Response:
        """Say how far the paper is and where its file is."""
        papers = Paper.objects.select_related("show", "show_class", "entry", "result")
        paper = papers.filter(pk=paper_id).first()
        if paper is None:
            raise NotFound()
        demand(request.user, Deed.MAKE_PAPERS, paper.show)
        return Response(PaperOut(paper).data)
