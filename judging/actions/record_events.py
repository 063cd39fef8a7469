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
    taken: dict[int, _Taken] = {}
    for index in sorted(range(len(events)), key=lambda i: (read_seq(events[i]) or 0, i)):
        taken[index] = _take(desk, events[index], known)
        known[taken[index].row.pk] = taken[index].row
    desk.save([one.row for one in taken.values() if one.new])
    Device.objects.filter(pk=device.pk).update(last_seen_at=at, unsent=unsent)
    return [taken[index].outcome() for index in range(len(events))], desk


def _known(events: Sequence[Any]) -> dict[uuid.UUID, RoundEvent]:
    ids = {event_id for event_id in map(read_id, events) if event_id}
    spare = {_spare_id(raw) for raw in events}
    return RoundEvent.objects.in_bulk(ids | spare)


def _spare_id(raw: Any) -> uuid.UUID:
    """Give an event without a usable id one made from what it says."""
    return uuid.uuid5(uuid.NAMESPACE_OID, body_hash(raw))


@dataclass(frozen=True)
class _Taken:
    """An event weighed: the row that keeps it, and whether it is kept for the first time."""

    shown_id: str
    row: RoundEvent
    new: bool

    def outcome(self) -> Outcome:
        """Tell the phone; asked only after everything is written."""
        status = "duplicate" if not self.new else "applied" if self.row.applied else "held"
        return Outcome(self.shown_id, status, self.row.reason_code, self.row.reason)


def _take(desk: Desk, raw: Any, known: dict[uuid.UUID, RoundEvent]) -> _Taken:
    """Weigh one event: it takes effect, or it is kept with the reason why not."""
    event_id, fingerprint = read_id(raw), body_hash(raw)
    shown = str(event_id or "")
    seen = known.get(event_id) if event_id else None
    if seen and seen.body_hash == fingerprint and seen.device_id == desk.device.pk:
        return _Taken(shown, seen, new=False)
    reused = seen is not None
    kept_as = _spare_id(raw) if event_id is None or reused else event_id
    if kept_as in known:
        return _Taken(shown, known[kept_as], new=False)
    row = _row(desk, raw, kept_as, fingerprint)
    try:
        if reused:
            raise EventRefused(
                "id-reused", "Another event has this id; both are kept and the office decides."
            )
        event = read_event(raw)
        row.kind = event.kind.value
        desk.apply(event, row)
    except EventRefused as refused:
        row.applied, row.reason_code, row.reason = False, refused.code, str(refused)[:300]
    return _Taken(shown, row, new=True)


def _row(desk: Desk, raw: Any, kept_as: uuid.UUID, fingerprint: str) -> RoundEvent:
    body = storable(raw)
    return RoundEvent(
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
