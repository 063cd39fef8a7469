"""Change the crew of an entry; every change stands in its log for good."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from entries.actions.move_entry import lock_entry
from entries.models import CrewChange, CrewMember, Entry
from entries.queries.terms import terms_of
from entries.rules.crew_changes import CrewLine, Difference, differences
from entries.rules.crew_freeze import frozen, reason_against_changing
from entries.rules.eligibility import fault_of_crew
from entries.rules.places import Status
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person
from showrun.shows.queries import allowed
from showrun.shows.rules.access import Deed


@transaction.atomic
def change_crew(
    *, entry: Entry, crew: Sequence[Mapping[str, Any]], by: Person, at: datetime, reason: str = ""
) -> list[CrewChange]:
    """Put this crew in place of the one there is; each has `name`, `role` and `under_age`.

    Raises
    ------
    InvalidInput
        When it is no crew, or the reason is lacking or too long.
    NotYet
        When the list is frozen and it is not the office that changes it.
    """
    entry = lock_entry(entry)
    is_frozen = _demand_changeable(entry, by, at, reason)
    rows = [CrewLine(one["name"].strip(), one["role"], bool(one.get("under_age"))) for one in crew]
    rows = [row for row in rows if row.name]
    if fault := fault_of_crew([{"name": row.name, "role": row.role} for row in rows]):
        raise InvalidInput(_("The crew was not changed yet."), fields={"crew": fault})
    there = list(entry.crew.all())
    found = differences([CrewLine(m.name, m.role, m.under_age) for m in there], rows)
    if not found:
        return []
    # The list keeps the order it was typed in, so it is written anew; the log is what lasts.
    entry.crew.all().delete()
    CrewMember.objects.bulk_create(
        CrewMember(entry=entry, name=row.name, role=row.role, under_age=row.under_age)
        for row in rows
    )
    record_change(
        show=entry.show,
        actor=by,
        at=at,
        verb="changed the crew",
        subject=f"entry {entry.wagon_name}",
        after={"changes": len(found), "after_freeze": is_frozen},
        reason=reason.strip(),
    )
    return [_log(entry, one, by=by, at=at, late=is_frozen, reason=reason) for one in found]


def _demand_changeable(entry: Entry, by: Person, at: datetime, reason: str) -> bool:
    """Refuse what the freeze forbids; return whether the list is frozen."""
    if len(reason.strip()) > CrewChange.REASON_MAX:
        raise InvalidInput(
            _("The crew was not changed yet."),
            fields={
                "reason": _("At most {most} letters, please.").format(most=CrewChange.REASON_MAX)
            },
        )
    is_frozen = frozen(
        now=at,
        frozen_at=terms_of(entry.show).crew_frozen_at,
        judging_starts_at=entry.show.judging_starts_at,
    )
    office = allowed(by, Deed.RUN_ENTRIES, entry.show)
    against = reason_against_changing(
        status=Status(entry.status), is_frozen=is_frozen, office=office, reason=reason
    )
    if against and office and is_frozen and entry.status != Status.SCRATCHED:
        raise InvalidInput(_("The crew was not changed yet."), fields={"reason": against})
    if against:
        raise NotYet(against, code="crew-frozen")
    return is_frozen


def _log(
    entry: Entry, one: Difference, *, by: Person, at: datetime, late: bool, reason: str
) -> CrewChange:
    return CrewChange.objects.create(
        entry=entry,
        at=at,
        by=by,
        what=one.what,
        name=one.line.name,
        role=one.line.role,
        before=one.before.in_words() if one.before else "",
        after_freeze=late,
        reason=reason.strip(),
    )
