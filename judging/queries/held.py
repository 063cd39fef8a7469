"""Held events with what was sent in plain words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from entries.models import Entry
from judging.models import Criterion, Device, RoundEvent, Section
from judging.rules.round.events import Kind
from judging.rules.round.in_words import late_in_words, sent_in_words
from judging.rules.round.lateness import LATE
from showrun.shows.models import Show


@dataclass(frozen=True)
class HeldEvent:
    """An event that waits for the office, and what the judge did."""

    event: RoundEvent
    sent: str

    @property
    def is_concern(self) -> bool:
        """Whether a safety concern is stuck in it."""
        body = self.event.body
        return isinstance(body, dict) and body.get("kind") == Kind.CONCERN.value

    @property
    def can_be_taken_in(self) -> bool:
        """Whether it only came too late, so that the office may let it take effect."""
        return self.event.reason_code in LATE


@dataclass(frozen=True)
class HeldOfPhone:
    """Touches of one phone that came too late for the same reason, settled together."""

    device: Device
    code: str
    n_touches: int

    @property
    def key(self) -> str:
        """What its form goes by on the page."""
        return f"{self.device.pk}-{self.code}"

    @property
    def words(self) -> str:
        """How many they are, and why they wait."""
        return late_in_words(self.code, self.n_touches)


def held_by_phone(events: Iterable[RoundEvent]) -> list[HeldOfPhone]:
    """Put together what the office may take in or leave out by the phone."""
    late = [event for event in events if event.reason_code in LATE]
    devices = {event.device_id: event.device for event in late}
    counts = Counter((event.device_id, event.reason_code) for event in late)
    found = [HeldOfPhone(devices[pk], code, n) for (pk, code), n in counts.items()]
    return sorted(found, key=lambda one: (one.device.judge.code, one.device.pk, one.code))


def concerns_among(show: Show, events: Iterable[RoundEvent]) -> list[HeldEvent]:
    """Return the held events a safety concern is stuck in, in plain words."""
    return in_plain_words(show, [e for e in events if HeldEvent(e, "").is_concern])


def in_plain_words(show: Show, events: Iterable[RoundEvent]) -> list[HeldEvent]:
    """Say what each held event holds, by the show's own names."""
    held = list(events)
    if not held:
        return []
    wagons = {entry.pk: entry.called for entry in Entry.objects.filter(show=show)}
    # Of several versions the one in use speaks last; a row that is gone keeps its old name.
    rows = dict(
        Criterion.objects.filter(section__scorecard__show=show)
        .order_by("section__scorecard__in_use", "section__scorecard_id")
        .values_list("code", "name")
    )
    sections = dict(
        Section.objects.filter(scorecard__show=show)
        .order_by("scorecard__in_use", "scorecard_id")
        .values_list("code", "name")
    )
    return [
        HeldEvent(
            event=event,
            sent=sent_in_words(event.body, wagons=wagons, rows=rows, sections=sections),
        )
        for event in held
    ]
