"""Size the judging window to the wagons, and publish it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Container, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import cast

from django.db import transaction

from entries.models import Entry
from judging.actions.seat_panel import names_of
from judging.models import Judge, Visit, Window
from judging.queries.panel import seats_of
from judging.queries.practice import judging_begun
from judging.queries.window import window_of
from judging.rules.windows.ground import walk_minutes
from judging.rules.windows.rotation import (
    DispatchSolver,
    Rotation,
    RotationProblem,
    RotationSolver,
    planned_minutes,
    validate,
)
from judging.rules.windows.size import VisitNeed, WindowSize, rotating
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

SEED = 1
# Ways out are tried by drawing again and again; a short draw each keeps the answer quick.
QUICK = DispatchSolver(seed=SEED, drafts=6, rounds=40)


@dataclass(frozen=True)
class ShowRotation:
    """The rotation to be drawn; its judges and entries are the show's own."""

    problem: RotationProblem
    judges: list[Judge]
    entries: list[Entry]


def rotation_of(show: Show, only: Container[tuple[int, int]] | None = None) -> ShowRotation:
    """Gather the visits and the walking times; `only` keeps these (judge, entry) ids."""
    minutes: dict[tuple[Entry, Judge], int] = defaultdict(int)
    seats = seats_of(show).order_by("entry__number", "judge__code")
    for seat in seats:
        if only is None or (seat.judge_id, seat.entry_id) in only:
            minutes[seat.entry, seat.judge] += seat.section.minutes
    if not minutes:
        raise NotYet("Draw the panel first; the window is sized to its visits.")
    entries = list(dict.fromkeys(entry for entry, _ in minutes))
    homeless = [entry for entry in entries if entry.spot is None]
    if homeless:
        raise NotYet(f"Entry {homeless[0]} has no camp spot; walking times need one.")
    problem = RotationProblem(
        visits=tuple(VisitNeed(entry, judge, m) for (entry, judge), m in minutes.items()),
        walk=walk_minutes(
            (show.gate_x_ft, show.gate_y_ft),
            [(e.spot.x_ft, e.spot.y_ft) for e in entries if e.spot],
            ft_per_minute=show.walking_ft_per_minute,
        ),
        spot={entry: row for row, entry in enumerate(entries, start=1)},
        crew_reset_minutes=show.crew_reset_minutes,
    )
    return ShowRotation(problem, list(dict.fromkeys(judge for _, judge in minutes)), entries)


def draw_visits(window: Window, drawn: Rotation, start: datetime) -> None:
    """Write the visits of a rotation, counted from `start`."""
    Visit.objects.bulk_create(
        Visit(
            window=window,
            judge=cast(Judge, visit.judge),
            entry=cast(Entry, visit.entry),
            starts_at=start + timedelta(minutes=visit.start),
            ends_at=start + timedelta(minutes=visit.end),
        )
        for visit in drawn.visits
    )


def _size(show: Show, plan: ShowRotation, rotation: Rotation) -> WindowSize:
    """Say whether the window holds, and where not, which changes make it hold."""
    problem = plan.problem
    quick = planned_minutes(
        walk=problem.walk,
        spot=problem.spot,
        crew_reset_minutes=problem.crew_reset_minutes,
        solver=QUICK,
    )

    def planned(visits: Sequence[VisitNeed]) -> int:
        """The rotation at hand is drawn already; only changed visits are drawn anew."""
        if tuple(visits) == problem.visits:
            return rotation.makespan
        return quick(visits)

    return rotating(
        visits=problem.visits,
        walk=problem.walk,
        available_minutes=show.judging_minutes,
        spot=problem.spot,
        crew_reset_minutes=problem.crew_reset_minutes,
        starts_at=show.judging_starts_at.astimezone(show.tz).time(),
        names=names_of(plan.judges, plan.entries),
        planned=planned,
    )


