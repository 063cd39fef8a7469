"""The start: what shows there are, and what of them is yours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from entries.queries import entries_by_exhibitor, places_left
from judging.queries.food import shows_with_key
from judging.queries.results import released_results
from showrun.shows.models import Person, Show
from showrun.shows.queries import shows_with_office

EARLIER_SHOWN = 10


@dataclass(frozen=True)
class ShowLine:
    """A coming show, and what its first button should say."""

    show: Show
    places_left: int
    has_results: bool


def _line(show: Show) -> ShowLine:
    return ShowLine(show, places_left(show), bool(released_results(show)))


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """List open shows and, for somebody signed in, their offices and entries."""
    # A day's grace: on the last evening of a show in the west it is tomorrow by this clock.
    today = (timezone.now() - timedelta(days=1)).date()
    person = request.user
    open_shows = Show.objects.filter(ends_on__gte=today).order_by("starts_on")
    context = {
        "open_shows": [_line(show) for show in open_shows[:EARLIER_SHOWN]],
        "earlier_shows": list(Show.objects.filter(ends_on__lt=today)[:EARLIER_SHOWN]),
        "offices": shows_with_office(person) if isinstance(person, Person) else [],
        "keys": shows_with_key(person),
        "my_entries": entries_by_exhibitor(person) if isinstance(person, Person) else [],
    }
    return render(request, "reports/home.html", context)
