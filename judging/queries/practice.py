"""What is read of the practice wagon, and what must not count it."""

from __future__ import annotations

from collections.abc import Iterable

from entries.models import Entry
from entries.rules.places import Status
from judging.models import Card, CardMark, RoundEvent, Seat
from judging.models.card import EMPTY
from judging.rules.round.events import Kind, read_entry
from showrun.shows.models import Show


def judging_begun(show: Show) -> bool:
    """Say whether a judge has begun a card at a wagon of the show; practice does not count."""
    cards = Card.objects.filter(judge__show=show)
    return cards.exclude(entry__status=Status.PRACTICE.value).exists()


def practice_entry(show: Show) -> Entry | None:
    """Return the show's practice wagon, open or closed."""
    return Entry.objects.filter(show=show, status=Status.PRACTICE.value).first()


def is_open(entry: Entry) -> bool:
    """Say whether judges can mark the practice wagon: whether anybody sits at it."""
    return Seat.objects.filter(entry=entry).exists()


def is_marked(entry: Entry) -> bool:
    """Say whether any mark stands on a card of this wagon."""
    return CardMark.objects.filter(card__entry=entry).exclude(state=EMPTY).exists()


def held_at_practice(show: Show, events: Iterable[RoundEvent]) -> list[RoundEvent]:
    """Return those of the held events that are about the practice wagon and can be let go.

    A safety concern is never among them: it is about a wagon, whatever the wagon is for.
    """
    about = {event: read_entry(event.body) for event in events if not _is_concern(event)}
    wagon = practice_entry(show) if any(about.values()) else None
    return [event for event, entry in about.items() if wagon and entry == wagon.pk]


def _is_concern(event: RoundEvent) -> bool:
    kind = event.body.get("kind") if isinstance(event.body, dict) else None
    return Kind.CONCERN.value in (kind, event.kind)
