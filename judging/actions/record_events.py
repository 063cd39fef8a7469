"""Take a batch of events from a judge's phone: each once, in any order, none lost."""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Container, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q

from judging.actions.judges_desk import NOT_ON_RIG, Desk
from judging.models import Device, Judge, RoundEvent
from judging.rules.round.clock import happened_at
from judging.rules.round.events import (
    EventRefused,
    Kind,
    body_hash,
    read_entry,
    read_event,
    read_id,
    read_keyed_by,
    read_seq,
    storable,
)
from judging.rules.round.lateness import DEVICE_SHUT_OUT
from judging.rules.round.signing import WAITS


@dataclass(frozen=True)
class Outcome:
    """What became of one event."""

    id: str
    status: str
    code: str = ""
    reason: str = ""


@transaction.atomic
def record_events(
    *,
    device: Device,
    events: Sequence[Any],
    unsent: int = 0,
    battery_percent: int | None = None,
    sent_at: datetime | None = None,
    at: datetime,
) -> tuple[list[Outcome], Desk]:
    """Keep every event and let those that can take effect; answer in the order sent.

    Events are weighed in the order of the phone's own count, so that the order of arrival
    does not matter within a batch; `takes_effect` settles it between batches. `sent_at` is what
    the phone's clock said when it sent the batch. Of a phone that was shut out everything is
    kept for the office, and nothing takes effect.
    """
    # One judge's phones queue up here, so that two of them cannot write the same card at once.
    Judge.objects.select_for_update().values_list("pk").get(pk=device.judge_id)
    _hear_from(device, at, unsent=unsent, battery_percent=battery_percent)
    sent = [_Sent.read(raw) for raw in events]
    known = _known(sent, device)
    able = [] if device.is_shut_out else list(known.values())
    waiting, held = waiting_hand_ins(able, device), waiting_marks(able, device)
    entries = {one.entry for one in sent if one.entry is not None}
    desk = Desk(judge=device.judge, device=device, entries=entries, held=held, at=at)
    taken: dict[int, _Taken] = {}
    for index in sorted(range(len(sent)), key=lambda i: (sent[i].seq, i)):
        taken[index] = _take(desk, sent[index], known, sent_at)
        known[taken[index].row.pk] = taken[index].row
    desk.save([one.row for one in taken.values() if one.new], waiting=waiting)
    return [taken[index].outcome() for index in range(len(events))], desk


@dataclass(frozen=True)
class _Sent:
    """An event as it came, with what it is known by."""

    raw: Any
    id: uuid.UUID | None
    seq: int
    entry: int | None
    body_hash: str

    @classmethod
    def read(cls, raw: Any) -> _Sent:
        """Read what every event needs, whatever it says."""
        return cls(raw, read_id(raw), read_seq(raw) or 0, read_entry(raw), body_hash(raw))

    @property
    def tells_of_a_rig(self) -> bool:
        """Whether it may be a report of a rig."""
        return isinstance(self.raw, Mapping) and self.raw.get("kind") == Kind.RIG.value

    def spare_id(self, judge_id: int) -> uuid.UUID:
        """An id made from what this judge's phone says, where its own is of no use."""
        return uuid.uuid5(uuid.NAMESPACE_OID, f"{judge_id} {self.body_hash}")


def _hear_from(device: Device, at: datetime, **told: int | None) -> None:
    """Note what the phone told, and whether it was shut out since it was let in."""
    heard = Device.objects.filter(pk=device.pk)
    if not heard.filter(revoked_at__isnull=True).update(last_seen_at=at, **told):
        heard.update(last_seen_at=at, **told)
        device.refresh_from_db(fields=["revoked_at"])


