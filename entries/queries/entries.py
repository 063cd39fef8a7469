"""What is read of entries."""

from __future__ import annotations

from django.db.models import QuerySet

from entries.models import CampSpot, Entry
from entries.rules.places import Status
from showrun.errors import NotFound
from showrun.shows.models import Person, Show, ShowClass
from showrun.shows.queries import Visitor, demand
from showrun.shows.rules.access import Deed


def entries_of(show: Show) -> QuerySet[Entry]:
    """Return all entries of the show with what lists need; a practice wagon is none."""
    return (
        Entry.objects.filter(show=show)
        .exclude(status=Status.PRACTICE.value)
        .select_related("exhibitor", "spot")
        .prefetch_related("crew", "classes__show_class")
    )


def entries_in_class(show_class: ShowClass) -> list[Entry]:
    """Return the confirmed entries of a class, by number."""
    return list(Entry.objects.confirmed().filter(classes__show_class=show_class).order_by("number"))


def entries_by_exhibitor(person: Person) -> list[Entry]:
    """Return a person's own entries, newest show first."""
    mine = Entry.objects.filter(exhibitor=person).exclude(status=Status.PRACTICE.value)
    mine = mine.select_related("show", "spot")
    return list(mine.order_by("-show__starts_on", "id"))


def own_wagons(person: Person, show: Show) -> list[Entry]:
    """Return what the person has in this show and has not scratched, as it was entered."""
    mine = Entry.objects.filter(exhibitor=person, show=show).select_related("spot")
    gone = [Status.SCRATCHED.value, Status.PRACTICE.value]
    return list(mine.exclude(status__in=gone).order_by("id"))


def entry_for(person: Visitor, entry_id: int, deed: Deed) -> Entry:
    """Return the entry if the person may do the deed to it; strangers are told nothing."""
    entry = Entry.objects.select_related("show", "spot", "exhibitor").filter(pk=entry_id).first()
    if entry is None or entry.status == Status.PRACTICE:
        raise NotFound()
    demand(person, deed, entry.show, owner=entry.exhibitor_id == person.pk)
    return entry


def places_left(show: Show) -> int:
    """Return how many wagons can still get a place at once."""
    if Entry.objects.filter(show=show).waiting().exists():
        return 0
    return max(0, show.entry_cap - Entry.objects.filter(show=show).holding_a_place().count())


def place_in_line(entry: Entry) -> int | None:
    """Return 1 for the first on the wait list, None for those not on it."""
    if entry.status != Status.WAITING:
        return None
    return Entry.objects.filter(show=entry.show_id).waiting().filter(id__lte=entry.id).count()


def free_spots(show: Show) -> QuerySet[CampSpot]:
    """Return the camp spots nobody has been given."""
    taken = Entry.objects.filter(show=show, spot__isnull=False).values("spot")
    return CampSpot.objects.filter(show=show).exclude(pk__in=taken)
