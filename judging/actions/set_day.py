"""Set the rules of the judging day, and who cannot take part when."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, time
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from entries.models import Entry
from judging.models import DayRules, Judge, Pause, Window
from judging.queries.plan import break_span_of, day_rules
from judging.queries.window import window_of
from showrun.errors import InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show
from showrun.shows.rules.wall_clock import reason_against_hour

DAY_FIELDS = (
    "style",
    "talk_minutes",
    "settling_minutes",
    "break_minutes",
    "break_from",
    "break_until",
    "fair_ends",
    "visit_spread_percent",
    "pace_spread_percent",
    "grace_minutes",
    "latitude",
    "longitude",
)
# What a plan is not made from; a window sized before stands.
ASIDE = {"grace_minutes", "latitude", "longitude"}
KEPT = N_("The published times stay as they are; change them on the page of the running day.")


@transaction.atomic
def set_day(
    *, show: Show, rules: Mapping[str, Any], by: Person | None, at: datetime
) -> tuple[DayRules, bool]:
    """Set the rules given; return them, and whether a published plan is now out of step.

    A window not published is taken away, as it was sized to other rules.
    """
    show = Show.objects.select_for_update().get(pk=show.pk)
    kept = day_rules(show)
    before = {name: getattr(kept, name) for name in DAY_FIELDS}
    for name in DAY_FIELDS:
        setattr(kept, name, rules.get(name, before[name]))
    _demand_whole(kept)
    _demand_break(show, kept)
    after = {name: getattr(kept, name) for name in DAY_FIELDS}
    changed = [name for name in DAY_FIELDS if before[name] != after[name]]
    if not changed:
        return kept, False
    kept.save()
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="set",
        subject="the rules of the judging day",
        before={name: _plain(before[name]) for name in changed},
        after={name: _plain(after[name]) for name in changed},
    )
    return kept, _overtake(show) if set(changed) - ASIDE else False


@transaction.atomic
def add_pause(
    *,
    show: Show,
    starts_at: datetime,
    ends_at: datetime,
    why: str,
    by: Person | None,
    at: datetime,
    judge: Judge | None = None,
    entry: Entry | None = None,
) -> tuple[Pause, bool]:
    """Note a time when a judge, a crew or everybody cannot take part.

    Returns the pause, and whether a published plan is now out of step.
    """
    show = Show.objects.select_for_update().get(pk=show.pk)
    _demand_times(show, starts_at, ends_at)
    if judge is not None and entry is not None:
        raise InvalidInput(_("A pause is a judge's, a crew's or everybody's."))
    strange = (judge is not None and judge.show_id != show.pk) or (
        entry is not None and entry.show_id != show.pk
    )
    if strange:
        raise NotFound(_("There is nobody of that name in this show."))
    if not why.strip():
        raise InvalidInput(
            _("Say why; judges and crews will ask."), fields={"why": _("A few words, please.")}
        )
    pause = Pause.objects.create(
        show=show,
        judge=judge,
        entry=entry,
        starts_at=starts_at,
        ends_at=ends_at,
        why=why.strip()[:120],
    )
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="added",
        subject=f"a pause: {pause}",
        after=_times(pause),
    )
    return pause, _overtake(show)


@transaction.atomic
def drop_pause(*, show: Show, pause_id: int, by: Person | None, at: datetime) -> bool:
    """Take a pause back; return whether a published plan is now out of step."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    pauses = Pause.objects.filter(show=show, pk=pause_id)
    pause = pauses.select_related("judge__person", "entry").first()
    if pause is None:
        raise NotFound(_("That pause is not there any more."))
    before, words = _times(pause), str(pause)
    pause.delete()
    record_change(
        show=show, actor=by, at=at, verb="dropped", subject=f"a pause: {words}", before=before
    )
    return _overtake(show)


def _overtake(show: Show) -> bool:
    """Take a window away that was sized to something else; a published one stays."""
    window = window_of(show)
    if window is None:
        return False
    if window.published_at:
        return True
    Window.objects.filter(pk=window.pk).delete()
    return False


def _demand_whole(rules: DayRules) -> None:
    try:
        rules.full_clean(exclude=["show"], validate_unique=False, validate_constraints=False)
    except ValidationError as fault:
        fields = {name: words[0] for name, words in fault.message_dict.items()}
        raise InvalidInput(_("A rule of the day does not make sense."), fields=fields) from fault
    if (rules.latitude is None) != (rules.longitude is None):
        missing = "latitude" if rules.latitude is None else "longitude"
        raise InvalidInput(
            _("The sun needs both latitude and longitude."),
            fields={missing: _("This one too, please.")},
        )


def _demand_break(show: Show, rules: DayRules) -> None:
    """Refuse a break that no window of these hours can hold."""
    if not rules.break_minutes:
        return
    span = break_span_of(show, rules)
    if span is None:
        raise InvalidInput(
            _("The break lies outside the window."),
            fields={"break_from": _("Between the window's opening and its close, please.")},
        )
    if span[1] - span[0] < rules.break_minutes:
        raise InvalidInput(
            _(
                "A break of {minutes} minutes does not fit into the {room} minutes it may take "
                "place in."
            ).format(minutes=rules.break_minutes, room=span[1] - span[0]),
            fields={"break_minutes": _("A shorter break, or more room for it, please.")},
        )


def _demand_times(show: Show, starts_at: datetime, ends_at: datetime) -> None:
    for name, moment in (("starts", starts_at), ("ends", ends_at)):
        if never := reason_against_hour(moment):
            raise InvalidInput(never, fields={name: _("A time the clock shows, please.")})
    if ends_at <= starts_at:
        raise InvalidInput(
            _("A pause ends after it begins."), fields={"ends": _("Later than the start, please.")}
        )
    first, last = (moment.astimezone(show.tz).date() for moment in (starts_at, ends_at))
    if last < show.starts_on or first > show.ends_on:
        raise InvalidInput(_("The pause falls outside the show's days."))


def _times(pause: Pause) -> dict[str, str]:
    return {"from": pause.starts_at.isoformat(), "to": pause.ends_at.isoformat()}


def _plain(value: object) -> object:
    return value.isoformat("minutes") if isinstance(value, time) else value
