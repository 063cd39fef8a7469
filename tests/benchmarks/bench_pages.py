"""Office pages of a show of 40 wagons, beside an empty page through the same middleware."""

from __future__ import annotations

from collections.abc import Iterator

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import include, path

from showrun.shows.models import Show
from showrun.shows.queries import show_by_slug
from tests.benchmarks.big_show import judged_show
from tests.benchmarks.measure import Bound, Row, paired
from tests.judged_show import office_of

NAME = "pages"
SMALL, LARGE = 10, 40
REPEATS = 15
AT_MOST = 6.0
PAGES = {
    "office start": "",
    "entries": "entries/",
    "panel": "panel/",
    "progress": "progress/",
    "results": "results/",
}


def empty(request: HttpRequest, slug: str) -> HttpResponse:
    """Draw the office's frame with nothing in it, for somebody signed in."""
    show = show_by_slug(slug)
    assert request.user.is_authenticated
    return render(request, "office_base.html", {"show": show, "here": "", "at": None})


urlpatterns = [
    path("bare/<slug:slug>/", empty),
    path("", include("showrun.project.urls")),
]


def client_of(show: Show) -> Client:
    """Return a browser in which the show's secretary is signed in."""
    client = Client()
    client.force_login(office_of(show), backend="django.contrib.auth.backends.ModelBackend")
    return client


def fetch(client: Client, address: str) -> None:
    """Get a page."""
    answer = client.get(address)
    assert answer.status_code == 200, (address, answer.status_code)


def queries(client: Client, address: str) -> int:
    """Count what a page asks of the database."""
    fetch(client, address)
    with CaptureQueriesContext(connection) as asked:
        fetch(client, address)
        return len(asked)


def rows() -> Iterator[Row]:
    """Measure each page, with half of the cards in."""
    with override_settings(ROOT_URLCONF=__name__):
        small = judged_show("small", SMALL, cards_in=SMALL // 2)
        large = judged_show("large", LARGE, cards_in=LARGE // 2)
        here, there = client_of(large), client_of(small)
        for words, page in PAGES.items():
            address = f"/shows/{large.slug}/office/{page}"
            few = queries(there, f"/shows/{small.slug}/office/{page}")
            many = queries(here, address)
            found = paired(
                lambda address=address: fetch(here, address),  # type: ignore[misc]
                lambda: fetch(here, f"/bare/{large.slug}/"),
                repeats=REPEATS,
            )
            yield Row(
                NAME,
                f"office page of {LARGE} wagons: {words}; empty page",
                found.ours_ms,
                found.floor_ms,
                found.ratio,
                (
                    Bound("ratio", found.ratio, AT_MOST),
                    Bound(f"queries more than with {SMALL} wagons", many - few, 0),
                ),
                f"{few} queries with {SMALL} wagons, {many} with {LARGE}",
            )
