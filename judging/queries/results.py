"""What results are made from, and what is read of them."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, QuerySet

from entries.models import Entry
from entries.queries import entries_in_class
from judging.models import ClassCard, Placing, Question, Result, Seat, Signature
from judging.queries.cards import demand_card, section_values
from judging.queries.marks import JudgedSection, judged_sections
from judging.queries.panel import seats_in_conflict
from judging.rules.cards.scorecard import Section
from judging.rules.results.totals import SectionPoints
from showrun.errors import NotYet
from showrun.shows.models import Show, ShowClass


@dataclass(frozen=True)
class MissingMarks:
    """A card that a result waits for."""

    entry: Entry
    judge_code: str
    section: str
    rows: int
    handed_in: bool

    def in_words(self) -> str:
        """Say what is missing in one line."""
        if self.rows:
            lack = f"{self.rows} row{'s' if self.rows > 1 else ''} without a mark"
        else:
            lack = "not handed in"
        return f"Entry {self.entry}: {self.judge_code}, {self.section}, {lack}"


@dataclass(frozen=True)
class ClassInputs:
    """All that a class's result is computed from, and its fingerprint."""

    class_card: ClassCard
    entries: list[Entry]
    sections: list[Section]
    judged: list[JudgedSection]
    unseated: list[tuple[Entry, str, int]]
    in_conflict: list[str]

    @property
    def points(self) -> list[SectionPoints[int]]:
        """The points of all sections handed in complete, by entry number."""
        return [
            SectionPoints(number_of(seat.entry), seat.judge_code, seat.section, seat.score.points)
            for seat in self.judged
            if seat.handed_in and seat.score.points is not None
        ]

    @property
    def judges_required(self) -> dict[str, int]:
        """How many judges must have seen each section."""
        return {section.code: self.class_card.judges_per_section for section in self.sections}

    @property
    def missing(self) -> list[MissingMarks]:
        """Every card a result waits for."""
        return [
            MissingMarks(
                seat.entry, seat.judge_code, seat.section, len(seat.score.missing), seat.handed_in
            )
            for seat in self.judged
            if not seat.handed_in or seat.score.points is None
        ]

    def fingerprint(self) -> str:
        """Return a hash over rules declared and marks given; it changes when either does."""
        declared = self.class_card
        body: dict[str, Any] = {
            "method": declared.method,
            "judges": declared.judges_per_section,
            "ladder": declared.tie_ladder,
            "not_inspected": declared.not_inspected,
            "sections": [[s.code, str(s.points)] for s in self.sections],
            "seats": sorted(
                [
                    seat.entry.pk,
                    seat.judge_code,
                    seat.section,
                    seat.handed_in,
                    str(seat.score.points),
                    sorted([c, m.state, str(m.value)] for c, m in seat.marks.items()),
                ]
                for seat in self.judged
            ),
        }
        return hashlib.sha256(json.dumps(body, sort_keys=True).encode()).hexdigest()


def number_of(entry: Entry) -> int:
    """Return the number of a confirmed entry; every sentence about it uses that."""
    if entry.number is None:
        raise ValueError(f"{entry} is confirmed and has no number.")
    return entry.number


def class_inputs(show_class: ShowClass) -> ClassInputs:
    """Gather what the class's result is computed from."""
    declared = (
        ClassCard.objects.filter(show_class=show_class)
        .select_related("show_class__show")
        .prefetch_related("sections")
        .first()
    )
    if declared is None:
        raise NotYet(f"{show_class.name}: it is not declared yet how this class is judged.")
    values = section_values(demand_card(show_class.show))
    entries = entries_in_class(show_class)
    sections = [values[section.code] for section in declared.sections.order_by("position")]
    judged = judged_sections(declared, values)
    have: dict[tuple[int, str], int] = {}
    for seat in judged:
        key = (seat.entry.pk, seat.section)
        have[key] = have.get(key, 0) + 1
    unseated = [
        (entry, section.name, declared.judges_per_section - have.get((entry.pk, section.code), 0))
        for entry in entries
        for section in sections
        if have.get((entry.pk, section.code), 0) < declared.judges_per_section
    ]
    numbers = {entry.pk for entry in entries}
    in_conflict = [
        f"{seat.judge} sits at entry {seat.entry}, {seat.section}"
        for seat in seats_in_conflict(show_class.show)
        if seat.entry_id in numbers and seat.section.code in {s.code for s in sections}
    ]
    return ClassInputs(declared, entries, sections, judged, unseated, in_conflict)


def _with_lines(results: QuerySet[Result]) -> QuerySet[Result]:
    lines = Placing.objects.select_related("entry__exhibitor")
    hands = Signature.objects.select_related("person")
    return results.select_related("show_class__show").prefetch_related(
        Prefetch("placings", queryset=lines), Prefetch("signatures", queryset=hands)
    )


def latest_result(show_class: ShowClass) -> Result | None:
    """Return the newest version of a class's result, released or not."""
    results = Result.objects.filter(show_class=show_class)
    return _with_lines(results).order_by("-version").first()


def latest_results(show: Show) -> list[Result]:
    """Return the newest version of every class that has a result, for the office."""
    newest: dict[int, Result] = {}
    results = _with_lines(Result.objects.filter(show_class__show=show))
    for result in results.order_by("show_class__position", "-version"):
        newest.setdefault(result.show_class_id, result)
    return list(newest.values())


def released_results(show: Show) -> list[Result]:
    """Return what anybody may see of a show's results."""
    results = Result.objects.released().filter(show_class__show=show)
    return list(_with_lines(results).order_by("show_class__position"))


def released_placings(entry: Entry) -> list[Placing]:
    """Return an entry's places in the results released."""
    placings = Placing.objects.filter(entry=entry, result__in=Result.objects.released())
    return list(placings.select_related("result__show_class__show"))


def open_questions(show_class: ShowClass) -> int:
    """Count the questions about this class's entries that wait for a judge."""
    return Question.objects.filter(
        entry__in=[entry.pk for entry in entries_in_class(show_class)],
        criterion__section__in=ClassCard.objects.get(show_class=show_class).sections.all(),
        state=Question.State.OPEN,
    ).count()


def class_has_seats(show_class: ShowClass) -> bool:
    """Say whether a panel is drawn for the class's entries."""
    return Seat.objects.filter(entry__in=entries_in_class(show_class)).exists()
