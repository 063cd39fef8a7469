"""Draw the panel: who looks at which section of which entry."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from django.db import transaction

from entries.models import Entry
from entries.rules.places import Status
from judging.models import Judge, Seat, Section, Window
from judging.queries.panel_task import names_of, panel_task
from judging.queries.practice import judging_begun
from judging.queries.window import window_of
from judging.rules.panels.assignment import PanelImpossible, draw_task
from judging.rules.panels.assignment import Seat as Place
from showrun.errors import Conflict, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

__all__ = ["PanelDrawn", "demand_undrawn", "names_of", "seat_panel", "write_seats"]


@dataclass(frozen=True)
class PanelDrawn:
    """The seats made, each judge's load, and whether judges can be compared by section."""

    seats: int
    loads: dict[str, int]
    connected: dict[str, bool]


def write_seats(places: Iterable[Place], sections: Mapping[str, Section]) -> list[Seat]:
    """Write what the rule drew; its judges and entries are the show's own."""
    return Seat.objects.bulk_create(
        Seat(
            judge=cast(Judge, place.judge),
            entry=cast(Entry, place.entry),
            section=sections[place.section],
        )
        for place in places
    )


@transaction.atomic
def seat_panel(*, show: Show, seed: int, by: Person | None, at: datetime) -> PanelDrawn:
    """Draw all seats anew; refused once times are announced or a judge has begun a card."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    demand_undrawn(show)
    asked = panel_task(show)
    if not asked.task.judges or not asked.task.entries:
        raise NotYet(_("A panel needs confirmed entries and engaged judges."))
    try:
        drawn = draw_task(asked.task, seed=seed, names=asked.names, balance_by=asked.balance_by)
    except PanelImpossible as fault:
        raise Conflict(str(fault), code="panel-impossible", short=fault.short) from fault
    Window.objects.filter(show=show).delete()
    panel = Seat.objects.filter(judge__show=show)
    panel.exclude(entry__status=Status.PRACTICE.value).delete()
    write_seats(drawn.seats, asked.sections)
    loads = {judge.code: drawn.loads.get(judge, 0) for judge in asked.judges}
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="drew",
        subject="the panel",
        after={
            "seed": seed,
            "loads": loads,
            "connected": dict(drawn.connected),
            "balance_by": drawn.balance.by,
            "most_equal": drawn.balance.proved,
        },
    )
    return PanelDrawn(seats=len(drawn.seats), loads=loads, connected=dict(drawn.connected))


def demand_undrawn(show: Show) -> None:
    """Refuse once times are announced or a judge has begun a card."""
    if judging_begun(show):
        raise Conflict(
            _(
                "Judging has begun; the panel is not drawn again over cards in work. Mend it "
                "instead: seats that stand are kept."
            )
        )
    window = window_of(show)
    if window and window.published_at:
        raise Conflict(
            _(
                "The window is published. Mend the panel, which keeps the announced times, or "
                "withdraw the window first."
            )
        )
