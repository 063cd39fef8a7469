"""The sections of a feedback sheet: points beside the class, and how they add up."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from entries.models import Entry
from judging.models import Placing, Remark, Section
from judging.queries.counted import Counted
from judging.rules.cards import scorecard as values
from judging.rules.results import method_figures
from judging.rules.results.incomplete import Gap, at_the_mean, totals_of_what_is_there
from judging.rules.results.section_points import SectionPoints
from judging.rules.round.card_hash import plain_number
from reports.queries.judged import JudgedClass, Seated
from reports.rules import chart, counting, sheet
from showrun.errors import Conflict
from showrun.language import gettext as _


@dataclass(frozen=True)
class JudgesPlace:
    """The place one judge gave, in a section where that is what is given."""

    judge: str
    place: str


@dataclass(frozen=True)
class SectionPart:
    """A section of a feedback sheet."""

    line: sheet.SectionLine
    # None where there is nothing to compare.
    bar: chart.Bar | None
    # As they are printed: those of the line, and the judges' points as they wrote them, added up.
    figures: Mapping[str, str]
    rows: sheet.RowCount
    places: list[JudgesPlace]
    reckoning: str
    remarks: list[tuple[str, str]]
    form: values.Form
    all_or_nothing: bool
    # Rows with a mark that does not count: the rig turned out not to have them.
    aside: list[str]


@dataclass(frozen=True)
class OnSheet:
    """What the sections of one entry's sheet are made from."""

    entry: Entry
    placing: Placing
    placings: Sequence[Placing]
    counted: Counted
    judged: JudgedClass
    seats: Sequence[Seated]
    letters: Mapping[str, str]

    @cached_property
    def given(self) -> dict[tuple[str, str], counting.Given]:
        """Each judge's part at the entry as it counted, by section and judge."""
        return _given(self)


def section_parts(on: OnSheet) -> list[SectionPart]:
    """Return the sections of an entry's sheet, in the card's order."""
    lines = [_line(on, section) for section in on.counted.sections]
    scale = sheet.axis(lines) if all(line.possible for line in lines) else None
    said, aside = _remarks(on), on.judged.rows_aside(on.entry.pk)
    parts = []
    for section, line in zip(on.counted.sections, lines, strict=True):
        here = [seat for seat in on.seats if seat.section == section.code]
        here.sort(key=lambda seat: on.letters[seat.judge])
        there = [seat for seat in here if not seat.missing]
        facts = there[0].facts if there else on.entry.rig.facts()
        own = [on.given[section.code, seat.judge] for seat in here]
        parts.append(
            SectionPart(
                line=line,
                bar=chart.bar(line, scale) if scale else None,
                figures=_figures(on.counted.method, line, own),
                rows=sheet.count_rows(section.as_value(), facts, [seat.marks for seat in there]),
                places=[JudgesPlace(on.letters[s.judge], _place(section, s)) for s in there],
                reckoning=counting.reckoning(on.counted.method, own),
                remarks=sorted(said[section.code]),
                form=values.Form(section.form),
                all_or_nothing=section.all_or_nothing,
                aside=aside[section.code],
            )
        )
    return parts


def _line(on: OnSheet, section: Section) -> sheet.SectionLine:
    """Set a section beside the class; by places, an entry alone has nothing to be set beside."""
    own, possible = Decimal(on.placing.by_section[section.code]), on.counted.possible_of(section)
    if not possible:
        return sheet.SectionLine(section.code, section.name, own, possible, own, own, own, 1)
    return sheet.section_line(
        code=section.code,
        name=section.name,
        possible=possible,
        own=own,
        field=[Decimal(one.by_section[section.code]) for one in on.placings],
    )


def _figures(
    method: str, line: sheet.SectionLine, given: Sequence[counting.Given]
) -> dict[str, str]:
    written = sum((one.points for one in given if one.points is not None), Decimal(0))
    names = ("own", "possible", "middle", "lowest", "highest")
    figures = {name: method_figures.figure(method, getattr(line, name)) for name in names}
    return {**figures, "written": f"{written:.2f}"}


