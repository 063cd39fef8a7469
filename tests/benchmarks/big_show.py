"""Shows of any size for the measurements: five sections of twelve rows, six judges."""

from __future__ import annotations

from typing import Any

from entries.models import Entry
from judging.models import Judge
from showrun.shows.models import Show
from tests.judged_show import build_show, card_events, draw_panel, open_window, pair, send

SECTIONS = ("running_gear", "wagon_box", "camp_kit", "harness", "crew")
ROWS = 12
JUDGES = 6
LOOKS = 3

CARD: dict[str, Any] = {
    "name": "Five sections of twelve rows",
    "version": 1,
    "sections": [
        {
            "code": section,
            "name": section.replace("_", " ").capitalize(),
            "points": 20,
            "minutes": 3,
            "quick_phrases": ["Tight and true"],
            "criteria": [
                {
                    "code": f"{section}_{row}",
                    "name": f"Row {row + 1} of {section.replace('_', ' ')}",
                    "max_mark": 10,
                    "step": 1,
                    "danger": "B" if row == 1 else "",
                    # One row of each section belongs to some rigs only.
                    "applies": {"tongue": ["drop"]} if row == ROWS - 1 else {},
                }
                for row in range(ROWS)
            ],
        }
        for section in SECTIONS
    ],
}


def seated_show(slug: str, n_entries: int) -> Show:
    """Plan a show of `n_entries` wagons up to the published window."""
    show = build_show(
        slug=slug,
        n_entries=n_entries,
        n_judges=JUDGES,
        judges_per_section=LOOKS,
        judging_minutes=60 * n_entries,
        scorecard=CARD,
    )
    draw_panel(show)
    open_window(show)
    return show


def judged_show(slug: str, n_entries: int, *, cards_in: int | None = None) -> Show:
    """Go on until the first `cards_in` wagons are judged; all of them unless said otherwise."""
    show = seated_show(slug, n_entries)
    judged_up_to = n_entries if cards_in is None else cards_in
    for judge in Judge.objects.filter(show=show).select_related("show", "person"):
        device, _ = pair(judge)
        seats = judge.seats.filter(entry__number__lte=judged_up_to).order_by().values("entry")
        wagons = Entry.objects.filter(pk__in=seats).order_by("number")
        send(device, [event for entry in wagons for event in card_events(judge, entry)])
    return show
