"""Held events with what was sent in plain words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from entries.models import Entry
from judging.models import Criterion, RoundEvent, Section
from judging.rules.round.events import Kind
from judging.rules.round.in_words import sent_in_words
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


def concerns_among(show: Show, events: Iterable[RoundEvent]) -> list[HeldEvent]:
    """Return the held events a safety concern is stuck in, in plain words."""
    return in_plain_words(show, [e for e in events if HeldEvent(e, "").is_concern])


def in_plain_words(show: Show, events: Iterable[RoundEvent]) -> list[HeldEvent]:
    """Say what each held event holds, by the show's own names."""
    held = list(events)
    if not held:
        return []
    wagons = {entry.pk: str(entry) for entry in Entry.objects.filter(show=show)}
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
