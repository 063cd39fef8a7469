"""Move an entry from where it stands to where it stands next, one line of the record each."""

from __future__ import annotations

from datetime import datetime

from entries.models import Entry
from entries.rules.places import Status
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show

_MOVED = ["status", "status_reason", "number", "spot", "offered_at", "take_up_by", "left_at"]


def lock_entry(entry: Entry) -> Entry:
    """Hold the show's places till the transaction ends, and read the entry anew."""
    Show.objects.select_for_update().get(pk=entry.show_id)
    found = Entry.objects.select_related("show", "spot").get(pk=entry.pk)
    if found.status == Status.PRACTICE:
        raise NotYet(_("The practice wagon takes no place; nothing is decided about it."))
    return found


def move_entry(
    entry: Entry,
    status: Status,
    *,
    by: Person | None,
    at: datetime,
    reason: str,
    take_up_by: datetime | None = None,
) -> Entry:
    """Write the new standing of an entry that `lock_entry` gave; nobody else may do that."""
    before = {"status": entry.status, "number": entry.number}
    after = {"status": status.value, "number": entry.number}
    if status is Status.OFFERED and take_up_by is not None:
        after["take_up_by"] = take_up_by.isoformat()
        entry.offered_at = at
    elif status is Status.WAITING:
        entry.offered_at = None
    entry.left_at = at if status is Status.SCRATCHED else None
    entry.status, entry.status_reason, entry.take_up_by = status.value, reason, take_up_by
    entry.save(update_fields=_MOVED)
    record_change(
        show=entry.show,
        actor=by,
        at=at,
        verb=status.value,
        subject=f"entry {entry.wagon_name}",
        before=before,
        after=after,
        reason=reason,
    )
    return entry
