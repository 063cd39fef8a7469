"""Size the judging window to the wagons, and publish it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from entries.models import Entry
from judging.models import Judge, Seat, Visit, Window
from judging.queries.panel import seats_of
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
from showrun.errors import Conflict, NotYet
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

SEED = 1
# Ways out are tried by drawing again and again; a short draw each keeps the answer quick.
QUICK = DispatchSolver(seed=SEED, drafts=6, rounds=40)


@dataclass(frozen=True)
class _Panel:
    problem: RotationProblem
    judges: dict[int, Judge]
    entries: dict[int, Entry]


def _panel(show: Show) -> _Panel:
    minutes: dict[tuple[int, int], int] = defaultdict(int)
    judges, entries = {}, {}
    seats: list[Seat] = list(seats_of(show).select_related("entry__spot"))
    for seat in seats:
        minutes[seat.entry_id, seat.judge_id] += seat.section.minutes
        judges[seat.judge_id], entries[seat.entry_id] = seat.judge, seat.entry
    if not seats:
        raise NotYet("Draw the panel first; the window is sized to its visits.")
    homeless = [entry for entry in entries.values() if entry.spot is None]
    if homeless:
        raise NotYet(f"Entry {homeless[0]} has no camp spot; walking times need one.")
    order = sorted(entries.values(), key=lambda entry: entry.number or 0)
    walk = walk_minutes(
        (show.gate_x_ft, show.gate_y_ft),
        [(e.spot.x_ft, e.spot.y_ft) for e in order if e.spot],
        ft_per_minute=show.walking_ft_per_minute,
    )
    problem = RotationProblem(
        visits=tuple(VisitNeed(entry, judge, m) for (entry, judge), m in sorted(minutes.items())),
        walk=walk,
        spot={entry.pk: index for index, entry in enumerate(order, start=1)},
        crew_reset_minutes=show.crew_reset_minutes,
    )
    return _Panel(problem, judges, entries)


def _size(show: Show, panel: _Panel, rotation: Rotation) -> WindowSize:
    """Say whether the window holds, and where not, which changes make it hold."""
    problem = panel.problem
    quick = planned_minutes(
        walk=problem.walk,
        spot=problem.spot,
        crew_reset_minutes=problem.crew_reset_minutes,
        solver=QUICK,
    )
    names: dict[Hashable, str] = {
        **{pk: judge.person.name for pk, judge in panel.judges.items()},
    }

    def planned(visits: object) -> int:
        if visits == problem.visits or list(visits) == list(problem.visits):  # type: ignore[call-overload]
            return rotation.makespan
        return quick(visits)  # type: ignore[arg-type]

    return rotating(
        visits=problem.visits,
        walk=problem.walk,
        available_minutes=show.judging_minutes,
        spot=problem.spot,
        crew_reset_minutes=problem.crew_reset_minutes,
        starts_at=show.judging_starts_at.astimezone(show.tz).time(),
        names=names,
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
    panel = _panel(show)
    rotation = (solver or DispatchSolver(seed=SEED)).solve(panel.problem)
    faults = validate(panel.problem, rotation)
    if faults:
        raise Conflict(f"The rotation drawn breaks a rule: {faults[0]}.", code="rotation-faulty")
    size = _size(show, panel, rotation)
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
    Visit.objects.bulk_create(
        Visit(
            window=window,
            judge=panel.judges[visit.judge],  # type: ignore[index]
            entry=panel.entries[visit.entry],  # type: ignore[index]
            starts_at=window.opens_at + timedelta(minutes=visit.start),
            ends_at=window.opens_at + timedelta(minutes=visit.end),
        )
        for visit in rotation.visits
    )
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
def publish_window(*, show: Show, by: Person | None, at: datetime) -> Window:
    """Announce the visits' times to exhibitors and judges."""
    window = window_of(show)
    if window is None:
        raise NotYet("There is no window yet; size it first.")
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
