"""Where a published window no longer fits the camp, since spots moved or wagons changed places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from entries.models import Entry
from judging.models import Judge, Visit, Window
from judging.rules.windows.ground import walk_minutes
from judging.rules.windows.short_walks import Stay, short_walks


@dataclass(frozen=True)
class WalkTooShort:
    """A judge's walk for which the published times leave less than it takes now [min]."""

    judge: Judge
    leaves: Entry
    reaches: Entry
    takes: int
    has: int


def walks_too_short(
    window: Window, days: Sequence[tuple[Judge, Sequence[Visit]]]
) -> tuple[WalkTooShort, ...]:
    """Hold published times against the camp as it is now; nothing before they are published."""
    if window.published_at is None:
        return ()
    show = window.show
    every = {visit.entry_id: visit.entry for _, visits in days for visit in visits}
    entries = [entry for entry in every.values() if entry.spot]
    walk = walk_minutes(
        (show.gate_x_ft, show.gate_y_ft),
        [(entry.spot.x_ft, entry.spot.y_ft) for entry in entries if entry.spot],
        ft_per_minute=show.walking_ft_per_minute,
    )
    place = {entry.pk: row for row, entry in enumerate(entries, start=1)}
    stays = [
        Stay(judge, place[visit.entry_id], visit.starts_at, visit.ends_at)
        for judge, visits in days
        for visit in visits
        if visit.entry_id in place
    ]
    judges: dict[object, Judge] = {judge: judge for judge, _ in days}
    return tuple(
        WalkTooShort(
            judge=judges[found.judge],
            leaves=entries[found.leaves - 1],
            reaches=entries[found.reaches - 1],
            takes=found.takes,
            has=found.has,
        )
        for found in short_walks(stays, walk)
    )
