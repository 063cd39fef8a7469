"""An exhibitor's outfits and what they did, over the years."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from reports.queries.my_outfits import history_of
from showrun.shows.queries import person_of
from showrun.shows.web.way_back import signed_in


@never_cache
@require_safe
@signed_in
def my_outfits(request: HttpRequest) -> HttpResponse:
    """Show a person's own outfits, shows, places, points and papers."""
    return render(
        request, "reports/my_outfits.html", {"history": history_of(person_of(request.user))}
    )