def _place(section: Section, seat: Seated) -> str:
    """Return the place a judge gave, in a section where places are what is given."""
    row = section.as_value().criteria[0] if section.form == values.Form.PLACINGS else None
    mark = seat.marks.get(row.code) if row else None
    return plain_number(mark.value) if mark and mark.value is not None else ""


def _given(on: OnSheet) -> dict[tuple[str, str], counting.Given]:
    found = {(seat.section, seat.judge): counting.Given(seat.points) for seat in on.seats}
    method = on.counted.method
    if method == method_figures.PLACES:
        given = on.judged.points()
        for seat in on.seats:
            if seat.points is not None:
                rivals = dict(given[seat.section, seat.judge])
                del rivals[on.entry.pk]
                found[seat.section, seat.judge] = counting.with_place(
                    seat.points, list(rivals.values())
                )
    elif method not in method_figures.ADJUSTING:
        for card in at_the_mean(*_of_one(on.seats)):
            found[card.section, str(card.judge)] = counting.Given(None, card.points)
    return found


def _of_one(seats: Sequence[Seated]) -> tuple[list[SectionPoints[int]], list[Gap[int]]]:
    """Return the entry's own cards and gaps as the rules take them, in their order."""
    there = [
        SectionPoints(0, seat.judge, seat.section, seat.points)
        for seat in seats
        if seat.points is not None
    ]
    return there, [Gap(0, seat.judge, seat.section) for seat in seats if seat.missing]


def _remarks(on: OnSheet) -> dict[str, list[tuple[str, str]]]:
    """Return (judge's letter, words) by section; of judges who sit at the entry."""
    said: dict[str, list[tuple[str, str]]] = defaultdict(list)
    codes = [section.code for section in on.counted.sections]
    remarks = Remark.objects.filter(card__entry=on.entry, section__code__in=codes)
    for remark in remarks.exclude(text="").select_related("card__judge", "section"):
        code = remark.card.judge.code
        if code in on.letters:
            said[remark.section.code].append((on.letters[code], remark.text))
    return said


def demand_sums(on: OnSheet) -> None:
    """Refuse to print judges' points that do not come to what the result says of them."""
    result, placing, counted = on.placing.result, on.placing, on.counted
    for name, reckoned, said in _pairs(on):
        if reckoned != said:
            come = "lack a card" if reckoned is None else f"come to {reckoned}"
            raise Conflict(
                _(
                    "{name}: the judges' points {come}, but version {version} of the result says "
                    "{said}. Marks were changed after it was computed; compute and release a new "
                    "version, then make its papers."
                ).format(name=name, come=come, version=result.version, said=said)
            )
    total = sum((Decimal(placing.by_section[s.code]) for s in counted.sections), Decimal(0))
    if total != placing.total:
        raise Conflict(
            _("The sections come to {total}, and the result says {other}.").format(
                total=total, other=placing.total
            )
        )


def _pairs(on: OnSheet) -> list[tuple[str, Decimal | None, Decimal]]:
    """Return what is reckoned again from the cards, beside what the result says."""
    counted, placing = on.counted, on.placing
    said = {code: Decimal(points) for code, points in placing.by_section.items()}
    if counted.method == method_figures.PLACES:
        won = {
            code: sum((on.given[key].won for key in on.given if key[0] == code), Decimal(0))
            for code in said
        }
        return [(counted.names[code], won[code], said[code]) for code in said]
    adjusted = counted.method in method_figures.ADJUSTING
    points, gaps = _of_one(on.seats)
    totals = totals_of_what_is_there(
        "plain" if adjusted else counted.method,
        points,
        gaps,
        [0],
        [section.code for section in counted.sections],
        {section.code: counted.judges for section in counted.sections},
    )
    if adjusted:
        # An estimate hangs on the whole class; the points it starts from are the entry's own.
        plain = placing.plain_total
        return [] if plain is None else [("All sections", totals.total[0], plain)]
    return [(counted.names[code], totals.by_section[0].get(code), said[code]) for code in said]
