"""What of a purse stands paid: a posting is of an entry's purse in a class by its key."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import NAMESPACE_URL, UUID, uuid5

from entries.models import Entry, Posting
from entries.queries.money_pages import amount_of
from showrun.shows.models import ShowClass


@dataclass(frozen=True)
class PursePaid:
    """Every posting ever made of an entry's purse in a class, and the key of the next."""

    posted: list[Posting]
    next_key: UUID

    @property
    def standing(self) -> list[Posting]:
        """The postings that were not undone."""
        return [one for one in self.posted if not hasattr(one, "reversed_by")]

    @property
    def cents(self) -> int:
        """What stands paid [cents]."""
        return sum(amount_of(one) for one in self.standing)


def purse_key(show_class: ShowClass, entry: Entry, turn: int) -> UUID:
    """Return the key of an entry's purse in a class; `turn` counts postings of it."""
    return uuid5(NAMESPACE_URL, f"showrun:purse:{show_class.pk}:{entry.pk}:{turn}")


def purse_paid(show_class: ShowClass, entry: Entry) -> PursePaid:
    """Return what was posted of the purse, by the page of purses or by hand."""
    posted: list[Posting] = []
    while True:
        key = purse_key(show_class, entry, len(posted))
        found = Posting.objects.filter(key=key).select_related("reversed_by").first()
        if found is None:
            return PursePaid(posted, key)
        posted.append(found)


def purses_of_no_class(entry: Entry) -> list[Posting]:
    """Return the entry's standing purses that were paid by hand without naming a class."""
    purses = Posting.objects.filter(entry=entry, kind=Posting.Kind.PURSE, reversed_by__isnull=True)
    standing = list(purses.order_by("number"))
    if not standing:
        return []
    named = {
        one.pk
        for show_class in ShowClass.objects.filter(show=entry.show_id)
        for one in purse_paid(show_class, entry).posted
    }
    return [one for one in standing if one.pk not in named]
