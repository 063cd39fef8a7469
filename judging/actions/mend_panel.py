"""Mend the panel on the day: seats that may not stand are dropped, what is short is filled.

As few seats change as can be, and none whose card is in work. Visits that are new come after the
others; no other announced time changes.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import ceil
from typing import cast

from django.db import transaction

from entries.models import Entry
from entries.rules.places import Status
from judging.actions.announce import change_times, measure
from judging.actions.open_window import SEED, draw_visits, drawn_plan
from judging.actions.seat_panel import write_seats
from judging.models import Card, Judge, Seat
from judging.queries.panel import judges_of, seats_of
from judging.queries.panel_task import panel_task
from judging.queries.plan import pair_of, planner_of, show_problem
from judging.queries.window import window_of
from judging.rules.panels.assignment import JudgeOffer
from judging.rules.panels.assignment import Seat as Place
from judging.rules.panels.mending import Change, mend_task
from judging.rules.panels.shortage import PanelImpossible
from judging.rules.windows.planner import apart, opened_later
from judging.rules.windows.problem import Rotation
from judging.rules.windows.rotation import DispatchSolver
from showrun.errors import Conflict, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@dataclass(frozen=True)
class PanelMended:
    """How many seats were dropped and added, and how many visits come after the others.

    `handed_on` counts the seats that could have stood but had to be handed on to fill another.
    """

    dropped: int
    added: int
    late_visits: int
    handed_on: int


@transaction.atomic
def mend_panel(
    *, show: Show, by: Person | None, at: datetime, reason: str = "", retime: bool = True
) -> PanelMended:
    """Make the panel whole again for the entries, judges and conflicts as they are now.

    Without `retime` no announced time changes: the running day works them out anew.
    """
    show = Show.objects.select_for_update().get(pk=show.pk)
    # At a scratched wagon seats stay: what a phone without signal still brings belongs to its card.
    apart_from = [Status.PRACTICE.value, Status.SCRATCHED.value]
    seats = Seat.objects.filter(judge__show=show).exclude(entry__status__in=apart_from)
    present = list(seats.select_related("section", "entry", "judge"))
    if not present:
        raise NotYet(_("There is no panel to mend; draw it first."))
    asked = panel_task(show, more=_offers_of_gone(judges_of(show), present))
    rows = {Place(seat.entry, seat.section.code, seat.judge): seat for seat in present}
    try:
        change = mend_task(
            asked.task,
            seats=list(rows),
            settled=_settled(show, rows),
            seed=SEED,
            names=asked.names,
            balance_by=asked.balance_by,
        )
    except PanelImpossible as fault:
        raise Conflict(str(fault), code="panel-impossible", short=fault.short) from fault
    Seat.objects.filter(pk__in=[rows[seat].pk for seat in change.dropped]).delete()
    added = write_seats(change.added, asked.sections)
    grown = {(seat.judge_id, seat.entry_id) for seat in added}
    late = _mend_visits(show, grown, reason=reason, by=by, at=at) if retime else 0
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="mended",
        subject="the panel",
        before={"dropped": [_in_words(seat) for seat in change.dropped]},
        after={
            "added": [_in_words(seat) for seat in change.added],
            "late_visits": late,
            "handed_on": change.handed_on,
            "changes": [_as_line(one, asked.names) for one in change.changes],
        },
        reason=reason,
    )
    return PanelMended(len(change.dropped), len(added), late, change.handed_on)


def _settled(show: Show, seats: Iterable[Place]) -> set[Place]:
    """Seats whose cards are in work."""
    begun = set(Card.objects.filter(judge__show=show).values_list("judge_id", "entry_id"))
    return {
        seat for seat in seats if (cast(Judge, seat.judge).pk, cast(Entry, seat.entry).pk) in begun
    }


def _as_line(change: Change, names: Mapping[Hashable, str]) -> dict[str, str]:
    """One place of the table of differences, as it stands in the record."""
    return {
        "entry": str(change.entry),
        "section": names.get(change.section, change.section),
        "left": ", ".join(sorted(cast(Judge, judge).code for judge in change.left)),
        "came": ", ".join(sorted(cast(Judge, judge).code for judge in change.came)),
    }


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


def _mend_visits(
    show: Show, grown: set[tuple[int, int]], *, reason: str, by: Person | None, at: datetime
) -> int:
    """Take out visits nobody sits for; put new and longer ones after the last announced one."""
    window = window_of(show)
    if window is None:
        return 0
    seated = set(seats_of(show).values_list("judge_id", "entry_id"))
    present = {(visit.judge_id, visit.entry_id): visit for visit in window.visits.all()}
    off = present.keys() - seated
    kept = [visit.ends_at for pair, visit in present.items() if pair not in off | grown]
    last = max(kept, default=window.opens_at)
    late = _late_plan(show, grown, last - window.opens_at) if grown else None
    if window.published_at:
        if off or late:
            change_times(
                show=show,
                times=_spans(late, last) if late else {},
                called_off=off,
                reason=reason.strip() or "The panel was mended.",
                by=by,
                at=at,
            )
        return len(grown)
    gone = off | (grown & present.keys())
    window.visits.filter(pk__in=[present[pair].pk for pair in gone]).delete()
    if late:
        draw_visits(window, late, last)
    measure(window, changed="visits added")
    return len(grown)


def _late_plan(show: Show, grown: set[tuple[int, int]], after: timedelta) -> Rotation:
    """Draw visits as if the window opened `after` the others; pauses stay on the clock."""
    plan = show_problem(show, only=grown)
    planner = planner_of(show, plan, DispatchSolver(seed=SEED), seed=SEED)
    later = opened_later(planner.problem, ceil(after / timedelta(minutes=1)))
    drawn = drawn_plan(replace(planner, problem=later))
    return apart(plan.problem, drawn) if planner.walking else drawn


def _spans(late: Rotation, start: datetime) -> dict[tuple[int, int], tuple[datetime, datetime]]:
    """Return the times of a rotation counted from `start`, by judge and entry id."""
    return {
        pair_of(visit): (
            start + timedelta(minutes=visit.start),
            start + timedelta(minutes=visit.end),
        )
        for visit in late.visits
    }