@transaction.atomic
def size_window(
    *, show: Show, by: Person | None, at: datetime, solver: RotationSolver | None = None
) -> Window:
    """Draw the rotation and say whether it fits; replaces a window not yet published."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    present = window_of(show)
    if present and present.published_at:
        raise Conflict("The window is published; announced times are not drawn again.")
    plan = rotation_of(show)
    rotation = (solver or DispatchSolver(seed=SEED)).solve(plan.problem)
    faults = validate(plan.problem, rotation)
    if faults:
        raise Conflict(f"The rotation drawn breaks a rule: {faults[0]}.", code="rotation-faulty")
    size = _size(show, plan, rotation)
    if present:
        present.delete()
    window = Window.objects.create(
        show=show,
        opens_at=show.judging_starts_at,
        available_minutes=show.judging_minutes,
        needed_minutes=rotation.makespan,
        bound_minutes=rotation.lower_bound,
        proven=rotation.proven,
        solver=rotation.solver,
        advice=[size.sentence, *(way.sentence for way in size.ways_out)],
    )
    draw_visits(window, rotation, window.opens_at)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="sized",
        subject="the judging window",
        after={"needed": window.needed_minutes, "available": window.available_minutes},
    )
    return window


@transaction.atomic
def set_hours(
    *, show: Show, opens_at: datetime, minutes: int, by: Person | None, at: datetime
) -> Show:
    """Move the judging window or change its length; a window sized before is drawn anew."""
    window = window_of(show)
    if window and window.published_at:
        raise Conflict("The window is published; withdraw it before its hours are changed.")
    local = opens_at.astimezone(show.tz).date()
    if not show.starts_on <= local <= show.ends_on:
        raise InvalidInput(
            "The judging falls outside the show's days.",
            fields={"opens_at": f"From {show.starts_on} to {show.ends_on}, please."},
        )
    if not 0 < minutes <= 24 * 60:
        raise InvalidInput(
            "A window lasts at least a minute and at most a day.",
            fields={"minutes": "1 to 1440 minutes, please."},
        )
    before = {"opens_at": show.judging_starts_at.isoformat(), "minutes": show.judging_minutes}
    show.judging_starts_at, show.judging_minutes = opens_at, minutes
    show.save(update_fields=["judging_starts_at", "judging_minutes"])
    Window.objects.filter(show=show).delete()
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="set",
        subject="the judging hours",
        before=before,
        after={"opens_at": opens_at.isoformat(), "minutes": minutes},
    )
    return show


@transaction.atomic
def publish_window(*, show: Show, by: Person | None, at: datetime) -> Window:
    """Announce the visits' times to exhibitors and judges."""
    window = window_of(show)
    if window is None:
        raise NotYet("There is no window yet; size it first.")
    visits = set(window.visits.values_list("judge_id", "entry_id"))
    if visits != set(seats_of(show).values_list("judge_id", "entry_id")):
        raise NotYet(
            "The panel changed after the window was sized. Size it again first.", code="stale"
        )
    if not window.fits:
        raise NotYet(
            f"The visits need {window.needed_minutes} minutes and the window has "
            f"{window.available_minutes}. Take one of the ways out, then size it again."
        )
    if window.published_at is None:
        window.published_at = at
        window.save(update_fields=["published_at"])
        record_change(show=show, actor=by, at=at, verb="published", subject="the judging window")
    return window


@transaction.atomic
def withdraw_window(*, show: Show, reason: str, by: Person | None, at: datetime) -> None:
    """Take back announced times while no judge has set off, so that they can be drawn anew."""
    window = window_of(show)
    if window is None or window.published_at is None:
        raise NotYet("There is no published window to withdraw.")
    if judging_begun(show):
        raise Conflict("Judging has begun; announced times stay. Mend the panel instead.")
    if not reason.strip():
        raise InvalidInput(
            "Say why the announced times are taken back; exhibitors will ask.",
            fields={"reason": "A reason, please."},
        )
    window.delete()
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="withdrew",
        subject="the judging window",
        reason=reason.strip(),
    )
