"""When judges come to an entry, without their names."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from entries.models import Entry
from judging.models import Seat
from judging.queries.announcements import TimeTold, told_of_entry
from judging.queries.window import visits_of_entry
from showrun.language import gettext as _


@dataclass(frozen=True)
class VisitLine:
    """A judge's visit; which judge is not said."""

    number: int
    starts_at: datetime
    ends_at: datetime
    sections: str
    told: TimeTold | None = None


def visit_lines(entry: Entry) -> tuple[list[VisitLine], TimeTold | None]:
    """Return the visits in order of time, numbered, and what was told of them last."""
    told, newest = told_of_entry(entry)
    sections: dict[int, list[str]] = defaultdict(list)
    seats = Seat.objects.filter(entry=entry).select_related("section")
    for seat in seats.order_by("section__position"):
        sections[seat.judge_id].append(seat.section.name)
    every = {name for names in sections.values() for name in names}

    def words(names: list[str]) -> str:
        return _("every section") if 1 < len(names) == len(every) else ", ".join(names)

    lines = [
        VisitLine(
            number,
            visit.starts_at,
            visit.ends_at,
            words(sections[visit.judge_id]),
            told.get(visit.judge_id),
        )
        for number, visit in enumerate(visits_of_entry(entry), start=1)
    ]
    return lines, newest if lines else None
