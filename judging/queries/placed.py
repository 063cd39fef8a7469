"""Sections judged by places only: the places of a class, and what stands against ranking them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from entries.models import Entry
from judging.queries.marks import JudgedSection
from judging.rules.cards.scorecard import Form
from judging.rules.round.card_hash import plain_number
from showrun.language import gettext as _
from showrun.language import listed, ngettext

# A section by its code, and a judge by theirs.
Ranking = tuple[str, str]


@dataclass(frozen=True)
class Placed:
    """The places that judges gave in one class, by section and judge."""

    sections: Mapping[str, str]
    given: Mapping[Ranking, Sequence[Decimal]]
    against: Sequence[str]

    @classmethod
    def of(cls, entries: Sequence[Entry], judged: Iterable[JudgedSection]) -> Placed:
        """Gather the places over the entries of the class; scratched ones are not among them."""
        seats: dict[Ranking, list[JudgedSection]] = defaultdict(list)
        for seat in judged:
            if seat.section.form is Form.PLACINGS:
                seats[seat.section.code, seat.judge_code].append(seat)
        against = [_against(entries, seats[key]) for key in sorted(seats)]
        return cls(
            sections={code: here[0].section.name for (code, _), here in seats.items()},
            given={key: [p for _, p in _places(here)] for key, here in seats.items()},
            against=[sentence for found in against for sentence in found],
        )


def _places(seats: Sequence[JudgedSection]) -> list[tuple[Entry, Decimal]]:
    return [(seat.entry, seat.place) for seat in seats if seat.place is not None]


def _against(entries: Sequence[Entry], seats: Sequence[JudgedSection]) -> list[str]:
    """Say why one judge's places do not rank the class; a row without a mark is told elsewhere."""
    judge, section = seats[0].judge_code, seats[0].section.name
    seen = {seat.entry.pk for seat in seats}
    unseen = [entry for entry in entries if entry.pk not in seen]
    found = []
    if unseen:
        found.append(
            _(
                "{judge} judges {section} by places and is not seated at {wagons}. Places count "
                "only from a judge who sees every wagon of the class. Mend the panel."
            ).format(judge=judge, section=section, wagons=_named(unseen))
        )
    left_out = [seat.entry for seat in seats if not seat.lacking and seat.place is None]
    if left_out:
        found.append(
            _(
                "{judge} gave no place in {section} to {wagons}. Places count only when every "
                "wagon of the class has one."
            ).format(judge=judge, section=section, wagons=_named(left_out))
        )
    by_place: dict[Decimal, list[Entry]] = defaultdict(list)
    for entry, place in _places(seats):
        by_place[place].append(entry)
    found += [
        _(
            "{judge} gave {wagons} the same place in {section}: {place}. Ask the judge "
            "which of them comes first."
        ).format(
            judge=judge,
            wagons=_named(by_place[place]),
            section=section,
            place=plain_number(place),
        )
        for place in sorted(by_place)
        if len(by_place[place]) > 1
    ]
    return found


def _named(entries: Sequence[Entry]) -> str:
    """Name wagons in a row."""
    named = ngettext("wagon {wagons}", "wagons {wagons}", len(entries))
    return named.format(wagons=listed([entry.called for entry in entries]))
