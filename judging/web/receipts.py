"""The office's page of receipts: every card's digits, and whether a phone's count has gaps."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from judging.queries.receipts import receipts_of
from showrun.shows.queries import show_for
from showrun.shows.rules.access import Deed

REFRESH_S = 20


@never_cache
@require_safe
def receipts(request: HttpRequest, slug: str) -> HttpResponse:
    """Show what arrived of every judge, to be held against what the judge's phone shows."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    context = {
        "show": show,
        "here": "receipts",
        "at": timezone.now(),
        "judges": receipts_of(show),
        "refresh_s": REFRESH_S,
    }
    return render(request, "judging/receipts.html", context)
