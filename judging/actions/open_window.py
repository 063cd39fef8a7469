"""Size the judging window to the wagons, and publish it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, cast

from django.db import transaction

from entries.models import Entry
from judging.actions.announce import announce_first
from judging.actions.seat_panel import names_of
from judging.models import Judge, Visit, Window
from judging.queries.panel import miscounts, seats_of
from judging.queries.plan import ShowProblem, planner_of, show_problem
from judging.queries.practice import judging_begun
from judging.queries.window import window_of
from judging.rules.windows.clock import said_at
from judging.rules.windows.planner import Planner, apart, chance_words, together
from judging.rules.windows.problem import Rotation
from judging.rules.windows.problem import Visit as Stay
from judging.rules.windows.rotation import DispatchSolver, RotationSolver
from judging.rules.windows.size import Hold, WindowSize, rotating, walking_panel
from judging.rules.windows.verify import faults
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from showrun.shows.rules.wall_clock import reason_against_hour

SEED = 1
# Ways out are tried by drawing again and again; a short draw each keeps the answer quick.
QUICK = DispatchSolver(seed=SEED, drafts=6, rounds=40)


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


def _size(show: Show, planner: Planner, rotation: Rotation, hold: Hold) -> WindowSize:
    """Say whether the window holds, and where not, which changes make it hold."""
    quick = replace(planner, solver=QUICK)
    quick.keep(rotation)
    opens = show.judging_starts_at

    def clock(earlier: int) -> str | None:
        """The hours are moved within their day."""
        said = said_at(opens, -earlier, show.tz)
        return said if len(said) == len("07:44") else None

    problem = planner.problem
    if planner.walking:
        return walking_panel(
            visits=problem.visits,
            walk=problem.walk,
            available_minutes=show.judging_minutes,
            spot=problem.spot,
            names=planner.names,
            solved=quick.solved,
            hold=hold,
            clock=clock,
        )
    return rotating(
        visits=problem.visits,
        walk=problem.walk,
        available_minutes=show.judging_minutes,
        spot=problem.spot,
        crew_reset_minutes=problem.crew_reset_minutes,
        names=planner.names,
        solved=quick.solved,
        bounded=quick.bounded,
        hold=hold,
        clock=clock,
    )


def drawn_plan(planner: Planner) -> Rotation:
    """Draw the plan at hand and make sure that it breaks no rule."""
    try:
        rotation = planner.plan(planner.problem)
    except ValueError as fault:
        raise NotYet(
            _("No plan keeps the rules of the day: {fault}.").format(fault=fault), code="no-plan"
        ) from fault
    broken = faults(planner.problem, rotation)
    if broken:
        raise Conflict(
            _("The rotation drawn breaks a rule: {why}.").format(why=broken[0]),
            code="rotation-faulty",
        )
    return rotation


@transaction.atomic
def size_window(
    *,
    show: Show,
    by: Person | None,
    at: datetime,
    hold: Hold = "likely",
    solver: RotationSolver | None = None,
) -> Window:
    """Draw the plan and say whether the window holds it; replaces one not yet published.

    The ways out make the window hold what nine days of ten need, or with `hold="plan"` the
    shortest plan alone.
    """
    show = Show.objects.select_for_update().get(pk=show.pk)
    present = window_of(show)
    if present and present.published_at:
        raise Conflict(_("The window is published; announced times are not drawn again."))
    plan = show_problem(show)
    names = names_of(plan.judges, plan.entries)
    planner = planner_of(show, plan, solver or DispatchSolver(seed=SEED), names, seed=SEED)
    window = _write(show, plan, planner, drawn_plan(planner), hold)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="sized",
        subject="the judging window",
        after={
            "needed": window.needed_minutes,
            "nine_days_of_ten": window.likely_minutes,
            "available": window.available_minutes,
            "held": hold,
        },
    )
    return window


def _write(
    show: Show, plan: ShowProblem, planner: Planner, rotation: Rotation, hold: Hold
) -> Window:
    """Make the plan the window's, with its figures and ways out."""
    size = _size(show, planner, rotation, hold)
    Window.objects.filter(show=show).delete()
    window = Window.objects.create(
        show=show,
        opens_at=show.judging_starts_at,
        available_minutes=show.judging_minutes,
        needed_minutes=rotation.makespan,
        bound_minutes=rotation.lower_bound,
        proven=rotation.proven,
        solver=rotation.solver,
        advice=[size.sentence, *(way.sentence for way in size.ways_out)],
        likely_minutes=size.likely_minutes,
        chance=planner.risk(planner.problem, rotation).chance(show.judging_minutes),
    )
    visits = apart(plan.problem, rotation) if planner.walking else rotation
    draw_visits(window, visits, window.opens_at)
    return window


