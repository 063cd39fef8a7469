"""Set a show's terms of entering, its cap and its fee."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

from django.db import transaction

from entries.actions.promote import promote
from entries.models import Entry, EntryTerms
from entries.queries.terms import terms_of
from entries.rules.terms import Terms, faults_of_terms, next_waiver_version
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

OF_SHOW = ("entry_cap", "entry_fee_cents", "refund_terms")
OF_TERMS = (
    "opens_at",
    "closes_at",
    "promotion_hours",
    "deposit_cents",
    "travel_cents",
    "refund_steps",
    "waiver_text",
    "animals_asked",
    "eia_max_age_days",
    "certificate_max_age_days",
    "animal_note",
    "emergency_asked",
    "camp_asked",
    "crew_frozen_at",
    "names_judges",
)


@transaction.atomic
def set_terms(*, show: Show, terms: Terms, by: Person, at: datetime) -> list[Entry]:
    """Set what is different and note each change; return whom a place was offered to by it."""
    show = Show.objects.select_for_update().get(pk=show.pk)
    last = show.ends_on + timedelta(days=1)
    faults = faults_of_terms(
        terms,
        starts_at=datetime.combine(show.starts_on, time(), tzinfo=show.tz),
        over_at=datetime.combine(last, time(), tzinfo=show.tz),
        ends_on=show.ends_on,
        taken=Entry.objects.filter(show=show).holding_a_place().count(),
        cap_now=show.entry_cap,
    )
    if faults:
        raise InvalidInput(
            _("The terms were not changed yet: see the marked fields."), fields=faults
        )
    kept, wanted = terms_of(show), _as_kept(terms)
    version = next_waiver_version(
        before=kept.waiver_text, after=terms.waiver_text, version=kept.waiver_version
    )
    changed: list[tuple[Any, str, Any, Any]] = []
    changed += [(show, name, getattr(show, name), wanted[name]) for name in OF_SHOW]
    changed += [(kept, name, getattr(kept, name), wanted[name]) for name in OF_TERMS]
    changed.append((kept, "waiver_version", kept.waiver_version, version))
    changed = [one for one in changed if one[2] != one[3]]
    for row, name, _before, after in changed:
        setattr(row, name, after)
    _save(show, kept, changed)
    for _row, name, before, after in changed:
        _note(show, name, before, after, by=by, at=at)
    return promote(show=show, at=at) if changed else []


def _as_kept(terms: Terms) -> dict[str, Any]:
    wanted = {name: getattr(terms, name) for name in (*OF_SHOW, *OF_TERMS)}
    wanted["refund_steps"] = [
        {"until": step.until.isoformat(), "share_percent": step.share_percent}
        for step in terms.refund_steps
    ]
    for name in ("refund_terms", "waiver_text", "animal_note"):
        wanted[name] = wanted[name].replace("\r\n", "\n").strip()
    return wanted


def _save(show: Show, kept: EntryTerms, changed: list[tuple[Any, str, Any, Any]]) -> None:
    of_show = [name for row, name, *_values in changed if row is show]
    if of_show:
        show.save(update_fields=of_show)
    if len(changed) > len(of_show):
        kept.save()


def _note(show: Show, name: str, before: Any, after: Any, *, by: Person, at: datetime) -> None:
    """Write one line of the record: a field's name, how it was and how it is."""
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="set",
        subject=f"terms: {name.replace('_', ' ')}",
        before={name: _plain(before)},
        after={name: _plain(after)},
    )


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime) else value
