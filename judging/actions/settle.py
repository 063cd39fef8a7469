"""What the office does about held events and safety concerns."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.models import Judge, RoundEvent, SafetyConcern
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.language import in_english
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person


@transaction.atomic
def settle_event(*, event: RoundEvent, note: str, by: Person, at: datetime) -> RoundEvent:
    """Note what was done about an event that could not take effect; it stays in the record."""
    # The phone itself, or somebody else, may be about to let it take effect.
    Judge.objects.select_for_update().values_list("pk").get(pk=event.device.judge_id)
    event.refresh_from_db(fields=["applied", "settled_at"])
    if event.applied or event.settled_at:
        raise Conflict(_("This event does not wait for the office any more."))
    if not note.strip():
        raise InvalidInput(_("Say what was done about it."), fields={"note": _("A note, please.")})
    event.settled_at, event.settled_by, event.settled_note = at, by, note.strip()[:300]
    event.save(update_fields=["settled_at", "settled_by", "settled_note"])
    record_change(
        show=event.show,
        actor=by,
        at=at,
        verb="settled",
        subject=f"a held event of {event.device.judge}",
        before={"reason": event.reason, "sent": event.body},
        reason=note.strip(),
    )
    return event


@transaction.atomic
def see_concern(*, concern: SafetyConcern, by: Person, at: datetime) -> SafetyConcern:
    """Note that the office has seen a safety concern and acts on it."""
    if concern.seen_at is None:
        concern.seen_at, concern.seen_by = at, by
        concern.save(update_fields=["seen_at", "seen_by"])
        with in_english():  # the record says it alike, whoever has seen it
            degree = concern.get_degree_display()
        record_change(
            show=concern.judge.show,
            actor=by,
            at=at,
            verb="saw",
            subject=f"safety concern ({degree}) at entry {concern.entry}",
            after={"text": concern.text},
        )
    return concern
