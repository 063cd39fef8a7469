"""What results are made from, and what is read of them."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

from django.db.models import Prefetch, QuerySet, prefetch_related_objects

from entries.models import Entry, EntryClass
from entries.queries.entries import entries_in_class
from entries.rules.places import Status
from judging.models import ClassCard, Placing, Result, RigReport, Signature
from judging.queries.cards import demand_card, section_values
from judging.queries.marks import JudgedSection, judged_sections
from judging.queries.panel import seats_in_conflict
from judging.queries.placed import Placed
from judging.queries.questions import Place, places_waiting
from judging.queries.rig_effects import found_in_words
from judging.queries.rigs import open_rig_reports
from judging.rules.cards.scorecard import NotInspected, Section
from judging.rules.results.totals import SectionPoints
from judging.rules.round.card_hash import plain_number
from showrun.errors import NotFound, NotYet
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Show, ShowClass
from showrun.shows.queries import Visitor, demand
from showrun.shows.rules.access import Deed


class MissingMarks(NamedTuple):
    """A card that a result waits for."""

    entry: Entry
    judge_code: str
    section: str
    rows: int
    handed_in: bool

    def in_words(self) -> str:
        """Say what is missing in one line."""
        if self.rows:
            lack = ngettext(
                "{rows} row without a mark", "{rows} rows without a mark", self.rows
            ).format(rows=self.rows)
        else:
            lack = _("nothing could be judged") if self.handed_in else _("not handed in")
        return _("Entry {entry}: {judge_code}, {section}, {lack}").format(
            entry=self.entry.called, judge_code=self.judge_code, section=self.section, lack=lack
        )


@dataclass(frozen=True)
class ClassInputs:
    """All that a class's result is computed from, and its fingerprint."""

    class_card: ClassCard
    entries: list[Entry]
    sections: list[Section]
    judged: list[JudgedSection]
    # Rigs found to be other than entered, at entries of the class, that nobody has settled.
    rigs_open: list[RigReport] = field(default_factory=list)

    @property
    def policy(self) -> NotInspected:
        """What a row that could not be inspected does to the points."""
        return NotInspected(self.class_card.not_inspected)

    @property
    def points(self) -> list[SectionPoints[int]]:
        """The points of all sections handed in complete, by entry number."""
        policy, given = self.policy, self.placed.given
        scored = (
            (seat, seat.score(policy, given.get((seat.section.code, seat.judge_code))).points)
            for seat in self.judged
            if seat.handed_in
        )
        return [
            SectionPoints(number_of(seat.entry), seat.judge_code, seat.section.code, points)
            for seat, points in scored
            if points is not None
        ]

    @cached_property
    def placed(self) -> Placed:
        """The sections of the class that are judged by places only."""
        return Placed.of(self.entries, self.judged)

    @property
    def judges_required(self) -> dict[str, int]:
        """How many judges must have seen each section."""
        return {section.code: self.class_card.judges_per_section for section in self.sections}

    @property
    def missing(self) -> list[MissingMarks]:
        """Every card a result waits for."""
        policy = self.policy
        return [
            MissingMarks(
                seat.entry, seat.judge_code, seat.section.code, seat.lacking, seat.handed_in
            )
            for seat in self.judged
            if not seat.handed_in or not seat.has_points(policy)
        ]

    @cached_property
    def unseated(self) -> list[tuple[Entry, str, int]]:
        """Every entry and section that lacks judges, with how many."""
        return [(entry, section, short) for entry, section, short in self._short_by if short > 0]

    @cached_property
    def too_many(self) -> list[tuple[Entry, str]]:
        """Every entry and section with more judges than declared."""
        return [(entry, section) for entry, section, short in self._short_by if short < 0]

    @cached_property
    def _short_by(self) -> list[tuple[Entry, str, int]]:
        need = self.class_card.judges_per_section
        have = Counter((seat.entry.number, seat.section.code) for seat in self.judged)
        return [
            (entry, section.name, need - have[entry.number, section.code])
            for entry in self.entries
            for section in self.sections
        ]

    @cached_property
    def in_conflict(self) -> list[str]:
        """Every judge who sits where, by now, a conflict bars them."""
        entries = {entry.pk for entry in self.entries}
        codes = {section.code for section in self.sections}
        return [
            _("{judge} sits at entry {entry}, {section}").format(
                judge=seat.judge, entry=seat.entry.called, section=seat.section
            )
            for seat in seats_in_conflict(self.class_card.show_class.show)
            if seat.entry_id in entries and seat.section.code in codes
        ]

    def fingerprint(self) -> str:
        """Return a hash over rules declared and marks given; it changes when either does.

        The rows are in it with their weight, since a later version of the card may weigh them
        otherwise, and each seat's rows, since a rig corrected at the wagon changes them.
        """
        declared = self.class_card
        body: dict[str, Any] = {
            "method": declared.method,
            "judges": declared.judges_per_section,
            "ladder": declared.tie_ladder,
            "not_inspected": declared.not_inspected,
            "sections": [_in_short(section) for section in self.sections],
            "seats": sorted(
                [seat.entry.pk, seat.judge_code, seat.section.code, seat.handed_in, seat.in_lines()]
                for seat in self.judged
            ),
        }
        if declared.purse_cents:
            body["purse"] = [declared.purse_cents, declared.purse_weights]
        return hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()


def rig_open(report: RigReport) -> str:
    """Say that a result waits for the office to settle a rig."""
    return _(
        "Wagon {entry}: {judge} found {found}. Adopt the rig found, or leave it as "
        "it was entered, before the result."
    ).format(entry=report.entry.called, judge=report.judge, found=found_in_words(report))


