"""The purses of released results beside what the ledger has paid of them."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from entries.models import Entry, Posting
from entries.queries.purses import purse_paid, purses_of_no_class
from judging.models import Placing, Result
from showrun.shows.models import Show, ShowClass


@dataclass(frozen=True)
class PurseLine:
    """One entry's purse in a class [cents]; above nothing `left` is to be paid.

    `placing` is None for an entry that was paid and has no place in the version that counts.
    """

    entry: Entry
    placing: Placing | None
    paid: int
    postings: list[Posting]
    next_key: UUID

    @property
    def due(self) -> int:
        """What the version that counts gives."""
        return self.placing.purse_cents if self.placing else 0

    @property
    def of_no_class(self) -> list[Posting]:
        """Purses paid to the entry by hand that may have been meant for this one."""
        return purses_of_no_class(self.entry)

    @property
    def left(self) -> int:
        """What is still to be paid; below nothing too much was."""
        return self.due - self.paid


def _line(show_class: ShowClass, entry: Entry, placing: Placing | None) -> PurseLine:
    paid = purse_paid(show_class, entry)
    return PurseLine(entry, placing, paid.cents, paid.standing, paid.next_key)


def purses_of(result: Result) -> list[PurseLine]:
    """Return the purses of a result, best place first, then what was paid to others before.

    An earlier version, or the office by hand, may have paid an entry that has no place now.
    """
    placings = list(result.placings.select_related("entry").order_by("place", "entry__number"))
    placed = [one.entry_id for one in placings]
    purses = Posting.objects.filter(show=result.show_class.show_id, kind=Posting.Kind.PURSE)
    others = Entry.objects.filter(pk__in=purses.values("entry")).exclude(pk__in=placed)
    lines = [_line(result.show_class, one.entry, one) for one in placings]
    lines += [_line(result.show_class, one, None) for one in others.order_by("number", "pk")]
    return [line for line in lines if line.due or line.paid]


def purses_released(show: Show) -> list[tuple[Result, list[PurseLine]]]:
    """Return the released results of the show that have a purse, with their lines."""
    released = Result.objects.released().filter(show_class__show=show)
    released = released.select_related("show_class").order_by("show_class__position")
    with_lines = [(result, purses_of(result)) for result in released]
    return [(result, lines) for result, lines in with_lines if lines]
