"""What is read of the window and its visits."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

from entries.models import Entry
from judging.models import Judge, Visit, Window
from showrun.shows.models import Show


def window_of(show: Show) -> Window | None:
    """Return the show's judging window, published or not."""
    return Window.objects.filter(show=show).first()


def timetable(window: Window) -> list[tuple[Judge, list[Visit]]]:
    """Return every judge's visits in order of time."""
    # Judges and entries are read once and shared; a visit's row would repeat them all.
    judges = Judge.objects.filter(show=window.show_id).select_related("person").in_bulk()
    entries = Entry.objects.filter(show=window.show_id).select_related("spot").in_bulk()
    by_judge: dict[Judge, list[Visit]] = defaultdict(list)
    for visit in window.visits.order_by("judge__code", "starts_at"):
        visit.window = window
        visit.judge, visit.entry = judges[visit.judge_id], entries[visit.entry_id]
        by_judge[visit.judge].append(visit)
    return list(by_judge.items())


def visit_ends(window: Window) -> dict[tuple[str, int], datetime]:
    """Return when each visit ends, by judge code and entry number."""
    ends = window.visits.order_by().values_list("judge__code", "entry__number", "ends_at")
    return {(code, number or 0): at for code, number, at in ends}


def visits_of_entry(entry: Entry) -> list[Visit]:
    """Return when judges come to an entry; nothing before the window is published."""
    visits = Visit.objects.filter(entry=entry, window__published_at__isnull=False)
    return list(visits.select_related("judge__person", "window__show"))
