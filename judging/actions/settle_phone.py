"""Touches kept for the office are taken in or left out, one by one or by the phone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from judging.actions.judges_desk import Desk
from judging.actions.record_events import waiting_hand_ins, waiting_marks, weigh
from judging.models import Device, Judge, RoundEvent
from judging.rules.round.events import read_entry
from judging.rules.round.lateness import DEVICE_SHUT_OUT, LATE
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

NOTE_LONGEST = 300
STATE = ("kind", "applied", "reason_code", "reason")


@dataclass(frozen=True)
class TakenIn:
    """How many touches took effect, and those that stay held, with their own reasons now."""

    applied: int
    held: Sequence[RoundEvent]


@transaction.atomic
def take_in_phone(*, device: Device, code: str, note: str, by: Person, at: datetime) -> TakenIn:
    """Take in all touches of a phone that are held for this one reason, in the phone's count.

    Those of a phone that was shut out are weighed as if they had come before it was; one that
    came too late besides stays held for that. Late ones are taken in although they are late.
    """
    note = _demand_note(note)
    _queue_up(device)
    rows = _held_for(device, code)
    return _take_in(device, rows, note=note, by=by, at=at)


@transaction.atomic
def leave_out_phone(*, device: Device, code: str, note: str, by: Person, at: datetime) -> int:
    """Settle all touches of a phone that are held for this one reason; none takes effect."""
    note = _demand_note(note)
    _queue_up(device)
    rows = _held_for(device, code)
    for row in rows:
        row.settled_at, row.settled_by, row.settled_note = at, by, note
    RoundEvent.objects.bulk_update(rows, ("settled_at", "settled_by", "settled_note"))
    record_change(
        show=device.judge.show,
        actor=by,
        at=at,
        verb="left out",
        subject=f"{_touches(rows)} of {device} of {device.judge}",
        before=[{"reason": row.reason_code, "sent": row.body} for row in rows],
        reason=note,
        device=str(device),
    )
    return len(rows)


@transaction.atomic
def take_in_event(*, event: RoundEvent, note: str, by: Person, at: datetime) -> TakenIn:
    """Take in one held touch of a judge's phone, as `take_in_phone` does."""
    note = _demand_note(note)
    _queue_up(event.device)
    found = RoundEvent.objects.filter(pk=event.pk, applied=False, settled_at__isnull=True)
    rows = list(found.filter(reason_code__in=LATE))
    if not rows:
        raise Conflict(_("This touch does not wait to be taken in any more."))
    return _take_in(event.device, rows, note=note, by=by, at=at)


def _demand_note(note: str) -> str:
    if not note.strip():
        raise InvalidInput(
            _("Say why; it stays in the record."), fields={"note": _("Why, please.")}
        )
    return note.strip()[:NOTE_LONGEST]


def _queue_up(device: Device) -> None:
    """Keep the judge's phones waiting, as they keep each other."""
    Judge.objects.select_for_update().values_list("pk").get(pk=device.judge_id)


def _held_for(device: Device, code: str) -> list[RoundEvent]:
    """Return the phone's touches that wait for this reason, in the order of its count."""
    if code not in LATE:
        raise InvalidInput(_("Touches held for that are settled one by one."))
    held = RoundEvent.objects.filter(device=device, applied=False, settled_at__isnull=True)
    rows = list(held.filter(reason_code=code).order_by("seq", "received_at"))
    if not rows:
        raise Conflict(_("No touch of this phone waits for that any more."))
    return rows


def _take_in(
    device: Device, rows: Sequence[RoundEvent], *, note: str, by: Person, at: datetime
) -> TakenIn:
    """Weigh the touches again, let those count that can, and write the record."""
    before = [{"reason": row.reason_code, "sent": row.body} for row in rows]
    held = RoundEvent.objects.filter(device=device, applied=False, settled_at__isnull=True)
    others = [row for row in held.order_by("seq") if row not in rows]
    desk = Desk(
        judge=device.judge,
        device=device,
        entries={entry for row in rows if (entry := read_entry(row.body)) is not None},
        held=waiting_marks(others, device),
        late=all(row.reason_code != DEVICE_SHUT_OUT for row in rows),
        at=at,
    )
    for row in rows:
        weigh(desk, row, row.body)
    desk.save([], waiting=waiting_hand_ins(others, device))
    RoundEvent.objects.bulk_update(rows, STATE)
    applied = [row for row in rows if row.applied]
    record_change(
        show=device.judge.show,
        actor=by,
        at=at,
        verb="took in",
        subject=f"{_touches(rows)} of {device} of {device.judge}",
        before=before,
        after={"took_effect": len(applied), "still_held": _still(rows)},
        reason=note,
        device=str(device),
    )
    return TakenIn(len(applied), [row for row in rows if not row.applied])


def _touches(rows: Sequence[RoundEvent]) -> str:
    return f"{len(rows)} held touch{'es' if len(rows) != 1 else ''}"


def _still(rows: Iterable[RoundEvent]) -> dict[str, str]:
    """Return what is still held of the touches, and why, for the record."""
    return {str(row.pk): row.reason_code for row in rows if not row.applied}
