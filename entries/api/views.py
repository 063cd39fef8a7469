"""Enter, and decide about entries."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from entries.actions.decide_entry import confirm_entry, put_on_wait_list, scratch_entry
from entries.actions.enter import enter
from entries.api.serializers import EntryIn, EntryOut, ReasonIn, SpotIn
from entries.queries.crew import reads_names
from entries.queries.entries import entries_of, entry_for
from showrun.shows.api.body import read_body
from showrun.shows.queries import demand, person_of, show_by_slug
from showrun.shows.rules.access import Deed


class Entries(APIView):
    """The entries of a show: the office lists them, an exhibitor adds one."""

    @extend_schema(responses=EntryOut(many=True))
    def get(self, request: Request, slug: str) -> Response:
        show = show_by_slug(slug)
        demand(request.user, Deed.RUN_ENTRIES, show)
        return Response(EntryOut(entries_of(show), many=True).data)

    @extend_schema(request=EntryIn, responses={201: EntryOut})
    def post(self, request: Request, slug: str) -> Response:
        show = show_by_slug(slug)
        given = read_body(EntryIn, request)
        entry = enter(show=show, exhibitor=person_of(request.user), at=timezone.now(), **given)
        return Response(EntryOut(entry).data, status=201)


class OneEntry(APIView):
    """One entry, for its owner and the office."""

    @extend_schema(responses=EntryOut)
    def get(self, request: Request, entry_id: int) -> Response:
        entry = entry_for(request.user, entry_id, Deed.SEE_ENTRY)
        context = {"in_full": reads_names(request.user, entry)}
        return Response(EntryOut(entry, context=context).data)


class Confirm(APIView):
    """Give the entry its place, number and camp spot."""

    @extend_schema(request=SpotIn, responses=EntryOut)
    def post(self, request: Request, entry_id: int) -> Response:
        entry = entry_for(request.user, entry_id, Deed.RUN_ENTRIES)
        given = read_body(SpotIn, request)
        confirmed = confirm_entry(
            entry=entry,
            by=person_of(request.user),
            at=timezone.now(),
            spot_number=given["spot"],
        )
        return Response(EntryOut(confirmed).data)


class Wait(APIView):
    """Put the entry on the wait list."""

    @extend_schema(request=ReasonIn, responses=EntryOut)
    def post(self, request: Request, entry_id: int) -> Response:
        entry = entry_for(request.user, entry_id, Deed.RUN_ENTRIES)
        given = read_body(ReasonIn, request)
        waiting = put_on_wait_list(
            entry=entry,
            by=person_of(request.user),
            at=timezone.now(),
            reason=given["reason"],
        )
        return Response(EntryOut(waiting).data)


class Scratch(APIView):
    """Take the entry out of the show, with the reason."""

    @extend_schema(request=ReasonIn, responses=EntryOut)
    def post(self, request: Request, entry_id: int) -> Response:
        entry = entry_for(request.user, entry_id, Deed.RUN_ENTRIES)
        given = read_body(ReasonIn, request)
        scratched = scratch_entry(
            entry=entry,
            by=person_of(request.user),
            at=timezone.now(),
            reason=given["reason"],
        )
        return Response(EntryOut(scratched).data)
