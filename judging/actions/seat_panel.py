"""Draw the panel: who looks at which section of which entry."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import cast

from django.db import transaction

from entries.queries import confirmed_entries
from judging.models import Card, Judge, Seat, Visit
from judging.queries.cards import demand_card
from judging.queries.panel import judges_needed, judges_of, sections_to_judge
from judging.rules.panels.assignment import JudgeOffer, PanelImpossible, draw
from showrun.errors import Conflict, NotYet
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@dataclass(frozen=True)
class PanelDrawn:
    """The seats made, each judge's load, and whether judges can be compared by section."""

    seats: int
    loads: dict[str, int]
    connected: dict[str, bool]


def _offer(judge: Judge) -> JudgeOffer:
    return JudgeOffer(
        judge=judge.pk,
        sections=frozenset(section.code for section in judge.sections.all()),
        barred=frozenset(conflict.entry_id for conflict in judge.conflicts.all()),
    )


@transaction.atomic
def seat_panel(*, show: Show, seed: int, by: Person | None, at: datetime) -> PanelDrawn:
    """Draw all seats anew; refused once a judge has begun a card."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    if Card.objects.filter(judge__show=show).exists():
        raise Conflict("Judging has begun; the panel is not drawn again over cards in work.")
    judges = judges_of(show)
    entries = {entry.pk: entry for entry in confirmed_entries(show)}
    if not judges or not entries:
        raise NotYet("A panel needs confirmed entries and engaged judges.")
    card = demand_card(show)
    sections = {section.code: section for section in card.sections.all()}
    by_id = {judge.pk: judge for judge in judges}
    names: Mapping[Hashable, str] = {
        **{code: section.name for code, section in sections.items()},
    }
    try:
        drawn = draw(
            entries=list(entries),
            entry_sections=cast(Mapping[Hashable, tuple[str, ...]], sections_to_judge(show)),
            judges=[_offer(judge) for judge in judges],
            judges_per_section=judges_needed(show),
            seed=seed,
            names=names,
        )
    except PanelImpossible as fault:
        raise Conflict(str(fault), code="panel-impossible", short=fault.short) from fault
    Visit.objects.filter(judge__show=show).delete()
    Seat.objects.filter(judge__show=show).delete()
    Seat.objects.bulk_create(
        Seat(
            judge=by_id[cast(int, seat.judge)],
            entry=entries[cast(int, seat.entry)],
            section=sections[seat.section],
        )
        for seat in drawn.seats
    )
    loads = {by_id[cast(int, pk)].code: load for pk, load in drawn.loads.items()}
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="drew",
        subject="the panel",
        after={"seed": seed, "loads": loads, "connected": dict(drawn.connected)},
    )
    return PanelDrawn(seats=len(drawn.seats), loads=loads, connected=dict(drawn.connected))
