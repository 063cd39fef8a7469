"""What a judge's phones reported of rigs, while a batch of their events is worked through.

Between two phones of one judge the rule is that of marks: what arrived first stands, the same
once more changes nothing, and anything else is held for the office. A phone that was shut out
yields, and so does a report the office has settled.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from datetime import datetime
from functools import cached_property

from django.db.models import Q

from entries.rules.rig import Rig
from judging.actions.open_cards import OpenCard
from judging.models import Device, Judge, RigReport, RoundEvent
from judging.queries.rigs import standing_reports
from judging.rules.round.events import Event
from judging.rules.round.merge import Facts, RigTouch, Standing, rigs_had, takes_effect

SETTLED = (RigReport.State.ADOPTED, RigReport.State.DECLINED)


class ReportedRigs:
    """The reports of one judge, read when the first is needed and written once."""

    def __init__(
        self, judge: Judge, device: Device, at: datetime, shut_out: Callable[[], set[int]]
    ) -> None:
        self.judge, self.device, self.at = judge, device, at
        self._shut_out = shut_out
        self._replaced: list[RigReport] = []

    @cached_property
    def _own(self) -> dict[int, list[RigReport]]:
        """The judge's own reports by entry, in the order they were kept."""
        own: dict[int, list[RigReport]] = defaultdict(list)
        for report in self._read:
            if report.judge_id == self.judge.pk:
                own[report.entry_id].append(report)
        return own

    @cached_property
    def _read(self) -> list[RigReport]:
        """The judge's own reports, and those of others that changed what is entered."""
        told = Q(judge=self.judge) | Q(state=RigReport.State.ADOPTED)
        found = RigReport.objects.filter(told, judge__show=self.judge.show_id)
        return list(found.order_by("pk"))

    def had(self, here: OpenCard, seq: int) -> list[Facts]:
        """Return the rigs this phone may have shown the card by, up to one of its touches."""
        entry_id = here.card.entry_id
        before = [r.entered for r in self._read if r.entry_id == entry_id]
        told = [RigTouch(r.device_id, r.seq, r.facts) for r in self._own[entry_id]]
        return rigs_had([here.entered, *before], told, device=self.device.pk, seq=seq)

    def report(self, here: OpenCard, event: Event, row: RoundEvent) -> bool:
        """Let a report of the rig take effect on the card; say whether the card changed.

        Raises `EventRefused` where another phone of the judge reported another rig.
        """
        assert event.rig is not None
        entry_id, facts = here.card.entry_id, event.rig.facts()
        before = self._own[entry_id]
        made = RigReport(
            judge=self.judge,
            entry_id=entry_id,
            device=self.device,
            seq=event.seq,
            event=row,
            facts=facts,
            entered=here.entered,
            text=event.text,
            reported_at=self.at,
            state=RigReport.State.REPLACED,
        )
        if any(r.device_id == self.device.pk and r.seq > event.seq for r in before):
            # A later touch of this phone stands; this one only tells what was seen before it.
            before.append(made)
            return False
        standing = self._standing(entry_id)
        if not takes_effect(standing, device=self.device.pk, seq=event.seq, given=event.rig):
            return False
        for earlier in before:
            if earlier.state == RigReport.State.OPEN:
                earlier.state = RigReport.State.REPLACED
                self._replaced.append(earlier)
        before.append(made)
        was = here.facts
        if facts == here.entered:
            here.card.rig = None
        else:
            here.card.rig, made.state = facts, RigReport.State.OPEN
        return was != here.facts

    def _standing(self, entry_id: int) -> Standing | None:
        last = standing_reports(self._own[entry_id]).get(entry_id)
        if last is None:
            return None
        other = last.device_id != self.device.pk
        if other and last.state in SETTLED:
            return None
        gone = other and last.device_id in self._shut_out()
        return Standing(last.device_id, last.seq, Rig.read(last.facts), gone)

    def save(self) -> None:
        """Write the new reports, and that earlier ones are replaced by them."""
        if "_own" not in self.__dict__:
            return
        known = [r for r in self._replaced if r.pk]
        if known:
            RigReport.objects.bulk_update(known, ["state"])
        new = [r for found in self._own.values() for r in found if r.pk is None]
        if new:
            RigReport.objects.bulk_create(new)
