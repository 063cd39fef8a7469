"""What the office told exhibitors."""

from __future__ import annotations

from django.db.models import Q

from entries.models import Entry, OfficeMessage
from entries.rules.places import Status
from showrun.shows.models import Person, Show

NOT_TOLD = (Status.SCRATCHED.value, Status.PRACTICE.value)


def messages_of(show: Show) -> list[OfficeMessage]:
    """Return all messages of the show, the newest first."""
    sent = OfficeMessage.objects.filter(show=show)
    return list(sent.select_related("entry", "sent_by"))


def messages_to(entry: Entry) -> list[OfficeMessage]:
    """Return what was told to all of the entry's show or to it alone, the newest first."""
    sent = OfficeMessage.objects.filter(Q(entry=entry) | Q(entry__isnull=True), show=entry.show_id)
    return list(sent)


def entries_to_tell(show: Show) -> list[Entry]:
    """Return the entries a message to all reaches: numbered wagons first, then as they entered."""
    there = Entry.objects.filter(show=show).exclude(status__in=NOT_TOLD)
    found = there.select_related("exhibitor")
    return sorted(found, key=lambda entry: (entry.number or 10**9, entry.pk))


def readers_of(message: OfficeMessage) -> list[Person]:
    """Return the exhibitors a message goes to, each once."""
    entries = [message.entry] if message.entry else entries_to_tell(message.show)
    people = {entry.exhibitor_id: entry.exhibitor for entry in entries}
    return [person for person in people.values() if person.is_active]
