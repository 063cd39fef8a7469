"""The judges in a record of results: what each gave, how each marked, how far they agreed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from judging.models import Judge, Placing, Result, Section
from judging.queries.counted import Counted
from judging.queries.panel_marks import PanelMarks, panel_marks
from judging.queries.panel_report import report_of
from judging.rules.results.panel_strips import interval_strip
from judging.rules.results.points_chart import PointsChart, WagonPoints, points_chart
from judging.rules.round.card_hash import plain_number
from reports.queries.judged import JudgedClass
from reports.rules.record_words import in_pieces, side_by_side

# Columns of a table over the whole page, and of one beside a picture.
MOST_JUDGES = 9
MOST_BESIDE = 6
# In the units of the drawings: what stands on a page with its heading.
TALLEST_POINTS = 960
# Marks may not be like the others' at all; a spread or a noise of 1 is.
RATIO = 1.0


@dataclass(frozen=True)
class Piece:
    """A picture of some wagons' points with the same as tables."""

    chart: PointsChart
    tables: list[dict[str, Any]]
    height: float


def judges_part(
    placings: Sequence[Placing],
    counted: Counted,
    judged: JudgedClass,
    judges: Mapping[str, Judge],
) -> dict[str, Any]:
    """Return every judge's points: whole cards in one table, sections in pictures and tables."""
    given = judged.points()
    cards: dict[str, dict[int, Decimal]] = defaultdict(dict)
    for (_, code), points in given.items():
        for entry, value in points.items():
            cards[code][entry] = cards[code].get(entry, Decimal(0)) + value
    codes = sorted({seat.judge_code for seat in judged.seats})
    sections = []
    for section in counted.sections:
        here = [code for code in codes if given.get((section.code, code))]
        if here:
            own = {code: given[section.code, code] for code in here}
            pieces = _pieces(section, placings, {code: judges[code] for code in here}, own)
            sections.append(
                {
                    "name": section.name,
                    "possible": plain_number(section.points),
                    "pieces": pieces,
                    "tables": [] if pieces else _tables(placings, here, own, MOST_JUDGES),
                }
            )
    return {
        "judges": [(code, judges[code].person.name) for code in codes],
        "card_tables": _tables(placings, codes, cards, MOST_JUDGES),
        "sections": sections,
    }


def _tables(
    placings: Sequence[Placing],
    codes: Sequence[str],
    given: Mapping[str, Mapping[int, Decimal]],
    most: int,
) -> list[dict[str, Any]]:
    def row(placing: Placing, some: Sequence[str]) -> list[str]:
        return [_points(given.get(code, {}).get(placing.entry_id)) for code in some]

    return [
        {"codes": some, "rows": [(placing.entry, row(placing, some)) for placing in placings]}
        for some in side_by_side(codes, most)
    ]


def _points(value: Decimal | None) -> str:
    return "–" if value is None else f"{value:.2f}"


def _pieces(
    section: Section,
    placings: Sequence[Placing],
    judges: Mapping[str, Judge],
    given: Mapping[str, Mapping[int, Decimal]],
) -> list[Piece]:
    """Return pictures of the section with their tables; none where judges have no forms left."""
    named = {code: judge.person.name for code, judge in judges.items()}

    def draw(some: Sequence[Placing]) -> Piece | None:
        wagons = [
            WagonPoints(
                placing.entry.number or 0,
                placing.entry.wagon_name,
                {
                    code: points[placing.entry_id]
                    for code, points in given.items()
                    if placing.entry_id in points
                },
            )
            for placing in some
        ]
        chart = points_chart(section.name, wagons, named, section.points)
        if chart is None:
            return None
        return Piece(chart, _tables(some, list(named), given, MOST_BESIDE), chart.height)

    return in_pieces(placings, draw, TALLEST_POINTS)


def panel_part(result: Result, placings: Sequence[Placing], counted: Counted) -> dict[str, Any]:
    """Return severity, steadiness and agreement, by the marks this result counted and no others."""
    report = report_of(_counted_marks(result, placings, counted))
    strict = [
        (line.judge.code, own.size, own.low, own.high)
        for line in report.judges
        if (own := line.habits["severity"])
    ]
    steady = [
        (line.judge.code, own.size, own.low, own.high)
        for line in report.judges
        if (own := line.habits["consistency"])
    ]
    return {
        "report": report,
        "severity_strip": interval_strip(strict) if strict else None,
        "steadiness_strip": interval_strip(steady, RATIO) if steady else None,
    }


def _counted_marks(result: Result, placings: Sequence[Placing], counted: Counted) -> PanelMarks:
    """Return the marks of the cards behind the result."""
    everything = panel_marks(result.show_class.show)
    number_of = {placing.entry_id: placing.entry.number for placing in placings}
    missing = {(gap["entry"], gap["judge"], gap["section"]) for gap in result.gaps}
    marks = []
    for mark in everything.marks:
        code = everything.criteria[mark.criterion_id].section.code
        judge = everything.judges[mark.judge_id].code
        if mark.entry_id not in number_of or code not in counted.names:
            continue
        if (number_of[mark.entry_id], judge, code) not in missing:
            marks.append(mark)
    return PanelMarks(marks, everything.criteria, everything.entries, everything.judges)
