"""What a released result counted, as the card stood when it was computed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from judging.models import ClassCard, Result, Section
from judging.queries.cards import sections_as_counted
from judging.rules.results.method_figures import can_give
from showrun.shows.models import Show


@dataclass(frozen=True)
class Counted:
    """The sections behind a result, and what each could come to.

    `former` says that they are of a card which is not in use any more.
    """

    method: str
    sections: Sequence[Section]
    judges: int
    n_entries: int
    former: bool

    def possible_of(self, section: Section) -> Decimal:
        """What a section could come to, in the method's own figures."""
        return can_give(self.method, section.points, self.judges, self.n_entries)

    @property
    def possible(self) -> Decimal:
        """What all sections could come to."""
        return sum((self.possible_of(section) for section in self.sections), Decimal(0))

    @property
    def names(self) -> dict[str, str]:
        """The names of the sections by code."""
        return {section.code: section.name for section in self.sections}


def counted_by(
    show: Show, results: Sequence[Result], cards: Mapping[int, ClassCard]
) -> dict[int, Counted]:
    """Return what each result of the show counted, by result id; `cards` are by class id.

    The results come with their placings.
    """
    before = sections_as_counted(show, results)
    found = {}
    for result in results:
        card = cards.get(result.show_class_id)
        now = sorted(card.sections.all(), key=lambda one: one.position) if card else []
        found[result.pk] = Counted(
            method=result.method,
            sections=before.get(result.pk, now),
            judges=card.judges_per_section if card else 1,
            n_entries=len(result.placings.all()),
            former=result.pk in before,
        )
    return found
