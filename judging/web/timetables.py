"""The office's timetables: the whole show, one judge, one wagon; on screen and on paper."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from judging.models import CalendarLink
from judging.queries.calendars import live_links
from judging.queries.timetables import Timetable, chart_words, show_timetable
from judging.rules.windows.chart import draw
from judging.rules.windows.chart_shapes import Chart
from showrun.errors import NotFound
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import allowed, show_for
from showrun.shows.rules.access import Deed


@never_cache
@require_safe
def timetable_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show who is where when, as a chart and as lists, and the calendar links."""
    show = _show(request, slug)
    table = show_timetable(show)
    links = live_links(show)
    kinds = CalendarLink.Kind
    context = {
        **_common(show, table),
        "may_run": allowed(request.user, Deed.RUN_WINDOW, show),
        "chart": _chart(show, table) if table else None,
        "office_link": links.get((kinds.OFFICE.value, None)),
        "judges": [
            (one, links.get((kinds.JUDGE.value, one.judge.pk)))
            for one in (table.judges if table else ())
        ],
    }
    return render(request, "judging/timetable.html", context)


@never_cache
@require_safe
def judge_timetable(request: HttpRequest, slug: str, judge_id: int) -> HttpResponse:
    """Show one judge's visits, for the screen and to be printed."""
    show = _show(request, slug)
    table = show_timetable(show)
    own = table.of_judge(judge_id) if table else None
    if own is None:
        raise NotFound(_("This judge has no visits in this show."))
    return render(
        request, "judging/timetable_judge.html", {**_common(show, table), "judge_times": own}
    )


@never_cache
@require_safe
def wagon_timetable(request: HttpRequest, slug: str, entry_id: int) -> HttpResponse:
    """Show the visits at one wagon, for the screen and to be printed."""
    show = _show(request, slug)
    table = show_timetable(show)
    own = table.of_wagon(entry_id) if table else None
    if own is None:
        raise NotFound(_("This wagon has no visits in this show."))
    return render(
        request, "judging/timetable_wagon.html", {**_common(show, table), "wagon_times": own}
    )


def _show(request: HttpRequest, slug: str) -> Show:
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    return show


def _common(show: Show, table: Timetable | None) -> dict[str, object]:
    return {
        "show": show,
        "here": "window",
        "table": table,
        "as_of": table.as_of if table else None,
    }


def _chart(show: Show, table: Timetable) -> Chart:
    visits, wagons, judges, busy = chart_words(table)
    now_at = timezone.now() if table.as_of else None
    return draw(visits, wagons, judges, zone=show.tz, busy=busy, now_at=now_at)
