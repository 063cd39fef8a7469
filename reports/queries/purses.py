"""The purses of released results beside what the ledger has paid of them."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import NAMESPACE_URL, UUID, uuid5

from entries.models import Entry, Posting
from entries.queries.money_pages import amount_of
from judging.models import Placing, Result
from showrun.shows.models import Show, ShowClass


@dataclass(frozen=True)
class PurseLine:
    """One entry's purse in a class [cents]; above nothing `left` is to be paid."""

    placing: Placing
    due: int
    paid: int
    postings: list[Posting]
    next_key: UUID

    @property
    def left(self) -> int:
        """What is still to be paid; below nothing too much was."""
        return self.due - self.paid


def purse_key(show_class: ShowClass, entry: Entry, turn: int) -> UUID:
    """Return the key of an entry's purse in a class; `turn` counts corrections of it."""
    return uuid5(NAMESPACE_URL, f"showrun:purse:{show_class.pk}:{entry.pk}:{turn}")


def purse_line(placing: Placing, show_class: ShowClass) -> PurseLine:
    """Return what a placing's purse is and what of it stands paid, by earlier versions too."""
    posted: list[Posting] = []
    while True:
        key = purse_key(show_class, placing.entry, len(posted))
        found = Posting.objects.filter(key=key).select_related("reversed_by").first()
        if found is None:
            break
        posted.append(found)
    standing = [one for one in posted if not hasattr(one, "reversed_by")]
    paid = sum(amount_of(one) for one in standing)
    return PurseLine(placing, placing.purse_cents, paid, standing, key)


def purses_of(result: Result) -> list[PurseLine]:
    """Return the purses of a result, best place first, and what was paid by earlier versions."""
    placings = result.placings.select_related("entry").order_by("place", "entry__number")
    lines = [purse_line(one, result.show_class) for one in placings]
    return [line for line in lines if line.due or line.paid]


def purses_released(show: Show) -> list[tuple[Result, list[PurseLine]]]:
    """Return the released results of the show that have a purse, with their lines."""
    released = Result.objects.released().filter(show_class__show=show)
    released = released.select_related("show_class").order_by("show_class__position")
    with_lines = [(result, purses_of(result)) for result in released]
    return [(result, lines) for result, lines in with_lines if lines]
