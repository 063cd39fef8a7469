"""Mend the panel on the day: seats that may not stand are dropped, what is short is filled.

Nobody else's seats or announced times change; visits that are new come after the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import cast

from django.db import transaction
from django.db.models import Max

from entries.models import Entry
from entries.rules.places import Status
from judging.actions.open_window import SEED, draw_visits, rotation_of
from judging.actions.seat_panel import names_of, offers_of, write_seats
from judging.models import Card, Judge, Seat, Window
from judging.queries.cards import demand_card
from judging.queries.panel import judges_needed, judges_of, seats_of, sections_to_judge
from judging.queries.window import window_of
from judging.rules.panels.assignment import JudgeOffer
from judging.rules.panels.assignment import Seat as Place
from judging.rules.panels.mending import mend
from judging.rules.panels.shortage import PanelImpossible
from judging.rules.windows.rotation import DispatchSolver
from showrun.errors import Conflict, NotYet
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@dataclass(frozen=True)
class PanelMended:
    """How many seats were dropped and added, and how many visits come after the others."""

    dropped: int
    added: int
    late_visits: int


@transaction.atomic
def mend_panel(*, show: Show, by: Person | None, at: datetime, reason: str = "") -> PanelMended:
    """Make the panel whole again for the entries, judges and conflicts as they are now."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    seats = Seat.objects.filter(judge__show=show).exclude(entry__status=Status.PRACTICE.value)
    present = list(seats.select_related("section", "entry", "judge"))
    if not present:
        raise NotYet("There is no panel to mend; draw it first.")
    wanted, judges = sections_to_judge(show), judges_of(show)
    sections = {section.code: section for section in demand_card(show).sections.all()}
    rows = {Place(seat.entry, seat.section.code, seat.judge): seat for seat in present}
    try:
        change = mend(
            seats=list(rows),
            entries=list(wanted),
            entry_sections=wanted,
            judges=[*offers_of(judges), *_offers_of_gone(judges, present)],
            judges_per_section=judges_needed(show),
            seed=SEED,
            names=names_of(judges, wanted, sections.values()),
        )
    except PanelImpossible as fault:
        raise Conflict(str(fault), code="panel-impossible", short=fault.short) from fault
    Seat.objects.filter(pk__in=[rows[seat].pk for seat in change.dropped]).delete()
    added = write_seats(change.added, sections)
    late = _mend_visits(show, {(seat.judge_id, seat.entry_id) for seat in added})
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="mended",
        subject="the panel",
        before={"dropped": [_in_words(seat) for seat in change.dropped]},
        after={"added": [_in_words(seat) for seat in change.added], "late_visits": late},
        reason=reason,
    )
    return PanelMended(len(change.dropped), len(added), late)


def _offers_of_gone(judges: list[Judge], seats: list[Seat]) -> list[JudgeOffer]:
    """A judge who left keeps the seats whose cards are handed in, and takes no other."""
    gone = [judge for judge in judges if judge.left_at]
    handed_in = set(
        Card.objects.filter(judge__in=gone, handed_in_at__isnull=False).values_list(
            "judge_id", "entry_id"
        )
    )
    offers = []
    for judge in gone:
        own = [seat for seat in seats if seat.judge_id == judge.pk]
        done = [seat for seat in own if (judge.pk, seat.entry_id) in handed_in]
        kept = {seat.entry for seat in done}
        barred = {seat.entry for seat in seats} - kept
        barred |= {conflict.entry for conflict in judge.conflicts.all()}
        offers.append(
            JudgeOffer(
                judge=judge,
                sections=frozenset(seat.section.code for seat in done),
                barred=frozenset(barred),
                max_seats=sum(seat.entry not in barred for seat in done),
            )
        )
    return offers


def _in_words(seat: Place) -> str:
    entry, judge = cast(Entry, seat.entry), cast(Judge, seat.judge)
    return f"{judge.code} at entry {entry.number}, {seat.section}"


def _mend_visits(show: Show, grown: set[tuple[int, int]]) -> int:
    """Take out visits nobody sits for; put new and longer ones after the last announced one."""
    window = window_of(show)
    if window is None:
        return 0
    seated = set(seats_of(show).values_list("judge_id", "entry_id"))
    moved = [
        visit.pk
        for visit in window.visits.all()
        if (visit.judge_id, visit.entry_id) not in seated - grown
    ]
    window.visits.filter(pk__in=moved).delete()
    if grown:
        last = window.visits.aggregate(last=Max("ends_at"))["last"] or window.opens_at
        late = DispatchSolver(seed=SEED).solve(rotation_of(show, only=grown).problem)
        draw_visits(window, late, last)
    _measure(window)
    return len(grown)


def _measure(window: Window) -> None:
    """Say anew what the window needs; a rotation with late visits is not proven shortest."""
    last = window.visits.aggregate(last=Max("ends_at"))["last"] or window.opens_at
    window.needed_minutes = int((last - window.opens_at).total_seconds() // 60)
    window.proven = False
    over = window.needed_minutes - window.available_minutes
    held = f"{over} minutes over." if over > 0 else f"{-over} to spare."
    window.advice = [
        f"With the visits added on the day the judging needs {window.needed_minutes} of "
        f"{window.available_minutes} minutes: {held}"
    ]
    window.save(update_fields=["needed_minutes", "proven", "advice"])
