"""The start: what shows there are, and what of them is yours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from entries.models import Entry, EntryDraft
from entries.queries.entering import closed_for
from entries.queries.entries import entries_by_exhibitor, places_left
from entries.rules.places import STATUS_WORDS, Status
from judging.queries.announcer import shows_to_call
from judging.queries.food import shows_with_key
from judging.queries.results import has_released
from reports.queries.my_next import first_step_of
from reports.rules.next_step import Step
from reports.web.my_entry import step_url
from showrun.language import gettext as _
from showrun.shows.models import Person, Show
from showrun.shows.queries import Visitor, may_plan_shows, shows_with_office

EARLIER_SHOWN = 10
# How long after its show an entry stands on the start; its history stands for ever.
RECENT_DAYS = 30


@dataclass(frozen=True)
class ShowLine:
    """A coming show, and what its first button should say."""

    show: Show
    places_left: int
    closed: str
    has_results: bool


@dataclass(frozen=True)
class EntryLine:
    """An own entry in a show that is not long over, and what to do next about it."""

    entry: Entry
    status: str
    step: Step
    address: str


@dataclass(frozen=True)
class DraftLine:
    """An entry begun and not sent off."""

    draft: EntryDraft
    wagon_name: str


def _line(show: Show, at: datetime) -> ShowLine:
    closed = closed_for(show, at) or ""
    return ShowLine(show, places_left(show), closed, has_released(show))


def _entry(entry: Entry, at: datetime) -> EntryLine:
    step = first_step_of(entry, at)
    status = _(STATUS_WORDS[Status(entry.status)])
    return EntryLine(entry, status, step, step_url(step, entry))


def _own(person: Visitor, at: datetime) -> dict[str, Any]:
    """Return what only somebody signed in has: entries, drafts, earlier shows."""
    if not isinstance(person, Person):
        return {"my_entries": [], "drafts": [], "has_history": False}
    recent = (at - timedelta(days=RECENT_DAYS)).date()
    entries = entries_by_exhibitor(person)
    drafts = EntryDraft.objects.filter(exhibitor=person).select_related("show")
    return {
        "my_entries": [_entry(one, at) for one in entries if one.show.ends_on >= recent],
        "drafts": [
            DraftLine(draft, "".join(draft.typed.get("wagon_name", [])))
            for draft in drafts.order_by("show__starts_on")
            if closed_for(draft.show, at) is None
        ],
        "has_history": bool(entries),
    }


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """List open shows and, for somebody signed in, their offices and entries."""
    # A day's grace: on the last evening of a show in the west it is tomorrow by this clock.
    now = timezone.now()
    today = (now - timedelta(days=1)).date()
    person = request.user
    open_shows = Show.objects.filter(ends_on__gte=today).order_by("starts_on")
    context = {
        "open_shows": [_line(show, now) for show in open_shows],
        "earlier_shows": list(Show.objects.filter(ends_on__lt=today)[:EARLIER_SHOWN]),
        "offices": shows_with_office(person) if isinstance(person, Person) else [],
        "may_plan": may_plan_shows(person, named=settings.SHOW_PLANNERS),
        "keys": shows_with_key(person),
        "call_lists": shows_to_call(person),
        **_own(person, now),
    }
    return render(request, "reports/home.html", context)