def _in_short(section: Section) -> list[Any]:
    """Return what a section's points follow from, beside the marks."""
    rows = [[row.code, plain_number(row.max_mark), str(row.weight)] for row in section.criteria]
    return [section.code, str(section.points), section.form, section.all_or_nothing, rows]


def number_of(entry: Entry) -> int:
    """Return the number of a confirmed entry; every sentence about it uses that."""
    if entry.number is None:
        raise ValueError(f"{entry} is confirmed and has no number.")
    return entry.number


def class_inputs(show_class: ShowClass) -> ClassInputs:
    """Gather what the class's result is computed from."""
    found = show_inputs(show_class.show, [show_class]).get(show_class.pk)
    if found is None:
        raise NotYet(not_declared(show_class))
    return found


def not_declared(show_class: ShowClass) -> str:
    """Say that a class cannot be judged yet."""
    return _("{show_class}: it is not declared yet how this class is judged.").format(
        show_class=show_class.name
    )


def show_inputs(show: Show, classes: Iterable[ShowClass]) -> dict[int, ClassInputs]:
    """Gather the same for all of these classes that are declared, by class id, all read once."""
    by_id = {show_class.pk: show_class for show_class in classes}
    declared = ClassCard.objects.filter(show_class__in=list(by_id)).prefetch_related("sections")
    counted = {card: [section.code for section in card.sections.all()] for card in declared}
    if not counted:
        return {}
    by_class = _entries_by_class(show, counted)
    entries = {entry.pk: entry for found in by_class.values() for entry in found}
    values = section_values(demand_card(show))
    codes = {code for found in counted.values() for code in found}
    rigs_open = open_rig_reports(show)
    judged = judged_sections(show, entries, {code: values[code] for code in codes})
    inputs = {}
    for card, own in counted.items():
        card.show_class = by_id[card.show_class_id]
        here = by_class[card.show_class_id]
        numbers = {entry.number for entry in here}
        inputs[card.show_class_id] = ClassInputs(
            class_card=card,
            entries=here,
            sections=[values[code] for code in own],
            judged=[s for s in judged if s.entry.number in numbers and s.section.code in own],
            rigs_open=[report for report in rigs_open if report.entry.number in numbers],
        )
    return inputs


def _entries_by_class(show: Show, declared: Iterable[ClassCard]) -> dict[int, list[Entry]]:
    """Return the confirmed entries of each class, by number."""
    found: dict[int, list[Entry]] = {card.show_class_id: [] for card in declared}
    entries = Entry.objects.confirmed().filter(show=show).in_bulk()
    pairs = EntryClass.objects.filter(
        show_class__in=list(found), entry__status=Status.CONFIRMED.value
    ).order_by("entry__number")
    for entry_id, class_id in pairs.values_list("entry_id", "show_class_id"):
        found[class_id].append(entries[entry_id])
    return found


def _lines() -> tuple[Prefetch[str], ...]:
    """What a result is read with: its placings and its signatures."""
    placings = Placing.objects.select_related("entry__exhibitor")
    hands = Signature.objects.select_related("person")
    return Prefetch("placings", queryset=placings), Prefetch("signatures", queryset=hands)


def _with_lines(results: QuerySet[Result]) -> QuerySet[Result]:
    return results.select_related("show_class__show").prefetch_related(*_lines())


def latest_result(show_class: ShowClass) -> Result | None:
    """Return the newest version of a class's result, released or not."""
    results = Result.objects.filter(show_class=show_class)
    return _with_lines(results).order_by("-version").first()


def latest_results(show: Show) -> list[Result]:
    """Return the newest version of every class that has a result, for the office."""
    newest: dict[int, Result] = {}
    results = Result.objects.filter(show_class__show=show)
    for result in results.order_by("show_class__position", "-version"):
        newest.setdefault(result.show_class_id, result)
    found = list(newest.values())
    prefetch_related_objects(found, *_lines())
    return found


def released_results(show: Show) -> list[Result]:
    """Return what anybody may see of a show's results."""
    results = Result.objects.released().filter(show_class__show=show)
    return list(_with_lines(results).order_by("show_class__position"))


def result_for(person: Visitor, result_id: int, deed: Deed) -> Result:
    """Return a result, if the person may do this with it; refuse it as `demand` does."""
    found = Result.objects.select_related("show_class__show").filter(pk=result_id).first()
    if found is None:
        raise NotFound
    demand(person, deed, found.show_class.show)
    return found


def has_released(show: Show) -> bool:
    """Say whether anybody may see a result of the show."""
    return Result.objects.released().filter(show_class__show=show).exists()


def released_placings(entry: Entry) -> list[Placing]:
    """Return an entry's places in the results released."""
    placings = Placing.objects.filter(entry=entry, result__in=Result.objects.released())
    return list(placings.select_related("result__show_class__show"))


def open_questions(show_class: ShowClass) -> int:
    """Count the questions that touch this class's cards and wait for an answer."""
    entries = {entry.pk for entry in entries_in_class(show_class)}
    declared = ClassCard.objects.get(show_class=show_class)
    sections = set(declared.sections.values_list("pk", flat=True))
    return count_waiting(places_waiting(show_class.show), entries, sections)


def count_waiting(
    waiting: Iterable[frozenset[Place]], entries: Collection[int], sections: Collection[int]
) -> int:
    """Count the questions that touch any of these sections at any of these entries."""
    return sum(any(e in entries and s in sections for e, s in places) for places in waiting)
