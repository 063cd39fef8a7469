"""The office's page on which a whole show is taken out as an archive."""

from __future__ import annotations

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from reports.actions.export_show import hand_out_archive, keys_closed
from showrun.errors import ShowError
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def archive(request: HttpRequest, slug: str) -> HttpResponse | FileResponse:
    """Say what an archive holds, and hand one out."""
    show = show_for(request.user, slug, Deed.MOVE_SHOW)
    if request.method == "POST":
        try:
            out, _ = hand_out_archive(show=show, by=person_of(request.user), at=now())
        except ShowError as fault:
            messages.error(request, fault.detail)
            return redirect("reports:archive", slug=slug)
        return FileResponse(
            out, as_attachment=True, filename=f"{show.slug}.zip", content_type="application/zip"
        )
    context = {"show": show, "here": "archive", "keys_closed": keys_closed(show)}
    return render(request, "reports/archive.html", context)
