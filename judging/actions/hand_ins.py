"""Hand-ins of one phone in work: those of a batch, and those that wait since earlier ones."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from judging.actions.open_cards import OpenCard
from judging.models import Device, RoundEvent
from judging.rules.round.events import EventRefused, Kind, read_card_hash, read_entry
from judging.rules.round.signing import demand_card_signed


class HandIns:
    """A hand-in takes effect once its card is whole and is the one the judge signed.

    Whatever is found is noted on the rows; `changed` are those that were stored before.
    """

    def __init__(self, device: Device, at: datetime) -> None:
        self.device, self.at = device, at
        self.changed: list[RoundEvent] = []
        self._new: list[RoundEvent] = []

    def add(self, row: RoundEvent) -> None:
        """Put a hand-in of this batch to the others, to be weighed after all other touches."""
        self._new.append(row)

    def reopen(self, cards: Iterable[OpenCard]) -> list[OpenCard]:
        """Let hand-ins wait again where a touch made before them, arriving late, changed the card.

        `cards` are those that touches of this phone have changed; the opened ones are returned.
        """
        handed_in = [here for here in cards if here.card.handed_in_at]
        if not handed_in:
            return []
        made = RoundEvent.objects.filter(device=self.device, kind=Kind.HAND_IN.value)
        found = made.filter(seq__in=[here.card.handed_in_seq or 0 for here in handed_in])
        signed = {(read_entry(row.body), row.seq): row for row in found}
        opened = []
        for here in handed_in:
            row = signed.get((here.card.entry_id, here.card.handed_in_seq or 0))
            refused = _refused(here, row)
            if refused is None:
                continue
            if row is not None:
                _hold(row, refused)
                self.changed.append(row)
            here.card.handed_in_at = here.card.handed_in_device = here.card.handed_in_seq = None
            opened.append(here)
        return opened

    def settle(
        self, waiting: Sequence[RoundEvent], opened: Mapping[int, OpenCard]
    ) -> list[OpenCard]:
        """Hand in what can be handed in; return the cards that are in by it.

        The latest signature comes first. An earlier one of the same card is done with it.
        """
        came_in = []
        for row in sorted([*self._new, *waiting], key=lambda one: -one.seq):
            here = opened.get(int(row.body["entry"]))
            if here is None:
                continue
            card, before = here.card, (row.applied, row.reason_code)
            by_this_phone = card.handed_in_at and card.handed_in_device_id == self.device.pk
            done = by_this_phone and row.seq < (card.handed_in_seq or 0)
            refused = None if done else _refused(here, row)
            if refused is not None:
                _hold(row, refused)
            else:
                row.applied, row.reason_code, row.reason = True, "", ""
            if refused is None and card.handed_in_at is None:
                card.handed_in_at, card.handed_in_seq = self.at, row.seq
                card.handed_in_device = self.device
                came_in.append(here)
            if row not in self._new and before != (row.applied, row.reason_code):
                self.changed.append(row)
        return came_in


def _refused(here: OpenCard, row: RoundEvent | None) -> EventRefused | None:
    """Say why the card cannot be in by this hand-in, or None where it can."""
    signed = read_card_hash(row.body) if row else None
    try:
        demand_card_signed(n_lacking=len(here.lacking()), signed=signed, here=here.hash())
    except EventRefused as refused:
        return refused
    return None


def _hold(row: RoundEvent, refused: EventRefused) -> None:
    row.applied, row.reason_code, row.reason = False, refused.code, str(refused)[:300]