def _known(sent: Sequence[_Sent], device: Device) -> dict[uuid.UUID, RoundEvent]:
    """Return what was kept before under these events' ids, and this phone's touches that wait.

    Those are hand-ins of cards not whole or not as they were signed and, where the batch tells
    of a rig, marks on rows that the rig did not have.
    """
    times = Counter(one.id for one in sent)
    here = Q(pk__in=[pk for pk in times if pk])
    waiting = Q(kind=Kind.HAND_IN.value, reason_code__in=sorted(WAITS))
    if any(one.tells_of_a_rig for one in sent):
        waiting |= Q(kind=Kind.MARK.value, reason_code=NOT_ON_RIG)
    mine = Q(device=device, applied=False, settled_at__isnull=True) & waiting
    found = RoundEvent.objects.filter(here | mine).select_related("device").order_by("seq")
    known = {row.pk: row for row in found}
    unclear = [one for one in sent if one.id is None or one.id in known or times[one.id] > 1]
    return known | RoundEvent.objects.in_bulk([one.spare_id(device.judge_id) for one in unclear])


def waiting_hand_ins(rows: Iterable[RoundEvent], device: Device) -> list[RoundEvent]:
    """Return the phone's hand-ins among these that still wait for their cards."""
    return [row for row in rows if _waits(row, device, Kind.HAND_IN, WAITS)]


def waiting_marks(rows: Iterable[RoundEvent], device: Device) -> list[RoundEvent]:
    """Return the phone's marks among these that still wait for a rig."""
    return [row for row in rows if _waits(row, device, Kind.MARK, {NOT_ON_RIG})]


def _waits(row: RoundEvent, device: Device, kind: Kind, codes: Container[str]) -> bool:
    of_this_kind = (row.device_id, row.kind) == (device.pk, kind.value) and row.reason_code in codes
    return of_this_kind and not row.applied and row.settled_at is None


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


def _take(
    desk: Desk, sent: _Sent, known: dict[uuid.UUID, RoundEvent], sent_at: datetime | None
) -> _Taken:
    """Weigh one event: it takes effect, or it is kept with the reason why not."""
    shown = str(sent.id or "")
    seen = known.get(sent.id) if sent.id else None
    # The same touch once more: by this phone, or by it before it was paired anew.
    own = seen is not None and seen.device.judge_id == desk.judge.pk
    if seen and own and seen.body_hash == sent.body_hash:
        return _Taken(shown, seen, new=False)
    reused = seen is not None
    kept_as = sent.spare_id(desk.judge.pk) if sent.id is None or reused else sent.id
    if kept_as in known:
        return _Taken(shown, known[kept_as], new=False)
    row = _row(desk, sent, kept_as, sent_at)
    if desk.device.is_shut_out:
        _keep_aside(row, sent.raw)
    else:
        weigh(desk, row, sent.raw)
    return _Taken(shown, row, new=True)


def weigh(desk: Desk, row: RoundEvent, raw: Any) -> None:
    """Let a touch take effect, and note on its row whether it did, and if not why."""
    try:
        event = read_event(raw)
        row.kind = event.kind.value
        if event.id != row.pk:
            raise EventRefused(
                "id-reused", "Another event has this id; both are kept and the office decides."
            )
        row.applied, row.reason_code, row.reason = True, "", ""
        desk.apply(event, row)
    except EventRefused as refused:
        row.applied, row.reason_code, row.reason = False, refused.code, str(refused)[:300]


def _keep_aside(row: RoundEvent, raw: Any) -> None:
    """Keep for the office what a phone sends that was shut out, whatever it says."""
    with suppress(EventRefused):
        row.kind = read_event(raw).kind.value
    row.applied, row.reason_code = False, DEVICE_SHUT_OUT
    row.reason = "This phone was shut out before it sent this."


def _row(desk: Desk, sent: _Sent, kept_as: uuid.UUID, sent_at: datetime | None) -> RoundEvent:
    body = storable(sent.raw)
    claimed = str(body.get("at") or "")[:40] if isinstance(body, dict) else ""
    return RoundEvent(
        id=kept_as,
        show_id=desk.judge.show_id,
        device=desk.device,
        seq=sent.seq,
        kind=Kind.UNREADABLE.value,
        body=body,
        body_hash=sent.body_hash,
        phone_time=claimed,
        keyed_by=read_keyed_by(sent.raw),
        received_at=desk.at,
        happened_at=happened_at(claimed, sent_at=sent_at, received_at=desk.at),
        applied=True,
    )
