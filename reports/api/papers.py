"""Papers for other programs: ask for them, watch them, find their files."""

from __future__ import annotations

from django.utils.timezone import now
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from reports import tasks
from reports.actions.want_papers import want_papers
from reports.api.serializers import PaperOut, PapersOut, ProgressOut
from reports.models import Paper
from reports.queries import papers as queries
from showrun.errors import NotFound
from showrun.shows.models import Person
from showrun.shows.queries import demand, show_by_slug
from showrun.shows.rules.access import Deed


class ShowPapers(APIView):
    """The papers of a show's released results."""

    @extend_schema(operation_id="papers_list", responses=PapersOut)
    def get(self, request: Request, slug: str) -> Response:
        """List the papers with their progress."""
        show = show_by_slug(slug)
        demand(request.user, Deed.MAKE_PAPERS, show)
        listed = {
            "progress": queries.progress(show)._asdict(),
            "papers": queries.current_papers(show),
        }
        return Response(PapersOut(listed).data)

    @extend_schema(operation_id="papers_want", request=None, responses={202: ProgressOut})
    def post(self, request: Request, slug: str) -> Response:
        """Want papers of all released results; repeated, it changes nothing."""
        show = show_by_slug(slug)
        demand(request.user, Deed.MAKE_PAPERS, show)
        assert isinstance(request.user, Person)
        tasks.queue_papers(want_papers(show=show, by=request.user, at=now()))
        return Response(ProgressOut(queries.progress(show)._asdict()).data, status=202)


class OnePaper(APIView):
    """One paper."""

    @extend_schema(operation_id="papers_retrieve", responses=PaperOut)
    def get(self, request: Request, paper_id: int) -> Response:
        """Say how far the paper is and where its file is."""
        papers = Paper.objects.select_related("show", "show_class", "entry", "result")
        paper = papers.filter(pk=paper_id).first()
        if paper is None:
            raise NotFound("There is nothing at this address for you.")
        demand(request.user, Deed.MAKE_PAPERS, paper.show)
        return Response(PaperOut(paper).data)
