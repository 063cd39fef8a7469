"""Enter, and decide about entries."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import Serializer

from entries.actions.change_entry import change_entry
from entries.actions.decide_entry import confirm_entry, put_on_wait_list, scratch_entry
from entries.actions.enter import enter
from entries.api.serializers import (
    EntriesAsked,
    EntryChangeIn,
    EntryIn,
    EntryOut,
    OneEntryOut,
    ReasonIn,
    SpotIn,
)
from entries.models import Entry
from entries.queries.crew import reads_names
from entries.queries.entries import entries_of, entry_for
from showrun.shows.api.body import read_body
from showrun.shows.api.described import refuses
from showrun.shows.api.lists import page_of, read_asked
from showrun.shows.api.once import once
from showrun.shows.api.view import View, as_it_was
from showrun.shows.queries import allowed, person_of, show_by_slug, show_for
from showrun.shows.rules.access import Deed


class Entries(View):
    """The entries of a show: the office lists them, an exhibitor adds one."""

    @extend_schema(parameters=[EntriesAsked], responses=EntryOut(many=True))
    @refuses("not-allowed")
    def get(self, request: Request, slug: str) -> Response:
        show = show_for(request.user, slug, Deed.RUN_ENTRIES)
        asked = read_asked(EntriesAsked, request)
        found = entries_of(show)
        if asked["class_code"]:
            found = found.filter(classes__show_class__code=asked["class_code"])
        if asked["status"]:
            found = found.filter(status=asked["status"])
        if asked["number"]:
            found = found.filter(number=asked["number"])
        page, headers = page_of(found, request, asked)
        return Response(EntryOut(page, many=True).data, headers=headers)

    @extend_schema(request=EntryIn, responses={201: EntryOut})
    @refuses("entries-not-open", "entries-closed")
    @once
    def post(self, request: Request, slug: str) -> Response:
        show = show_by_slug(slug)
        given = read_body(EntryIn, request)
        entry = enter(show=show, exhibitor=person_of(request.user), at=timezone.now(), **given)
        return Response(EntryOut(entry).data, status=201)


def _told(request: Request, entry: Entry) -> dict[str, Any]:
    """Say what the person asking reads of the entry, as it now is."""
    now = Entry.objects.select_related("show", "spot", "exhibitor").get(pk=entry.pk)
    own = now.exhibitor_id == request.user.pk
    context = {
        "in_full": reads_names(request.user, now),
        "particulars": allowed(request.user, Deed.CHANGE_ENTRY, now.show, owner=own),
    }
    return dict(OneEntryOut(now, context=context).data)


class OneEntry(View):
    """One entry, for its owner and the office."""

    @extend_schema(responses=OneEntryOut)
    @refuses("not-allowed")
    def get(self, request: Request, entry_id: int) -> Response:
        return Response(_told(request, entry_for(request.user, entry_id, Deed.SEE_ENTRY)))

    @extend_schema(
        request=EntryChangeIn,
        responses=OneEntryOut,
        description="Change what an entry says beside its rig and crew. What is left out "
        "stays as it is. The exhibitor and the office may both be at it, so If-Match is needed.",
    )
    @refuses("not-allowed", "entry-closed", if_match="must")
    def patch(self, request: Request, entry_id: int) -> Response:
        entry = entry_for(request.user, entry_id, Deed.CHANGE_ENTRY)
        changes = read_body(EntryChangeIn, request)
        with as_it_was(request, entry.show, lambda: _told(request, entry), needed=True):
            by, at = person_of(request.user), timezone.now()
            changed = change_entry(entry=entry, by=by, at=at, changes=changes)
        return Response(_told(request, changed))


def _decided(
    request: Request, entry_id: int, shape: type[Serializer], decide: Callable[..., Entry]
) -> Response:
    """Let the office decide on an entry as it was when they read it, and answer with it."""
    entry = entry_for(request.user, entry_id, Deed.RUN_ENTRIES)
    given = read_body(shape, request)
    with as_it_was(request, entry.show, lambda: _told(request, entry)):
        done = decide(entry=entry, by=person_of(request.user), at=timezone.now(), **given)
    return Response(EntryOut(done).data)


class Confirm(View):
    """Give the entry its place, number and camp spot."""

    @extend_schema(request=SpotIn, responses=EntryOut)
    @refuses("not-allowed", "not-yet", "conflict", if_match="may")
    @once
    def post(self, request: Request, entry_id: int) -> Response:
        def confirm(*, spot: int | None, **told: Any) -> Entry:
            return confirm_entry(spot_number=spot, **told)

        return _decided(request, entry_id, SpotIn, confirm)


class Wait(View):
    """Put the entry on the wait list."""

    @extend_schema(request=ReasonIn, responses=EntryOut)
    @refuses("not-allowed", "not-yet", if_match="may")
    @once
    def post(self, request: Request, entry_id: int) -> Response:
        return _decided(request, entry_id, ReasonIn, put_on_wait_list)


class Scratch(View):
    """Take the entry out of the show, with the reason."""

    @extend_schema(request=ReasonIn, responses=EntryOut)
    @refuses("not-allowed", "not-yet", if_match="may")
    @once
    def post(self, request: Request, entry_id: int) -> Response:
        return _decided(request, entry_id, ReasonIn, scratch_entry)
