"""What people were told of the times."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from entries.models import Entry
from judging.models import Announcement, Judge
from showrun.shows.models import Show

FIRST = 1


@dataclass(frozen=True)
class TimeTold:
    """What was last told of one visit's time after the first publication."""

    at: datetime
    reason: str


def announcements_of(show: Show) -> list[Announcement]:
    """Return the show's announcements, newest first."""
    return list(Announcement.objects.filter(show=show).select_related("by"))


def last_number(show: Show) -> int:
    """Return the number of the last announcement, 0 before the first."""
    numbers = Announcement.objects.filter(show=show).order_by("-number")
    return numbers.values_list("number", flat=True).first() or 0


def changed_times(judge: Judge) -> list[dict[str, Any]]:
    """Return the announcements that changed this judge's visits, oldest first, for the phone."""
    told = Announcement.objects.filter(show=judge.show_id, number__gt=FIRST).order_by("number")
    found = []
    for one in told:
        own = [line for line in one.changes if line["judge"] == judge.pk]
        if own:
            changes = [
                {
                    "entry": line["entry"],
                    "number": line["entry_number"],
                    "was": line["was"],
                    "now": line["now"],
                }
                for line in own
            ]
            found.append(
                {
                    "number": one.number,
                    "at": one.at.isoformat(),
                    "reason": one.reason,
                    "changes": changes,
                }
            )
    return found


def told_of_entry(entry: Entry) -> tuple[dict[int, TimeTold], TimeTold | None]:
    """Return by judge id what was last told of the entry's visits, and the newest of all."""
    told = Announcement.objects.filter(show=entry.show_id, number__gt=FIRST).order_by("number")
    by_judge: dict[int, TimeTold] = {}
    newest = None
    for one in told:
        for line in one.changes:
            if line["entry"] == entry.pk:
                newest = by_judge[line["judge"]] = TimeTold(one.at, one.reason)
    return by_judge, newest
