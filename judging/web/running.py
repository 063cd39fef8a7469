"""The record of a show, as the office reads it."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from judging.queries.record import record_of
from showrun.shows.queries import demand, show_by_slug
from showrun.shows.rules.access import Deed

LINES_A_PAGE = 50


def in_lines(kept: Any) -> list[str]:
    """Say what a line of the record holds, a fact a line; long lists by their length."""
    if not isinstance(kept, dict):
        return [] if kept is None else [_brief(kept)]
    return [f"{str(name).replace('_', ' ')}: {_brief(value)}" for name, value in kept.items()]


def _brief(value: Any) -> str:
    if value is None or value == "":
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        parts = [f"{k} {v}" for k, v in value.items() if not isinstance(v, dict | list)]
        text = ", ".join(parts)
    elif isinstance(value, list):
        plain = [str(v) for v in value if not isinstance(v, dict | list)]
        text = ", ".join(plain) if len(plain) == len(value) else f"{len(value)} of them"
    else:
        text = str(value)
    return text if len(text) <= 160 else f"{text[:159]}…"


@never_cache
@require_safe
def record(request: HttpRequest, slug: str) -> HttpResponse:
    """Show who changed what, when and why, newest first."""
    show = show_by_slug(slug)
    demand(request.user, Deed.SEE_OFFICE, show)
    text = request.GET.get("q", "").strip()[:100]
    page = Paginator(record_of(show, text=text), LINES_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "show": show,
        "here": "record",
        "q": text,
        "page": page,
        "lines": [(line, in_lines(line.before), in_lines(line.after)) for line in page],
    }
    return render(request, "judging/record.html", context)
