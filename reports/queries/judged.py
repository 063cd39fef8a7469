"""The cards behind a released result, read as it counted them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import NamedTuple

from entries.models import Entry
from judging.models import Card, CardMark, Placing, Result, Seat
from judging.models.card import EMPTY
from judging.queries.counted import Counted
from judging.queries.rigs import card_facts
from judging.rules.cards import scorecard as values
from judging.rules.cards.score import score_section

# A card by its judge and its entry.
CardKey = tuple[int, int]


class SeatAt(NamedTuple):
    """A judge's section of an entry."""

    entry: int
    section: str
    judge: int
    judge_code: str


@dataclass(frozen=True)
class Seated:
    """The same with what was given; without points where the card is missing."""

    section: str
    judge: str
    facts: Mapping[str, str]
    marks: Mapping[str, values.Mark]
    points: Decimal | None
    missing: bool


@dataclass(frozen=True)
class JudgedClass:
    """Every seat at the entries of a result, and the marks it counted."""

    sections: Mapping[str, values.Section]
    policy: values.NotInspected
    seats: Sequence[SeatAt]
    facts: Mapping[CardKey, Mapping[str, str]]
    marks: Mapping[CardKey, Mapping[str, values.Mark]]
    # Codes of rows with a mark that is kept and not counted.
    aside: Mapping[CardKey, frozenset[str]]
    gaps: frozenset[tuple[int, str, str]]

    def at(self, entry_id: int) -> list[Seated]:
        """Return what was given at one entry, by judge."""
        places = self._places()
        return [self._seated(seat, places) for seat in self.seats if seat.entry == entry_id]

    def points(self) -> dict[tuple[str, str], dict[int, Decimal]]:
        """Return all points given, by section and judge, and entry id."""
        places = self._places()
        found: dict[tuple[str, str], dict[int, Decimal]] = defaultdict(dict)
        for seat in self.seats:
            points = self._seated(seat, places).points
            if points is not None:
                found[seat.section, seat.judge_code][seat.entry] = points
        return found

    def shares(self) -> dict[str, dict[str, Fraction]]:
        """Return the judges' mean mark as a share of the highest, by entry id and row."""
        given: dict[tuple[int, str], list[Decimal]] = defaultdict(list)
        highest: dict[str, Fraction] = {}
        for seat in self.seats:
            if self._is_gap(seat):
                continue
            marks = self.marks.get((seat.judge, seat.entry), {})
            for row in self._rows(seat):
                mark = marks.get(row.code)
                if mark is not None and mark.value is not None:
                    given[seat.entry, row.code].append(mark.value)
                    highest[row.code] = Fraction(row.max_mark)
        found: dict[str, dict[str, Fraction]] = {str(seat.entry): {} for seat in self.seats}
        for (entry, code), marked in given.items():
            found[str(entry)][code] = Fraction(sum(marked)) / len(marked) / highest[code]
        return found

    def rows_aside(self, entry_id: int) -> dict[str, list[str]]:
        """Return the rows marked for another rig than the entry's, by section."""
        cards = {key: codes for key, codes in self.aside.items() if key[1] == entry_id}
        return {
            section.code: [
                row.name
                for row in section.criteria
                if any(
                    row.code in codes and not row.is_for(self.facts[key])
                    for key, codes in cards.items()
                )
            ]
            for section in self.sections.values()
        }

    def _seated(self, seat: SeatAt, places: Mapping[tuple[str, int], Sequence[Decimal]]) -> Seated:
        key, gap = (seat.judge, seat.entry), self._is_gap(seat)
        facts, marks = self.facts[key], self.marks.get(key, {})
        here = places.get((seat.section, seat.judge))
        score = score_section(self.sections[seat.section], facts, marks, self.policy, here)
        points = None if gap else score.points
        return Seated(seat.section, seat.judge_code, facts, marks, points, gap)

    def _rows(self, seat: SeatAt) -> tuple[values.Criterion, ...]:
        return self.sections[seat.section].rows_for(self.facts[seat.judge, seat.entry])

    def _is_gap(self, seat: SeatAt) -> bool:
        return (seat.entry, seat.judge_code, seat.section) in self.gaps

    def _places(self) -> dict[tuple[str, int], list[Decimal]]:
        """Return the places each judge gave in the class, by section code and judge id."""
        found: dict[tuple[str, int], list[Decimal]] = defaultdict(list)
        for seat in self.seats:
            if self.sections[seat.section].form is not values.Form.PLACINGS:
                continue
            marks = self.marks.get((seat.judge, seat.entry), {})
            for row in self._rows(seat):
                mark = marks.get(row.code)
                if mark is not None and mark.value is not None:
                    found[seat.section, seat.judge].append(mark.value)
        return found


