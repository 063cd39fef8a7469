"""The crew of an entry and the log of its changes, for whoever reads them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from entries.models import CrewChange, Entry
from entries.queries.terms import terms_of
from entries.rules.crew_freeze import frozen, initials, reason_against_changing, shown_name
from entries.rules.eligibility import CREW_ROLES
from entries.rules.places import Status
from showrun.language import gettext as _
from showrun.shows.queries import Visitor, allowed
from showrun.shows.rules.access import Deed


@dataclass(frozen=True)
class ShownMember:
    """One of the crew as this reader may read it."""

    name: str
    part: str
    role: str
    under_age: bool


@dataclass(frozen=True)
class LogLine:
    """One change of the crew as this reader may read it."""

    at: datetime
    by: str
    words: str
    after_freeze: bool
    reason: str


@dataclass(frozen=True)
class CrewAsShown:
    """Everything the page of a crew says."""

    members: tuple[ShownMember, ...]
    log: tuple[LogLine, ...]
    frozen_at: datetime
    is_frozen: bool
    office: bool
    against: str | None


def reads_names(person: Visitor, entry: Entry) -> bool:
    """Say whether the person reads the names of those under age: the owner and the office do."""
    return allowed(person, Deed.CHANGE_ENTRY, entry.show, owner=entry.exhibitor_id == person.pk)


def crew_shown(entry: Entry, *, in_full: bool) -> tuple[ShownMember, ...]:
    """Return the crew in its order; those under age by initials unless `in_full`."""
    return tuple(
        ShownMember(
            name=shown_name(member.name, under_age=member.under_age, in_full=in_full),
            part=_(CREW_ROLES.get(member.role, member.role)),
            role=member.role,
            under_age=member.under_age,
        )
        for member in entry.crew.all()
    )


def crew_as_shown(entry: Entry, person: Visitor, at: datetime) -> CrewAsShown:
    """Return the crew, its log and whether this person may change it now."""
    in_full = reads_names(person, entry)
    office = allowed(person, Deed.RUN_ENTRIES, entry.show)
    frozen_at = terms_of(entry.show).crew_frozen_at
    judging = entry.show.judging_starts_at
    is_frozen = frozen(now=at, frozen_at=frozen_at, judging_starts_at=judging)
    return CrewAsShown(
        members=crew_shown(entry, in_full=in_full),
        log=tuple(_said(row, in_full) for row in _rows(entry)),
        frozen_at=frozen_at or judging,
        is_frozen=is_frozen,
        office=office,
        against=reason_against_changing(
            status=Status(entry.status), is_frozen=is_frozen, office=office, reason=_("given later")
        ),
    )


def _rows(entry: Entry) -> list[CrewChange]:
    return list(CrewChange.objects.filter(entry=entry).select_related("by"))


def _said(row: CrewChange, in_full: bool) -> LogLine:
    """Write a line of the log; it does not keep who was under age, so others read initials."""
    name = row.name if in_full else initials(row.name)
    words = _("{name}, {part}: {what}").format(
        name=name, part=_(CREW_ROLES.get(row.role, row.role)), what=_(row.get_what_display())
    )
    if row.before and in_full:
        words += " " + _("(till then {before})").format(before=row.before)
    by = row.by.name if row.by else ""
    return LogLine(row.at, by, words, row.after_freeze, row.reason if in_full else "")