def take_over(*, show: Show, result: Mapping[str, Any]) -> Window:
    """Put a found plan in the place of the window's; part of the caller's transaction."""
    plan = show_problem(show)
    names = names_of(plan.judges, plan.entries)
    planner = planner_of(show, plan, DispatchSolver(seed=SEED), names, seed=SEED)
    judges = {judge.pk: judge for judge in plan.judges}
    entries = {entry.pk: entry for entry in plan.entries}
    rotation = Rotation(
        tuple(
            Stay(entries[entry], judges[judge], start, end)
            for judge, entry, start, end in result["visits"]
        ),
        result["makespan"],
        result["bound"],
        result["proven"],
        str(result["solver"])[:80],
    )
    if planner.walking:
        rotation = together(rotation)
    broken = faults(planner.problem, rotation)
    if broken:
        raise Conflict(
            _("The plan found breaks a rule: {why}.").format(why=broken[0]), code="rotation-faulty"
        )
    return _write(show, plan, planner, rotation, "likely")


@transaction.atomic
def set_hours(
    *, show: Show, opens_at: datetime, minutes: int, by: Person | None, at: datetime
) -> Show:
    """Move the judging window or change its length; a window sized before is drawn anew."""
    window = window_of(show)
    if window and window.published_at:
        raise Conflict(_("The window is published; withdraw it before its hours are changed."))
    if never := reason_against_hour(opens_at):
        raise InvalidInput(never, fields={"opens_at": _("A time the clock shows, please.")})
    local = opens_at.astimezone(show.tz).date()
    if not show.starts_on <= local <= show.ends_on:
        raise InvalidInput(
            _("The judging falls outside the show’s days."),
            fields={
                "opens_at": _("From {starts_on} to {ends_on}, please.").format(
                    starts_on=show.starts_on, ends_on=show.ends_on
                )
            },
        )
    if not 0 < minutes <= 24 * 60:
        raise InvalidInput(
            _("A window lasts at least a minute and at most a day."),
            fields={"minutes": _("1 to 1440 minutes, please.")},
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
def publish_window(
    *, show: Show, by: Person | None, at: datetime, accept_chance: bool = False
) -> Window:
    """Announce the visits' times to exhibitors and judges.

    A window that holds the plan but not what nine days of ten need takes `accept_chance`.
    """
    window = window_of(show)
    if window is None:
        raise NotYet(_("There is no window yet; size it first."))
    visits = set(window.visits.values_list("judge_id", "entry_id"))
    if visits != set(seats_of(show).values_list("judge_id", "entry_id")):
        raise NotYet(
            _("The panel changed after the window was sized. Size it again first."), code="stale"
        )
    if off := miscounts(show):
        raise NotYet(
            _(
                "Judges for {section} at wagon {number}: {seated} seated, {needed} needed. Mend "
                "the panel, or draw it again, then size the window."
            ).format(**off[0]._asdict()),
            code="panel-incomplete",
        )
    if not window.fits:
        raise NotYet(
            _(
                "The visits need {needed_minutes} minutes and the window has {available_minutes}. "
                "Take one of the ways out, then size it again."
            ).format(
                needed_minutes=window.needed_minutes, available_minutes=window.available_minutes
            )
        )
    risky = _is_risky(window)
    if risky and not accept_chance and window.published_at is None:
        raise NotYet(
            _(
                "The plan fits, but {chance_words} inside the window. Take one of the ways out, "
                "or tick that you publish it all the same."
            ).format(chance_words=chance_words(window.chance or 0)),
            code="risky",
        )
    if window.published_at is None:
        window.published_at = at
        accepted = {"accepted_chance": round(window.chance or 0, 3)} if risky else None
        window.save(update_fields=["published_at"])
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="published",
            subject="the judging window",
            after=accepted,
        )
        announce_first(window=window, by=by, at=at)
    return window


def _is_risky(window: Window) -> bool:
    """Whether more than one day of ten ends after the window, as far as that is known."""
    return window.likely_minutes is not None and window.likely_minutes > window.available_minutes


@transaction.atomic
def withdraw_window(*, show: Show, reason: str, by: Person | None, at: datetime) -> None:
    """Take back announced times while no judge has set off, so that they can be drawn anew."""
    window = window_of(show)
    if window is None or window.published_at is None:
        raise NotYet(_("There is no published window to withdraw."))
    if judging_begun(show):
        raise Conflict(_("Judging has begun; announced times stay. Mend the panel instead."))
    if not reason.strip():
        raise InvalidInput(
            _("Say why the announced times are taken back; exhibitors will ask."),
            fields={"reason": _("A reason, please.")},
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