def judged_class(
    result: Result, placings: Sequence[Placing], counted: Counted, policy: values.NotInspected
) -> JudgedClass:
    """Read the cards of all entries placed; `counted` has its sections' rows at hand."""
    sections = {section.code: section.as_value() for section in counted.sections}
    entries = {placing.entry_id: placing.entry for placing in placings}
    seats = _seats(entries, counted)
    marks, aside = _marks(entries, counted)
    by_number = {entry.number: pk for pk, entry in entries.items()}
    return JudgedClass(
        sections=sections,
        policy=policy,
        seats=seats,
        facts=_facts(entries, seats, aside),
        marks=marks,
        aside=aside,
        gaps=frozenset(
            (by_number[gap["entry"]], gap["judge"], gap["section"])
            for gap in result.gaps
            if gap["entry"] in by_number
        ),
    )


def _seats(entries: Mapping[int, Entry], counted: Counted) -> list[SeatAt]:
    """Return the seats, by judge; of a section that the card in use lacks, whoever marked it."""
    codes = [section.code for section in counted.sections]
    there = Seat.objects.filter(entry__in=list(entries), section__code__in=codes)
    columns = ("entry_id", "section__code", "judge_id", "judge__code")
    found = {SeatAt(*row) for row in there.values_list(*columns)}
    if counted.former:
        seated = {seat.section for seat in found}
        gone = [section.pk for section in counted.sections if section.code not in seated]
        marked = CardMark.objects.filter(card__entry__in=list(entries), criterion__section__in=gone)
        columns = ("card__entry_id", "criterion__section__code", "card__judge_id",
                   "card__judge__code")  # fmt: skip
        rows = marked.exclude(state=EMPTY).order_by().values_list(*columns).distinct()
        found |= {SeatAt(*row) for row in rows}
    return sorted(found, key=lambda seat: (seat.judge_code, seat.entry, seat.section))


def _marks(
    entries: Mapping[int, Entry], counted: Counted
) -> tuple[dict[CardKey, dict[str, values.Mark]], dict[CardKey, frozenset[str]]]:
    """Return the marks counted, and the codes of rows whose mark is kept aside.

    A mark goes over to a later card with its row; where that has no such row, it was set aside
    on the row it was given for, and counted for the result all the same.
    """

    # Thousands of rows hold a few dozen different marks.
    @cache
    def mark(state: str, value: Decimal | None) -> values.Mark:
        return values.Mark(values.MarkState(state), value)

    codes = [row.code for section in counted.sections for row in section.criteria.all()]
    own = {section.pk for section in counted.sections}
    kept = CardMark.objects.filter(card__entry__in=list(entries), criterion__code__in=codes)
    columns = ("card__judge_id", "card__entry_id", "criterion__code", "criterion__section_id",
               "state", "value", "aside")  # fmt: skip
    live: dict[CardKey, dict[str, values.Mark]] = defaultdict(dict)
    left: dict[CardKey, dict[str, values.Mark]] = defaultdict(dict)
    aside: dict[CardKey, set[str]] = defaultdict(set)
    for judge, entry, code, section, state, value, is_aside in (
        kept.exclude(state=EMPTY).order_by().values_list(*columns)
    ):
        key = (judge, entry)
        if not is_aside:
            live[key][code] = mark(state, value)
            continue
        aside[key].add(code)
        if counted.former and section in own:
            left[key][code] = mark(state, value)
    for key, marks in left.items():
        live[key] = {**marks, **live.get(key, {})}
    return live, {key: frozenset(found) for key, found in aside.items()}


def _facts(
    entries: Mapping[int, Entry], seats: Sequence[SeatAt], aside: Mapping[CardKey, frozenset[str]]
) -> dict[CardKey, dict[str, str]]:
    """Return the rig each card goes by."""
    cards = Card.objects.filter(entry__in=list(entries))
    by_key = {(card.judge_id, card.entry_id): card for card in cards}
    keys = {(seat.judge, seat.entry) for seat in seats} | set(aside) | set(by_key)
    return {key: card_facts(by_key.get(key), entries[key[1]]) for key in keys}
