"""The announcer's list: signed results as they are read out."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from judging.actions.release_result import HANDS_NEEDED
from judging.actions.set_release_hour import release_due
from judging.queries.announcer import call_lists
from showrun.shows.queries import allowed, show_for
from showrun.shows.rules.access import Deed


@never_cache
@require_safe
def call_list(request: HttpRequest, slug: str) -> HttpResponse:
    """Show each signed class from the last awarded place to the first."""
    show = show_for(request.user, slug, Deed.READ_CALL_LIST)
    release_due(at=timezone.now(), show=show)
    context = {
        "show": show,
        "lists": call_lists(show, hands_needed=HANDS_NEEDED),
        "in_office": allowed(request.user, Deed.SEE_OFFICE, show),
    }
    return render(request, "judging/call_list.html", context)
