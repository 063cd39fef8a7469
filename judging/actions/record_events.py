"""Take a batch of events from a judge's phone: each once, in any order, none lost."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction

from judging.actions.judges_desk import Desk
from judging.models import Device, Judge, RoundEvent
from judging.rules.round.events import (
    EventRefused,
    Kind,
    body_hash,
    read_event,
    read_id,
    read_seq,
    storable,
)


@dataclass(frozen=True)
class Outcome:
    """What became of one event."""

    id: str
    status: str
    code: str = ""
    reason: str = ""


@transaction.atomic
def record_events(
    *, device: Device, events: Sequence[Any], unsent: int = 0, at: datetime
) -> tuple[list[Outcome], Desk]:
    """Keep every event and let those that can take effect; answer in the order sent.

    Events are weighed in the order of the phone's own count, so that the order of arrival
    does not matter within a batch; `takes_effect` settles it between batches.
    """
    # One judge's phones queue up here, so that two of them cannot write the same card at once.
    judge = Judge.objects.select_for_update().get(pk=device.judge_id)
    desk = Desk(judge=judge, device=device, at=at)
    known = _known(events)
    outcomes: dict[int, Outcome] = {}
    rows: list[RoundEvent] = []
    for index in sorted(range(len(events)), key=lambda i: (read_seq(events[i]) or 0, i)):
        raw = events[index]
        row, outcome = _take(desk, raw, known)
        outcomes[index] = outcome
        if row is not None:
            rows.append(row)
            known[row.pk] = row
    desk.save(rows)
    Device.objects.filter(pk=device.pk).update(last_seen_at=at, unsent=unsent)
    return [outcomes[index] for index in range(len(events))], desk


def _known(events: Sequence[Any]) -> dict[uuid.UUID, RoundEvent]:
    ids = {event_id for event_id in map(read_id, events) if event_id}
    spare = {_spare_id(raw) for raw in events}
    return RoundEvent.objects.in_bulk(ids | spare)


def _spare_id(raw: Any) -> uuid.UUID:
    """Give an event without a usable id one made from what it says."""
    return uuid.uuid5(uuid.NAMESPACE_OID, body_hash(raw))


def _take(
    desk: Desk, raw: Any, known: dict[uuid.UUID, RoundEvent]
) -> tuple[RoundEvent | None, Outcome]:
    """Weigh one event; return the row to keep, or None for one that is kept already."""
    event_id, fingerprint = read_id(raw), body_hash(raw)
    seen = known.get(event_id) if event_id else None
    if seen is not None and seen.body_hash == fingerprint and seen.device_id == desk.device.pk:
        return None, Outcome(str(seen.pk), "duplicate", seen.reason_code, seen.reason)
    spare = event_id is None or seen is not None
    kept_as = _spare_id(raw) if spare or event_id is None else event_id
    shown = str(event_id or "")
    if kept_as in known and spare:
        first = known[kept_as]
        return None, Outcome(shown, "duplicate", first.reason_code, first.reason)
    body = storable(raw)
    row = RoundEvent(
        id=kept_as,
        show_id=desk.judge.show_id,
        device=desk.device,
        seq=read_seq(raw) or 0,
        kind=Kind.UNREADABLE.value,
        body=body,
        body_hash=fingerprint,
        phone_time=str(body.get("at") or "")[:40] if isinstance(body, dict) else "",
        received_at=desk.at,
        applied=True,
    )
    try:
        if seen is not None:
            raise EventRefused(
                "id-reused", "Another event has this id; both are kept and the office decides."
            )
        event = read_event(raw)
        row.kind = event.kind.value
        desk.apply(event, row)
    except EventRefused as refused:
        row.applied, row.reason_code, row.reason = False, refused.code, str(refused)[:300]
    status = "applied" if row.applied else "held"
    return row, Outcome(shown, status, row.reason_code, row.reason)
