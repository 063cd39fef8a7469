"""The record of a show, as the office reads it and takes it out."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from judging.actions.export_record import FORMS, export_record
from judging.queries.record import Asked, kinds_of_change, people_in_record, record_of
from showrun.shows.queries import allowed, person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.rules.changes import side_by_side
from showrun.shows.web.number_sent import number_sent

LINES_A_PAGE = 50


def _typed(request: HttpRequest) -> tuple[Asked, dict[str, str]]:
    """Return what is asked for, and the same as it was typed, without what cannot be read."""
    given = {name: request.GET.get(name, "").strip()[:100] for name in ("q", "who", "kind", "day")}
    if given["who"] != "0" and not number_sent(given["who"]):  # 0 is the service itself
        given["who"] = ""
    try:
        day = parse_date(given["day"])
    except ValueError:  # such as the 30th of February
        day = None
    if day is None or not 1900 < day.year < 9000:
        day, given["day"] = None, ""
    asked = Asked(
        text=given["q"],
        who=number_sent(given["who"]) if given["who"] else None,
        verb=given["kind"],
        day=day,
    )
    return asked, {name: said for name, said in given.items() if said}


@never_cache
@require_safe
def record(request: HttpRequest, slug: str) -> HttpResponse:
    """Show who changed what, when and why, newest first."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    asked, typed = _typed(request)
    page = Paginator(record_of(show, asked), LINES_A_PAGE).get_page(request.GET.get("page"))
    context: dict[str, Any] = {
        "show": show,
        "here": "record",
        "typed": typed,
        "again": urlencode(typed),
        "people": [(str(person.pk), person.name) for person in people_in_record(show)],
        "kinds": kinds_of_change(show),
        "page": page,
        "lines": [(line, side_by_side(line.before, line.after)) for line in page],
        "may_take": allowed(request.user, Deed.TAKE_RECORD, show),
    }
    return render(request, "judging/record.html", context)


@never_cache
@require_safe
def record_export(request: HttpRequest, slug: str) -> HttpResponse:
    """Send the lines asked for as a file."""
    show = show_for(request.user, slug, Deed.TAKE_RECORD)
    form, at = request.GET.get("form", "csv"), timezone.now()
    asked, _ = _typed(request)
    by = person_of(request.user)
    data = export_record(show=show, form=form, asked=asked, by=by, at=at)
    answer = HttpResponse(data, content_type=FORMS[form])
    answer["Content-Disposition"] = f'attachment; filename="{show.slug}-record.{form}"'
    return answer
