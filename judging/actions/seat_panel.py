"""Draw the panel: who looks at which section of which entry."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from django.db import transaction

from entries.models import Entry
from entries.rules.places import Status
from judging.models import Judge, Seat, Section, Window
from judging.queries.cards import demand_card
from judging.queries.panel import judges_needed, judges_of, sections_to_judge
from judging.queries.practice import judging_begun
from judging.queries.window import window_of
from judging.rules.panels.assignment import JudgeOffer, PanelImpossible, draw
from judging.rules.panels.assignment import Seat as Place
from showrun.errors import Conflict, NotYet
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@dataclass(frozen=True)
class PanelDrawn:
    """The seats made, each judge's load, and whether judges can be compared by section."""

    seats: int
    loads: dict[str, int]
    connected: dict[str, bool]


def offers_of(judges: Sequence[Judge]) -> list[JudgeOffer]:
    """Return what each judge still here may be asked to do, conflicts left out."""
    return [
        JudgeOffer(
            judge=judge,
            sections=frozenset(section.code for section in judge.sections.all()),
            barred=frozenset(conflict.entry for conflict in judge.conflicts.all()),
        )
        for judge in judges
        if judge.left_at is None
    ]


def names_of(
    judges: Iterable[Judge], entries: Iterable[Entry], sections: Iterable[Section] = ()
) -> dict[Hashable, str]:
    """Return the words in which a plan or its refusal speaks of them."""
    return {
        **{judge: judge.person.name for judge in judges},
        **{entry: f"wagon {entry.number}" for entry in entries},
        **{section.code: section.name for section in sections},
    }


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
    _demand_open(show)
    judges = judges_of(show)
    wanted = sections_to_judge(show)
    if not judges or not wanted:
        raise NotYet("A panel needs confirmed entries and engaged judges.")
    sections = {section.code: section for section in demand_card(show).sections.all()}
    try:
        drawn = draw(
            entries=list(wanted),
            entry_sections=wanted,
            judges=offers_of(judges),
            judges_per_section=judges_needed(show),
            seed=seed,
            names=names_of(judges, wanted, sections.values()),
        )
    except PanelImpossible as fault:
        raise Conflict(str(fault), code="panel-impossible", short=fault.short) from fault
    Window.objects.filter(show=show).delete()
    panel = Seat.objects.filter(judge__show=show)
    panel.exclude(entry__status=Status.PRACTICE.value).delete()
    write_seats(drawn.seats, sections)
    loads = {judge.code: drawn.loads.get(judge, 0) for judge in judges}
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="drew",
        subject="the panel",
        after={"seed": seed, "loads": loads, "connected": dict(drawn.connected)},
    )
    return PanelDrawn(seats=len(drawn.seats), loads=loads, connected=dict(drawn.connected))


def _demand_open(show: Show) -> None:
    if judging_begun(show):
        raise Conflict(
            "Judging has begun; the panel is not drawn again over cards in work. "
            "Mend it instead: seats that stand are kept."
        )
    window = window_of(show)
    if window and window.published_at:
        raise Conflict(
            "The window is published. Mend the panel, which keeps the announced times, or "
            "withdraw the window first."
        )
