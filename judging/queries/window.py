"""What is read of the window and its visits."""

from __future__ import annotations

from collections import defaultdict

from entries.models import Entry
from judging.models import Judge, Visit, Window
from showrun.shows.models import Show


def window_of(show: Show) -> Window | None:
    """Return the show's judging window, published or not."""
    return Window.objects.filter(show=show).first()


def timetable(window: Window) -> list[tuple[Judge, list[Visit]]]:
    """Return every judge's visits in order of time."""
    by_judge: dict[Judge, list[Visit]] = defaultdict(list)
    visits = window.visits.select_related("judge__person", "entry__spot", "window__show")
    for visit in visits.order_by("judge__code", "starts_at"):
        by_judge[visit.judge].append(visit)
    return list(by_judge.items())


def visits_of_entry(entry: Entry) -> list[Visit]:
    """Return when judges come to an entry; nothing before the window is published."""
    visits = Visit.objects.filter(entry=entry, window__published_at__isnull=False)
    return list(visits.select_related("judge__person", "window__show"))
