"""What came of an entry, class by class, for its exhibitor: after release only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from entries.models import Entry
from entries.rules.money_words import dollars
from judging.models import ClassCard, Placing
from judging.queries.corrections import Correction, EntryChange, corrections
from judging.queries.counted import Counted, counted_by
from judging.queries.results import released_placings
from judging.rules.results import method_figures
from judging.rules.round.card_hash import plain_number
from reports.models import Paper
from reports.queries.papers import papers_for_entry
from reports.rules import counting, sheet
from reports.rules.award import place_words
from reports.rules.gaps import MissingSaid, missing_said
from reports.rules.in_short import in_short
from showrun.shows.models import ShowClass


@dataclass(frozen=True)
class SectionFigures:
    """A section's points beside the class's; only the own and the most where nobody else is."""

    name: str
    own: str
    possible: str
    middle: str = ""
    lowest: str = ""
    highest: str = ""


@dataclass(frozen=True)
class ClassOutcome:
    """A class of the entry: what came of it, or that it is not released yet."""

    show_class: ShowClass
    placing: Placing | None = None
    place: str = ""
    band: str = ""
    papers: Sequence[Paper] = ()
    method: str = ""
    total: str = ""
    out_of: str = ""
    purse: str = ""
    missing: MissingSaid | None = None
    sections: Sequence[SectionFigures] = ()
    in_short: str = ""
    correction: Correction | None = None
    own_change: EntryChange | None = None


def outcomes_of(
    entry: Entry, taken: Sequence[ShowClass], cards: Mapping[int, ClassCard]
) -> list[ClassOutcome]:
    """Return what came of each of the classes taken, in their order; `cards` are by class id."""
    placings = {placing.result.show_class_id: placing for placing in released_placings(entry)}
    results = [placing.result for placing in placings.values()]
    papers: dict[int, list[Paper]] = defaultdict(list)
    for paper in papers_for_entry(entry):
        if paper.show_class_id is not None:
            papers[paper.show_class_id].append(paper)
    field: dict[int, list[Placing]] = defaultdict(list)
    for one in Placing.objects.filter(result__in=results):
        field[one.result_id].append(one)
    counts = counted_by(entry.show, results, cards)
    changed = corrections(results, released=True)
    outcomes = []
    for show_class in taken:
        placing = placings.get(show_class.pk)
        if placing is None:
            outcomes.append(ClassOutcome(show_class))
            continue
        outcomes.append(
            _outcome(
                entry,
                placing,
                counts[placing.result_id],
                field[placing.result_id],
                papers[show_class.pk],
                changed.get(placing.result_id),
            )
        )
    return outcomes


def _outcome(
    entry: Entry,
    placing: Placing,
    counted: Counted,
    field: Sequence[Placing],
    papers: Sequence[Paper],
    correction: Correction | None,
) -> ClassOutcome:
    result = placing.result
    sharing = sum(one.place == placing.place for one in field)
    lines = section_lines(placing, counted, field)
    return ClassOutcome(
        show_class=result.show_class,
        placing=placing,
        place=place_words(placing.place, sharing),
        band=sheet.band_words(placing.place, sharing, len(field)),
        papers=papers,
        method=counting.method_words(result.method),
        total=method_figures.figure(result.method, placing.total),
        out_of=method_figures.out_of(result.method, counted.possible),
        purse=dollars(placing.purse_cents) if placing.purse_cents else "",
        # Judges stay unnamed here.
        missing=missing_said(result.gaps, counted.method, counted.names, own=entry.number),
        sections=[_figures(result.method, line) for line in lines],
        in_short=in_short(lines),
        correction=correction,
        own_change=correction.of_entry(entry) if correction else None,
    )


def section_lines(
    placing: Placing, counted: Counted, field: Sequence[Placing]
) -> list[sheet.SectionLine]:
    """Set the sections a result counted beside the class; sections nobody has points of are out."""
    lines = []
    for section in counted.sections:
        if section.code not in placing.by_section:
            continue
        own, possible = Decimal(placing.by_section[section.code]), counted.possible_of(section)
        if possible <= 0:
            lines.append(
                sheet.SectionLine(section.code, section.name, own, possible, own, own, own, 1)
            )
            continue
        there = [Decimal(p) for one in field if (p := one.by_section.get(section.code))]
        lines.append(
            sheet.section_line(
                code=section.code, name=section.name, possible=possible, own=own, field=there
            )
        )
    return lines


def _figures(method: str, line: sheet.SectionLine) -> SectionFigures:
    def said(points: Decimal) -> str:
        return method_figures.figure(method, points)

    own, possible = said(line.own), plain_number(line.possible)
    if line.n_entries < 2:
        return SectionFigures(line.name, own, possible)
    return SectionFigures(
        line.name, own, possible, said(line.middle), said(line.lowest), said(line.highest)
    )
