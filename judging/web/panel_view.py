"""The panel laid out for a reader: the grid, the loads, and what is wrong with it by now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from entries.models import Entry
from judging.models import Conflict, Judge, Pin, Section
from judging.queries.cards import class_cards
from judging.queries.panel import (
    SeatAt,
    judges_needed,
    judges_of,
    panel_grid,
    sections_to_judge,
    shared_seats,
)
from judging.queries.panel_task import minutes_there, pins_of
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Show


@dataclass(frozen=True)
class Cell:
    """One section of one entry: who sits there, and how many are missing."""

    section: str
    judges: str
    lacking: int


@dataclass(frozen=True)
class Row:
    """One entry of the grid."""

    entry: Entry
    cells: list[Cell]
    barred: str


@dataclass(frozen=True)
class Load:
    """What one judge has to do."""

    judge: Judge
    seats: int
    wagons: int
    minutes: int
    limits: str = ""


@dataclass(frozen=True)
class Comparison:
    """Whether the judges of a section can be compared; else which groups stand apart."""

    section: str
    comparable: bool
    apart: str = ""


@dataclass(frozen=True)
class PanelView:
    """Everything the page of the panel shows."""

    sections: list[Section]
    rows: list[Row]
    loads: list[Load]
    comparisons: list[Comparison]
    conflicts: list[Conflict]
    wrong: list[str]
    n_judges: int
    drawn: bool


def panel_view(show: Show) -> PanelView:
    """Lay out the panel as it stands against today's entries and conflicts."""
    engaged, pins = judges_of(show), pins_of(show)
    seats = shared_seats(show)
    grid = panel_grid(show, seats)
    declared = class_cards(show)
    wanted, needed = sections_to_judge(show, declared), judges_needed(show, declared)
    conflicts = [conflict for judge in engaged for conflict in judge.conflicts.all()]
    barred: dict[int, list[str]] = defaultdict(list)
    for conflict in conflicts:
        barred[conflict.entry_id].append(conflict.judge.code)
    rows = [
        Row(
            entry=entry,
            cells=[
                Cell(
                    section=section.name,
                    judges=", ".join(codes),
                    lacking=max(0, needed.get(section.code, 0) - len(codes))
                    if section.code in wanted.get(entry, ())
                    else 0,
                )
                for section, codes in zip(grid.sections, cells, strict=True)
            ],
            barred=", ".join(barred[entry.pk]),
        )
        for entry, cells in grid.rows
    ]
    return PanelView(
        sections=grid.sections,
        rows=rows,
        loads=_loads(engaged, seats, minutes_there(show)),
        comparisons=_comparisons(grid.sections, seats),
        conflicts=conflicts,
        wrong=[*_wrong(rows, seats, conflicts), *_unkept(engaged, seats, pins)] if seats else [],
        n_judges=len(engaged),
        drawn=bool(seats),
    )


def _loads(
    engaged: Iterable[Judge], seats: Iterable[SeatAt], there: Mapping[int, int]
) -> list[Load]:
    own: dict[int, list[SeatAt]] = defaultdict(list)
    for seat in seats:
        own[seat.judge_id].append(seat)
    return [
        Load(
            judge=judge,
            seats=len(own[judge.pk]),
            wagons=len({seat.entry_id for seat in own[judge.pk]}),
            minutes=sum(seat.section.minutes for seat in own[judge.pk]),
            limits=", ".join(_limits(judge, there)),
        )
        for judge in engaged
    ]


def _limits(judge: Judge, there: Mapping[int, int]) -> list[str]:
    """Say what the judge's own limits are, if there are any."""
    said = (
        [] if judge.max_seats is None else [_("at most {most} seats").format(most=judge.max_seats)]
    )
    return said + (
        [_("there for {minutes} minutes").format(minutes=there[judge.pk])]
        if judge.pk in there
        else []
    )


def _unkept(engaged: Iterable[Judge], seats: Sequence[SeatAt], pins: Iterable[Pin]) -> list[str]:
    """Say which seats and pins do not go together, and who sits where they are not engaged."""
    held = {judge.pk: {section.pk for section in judge.sections.all()} for judge in engaged}
    strange = {
        (seat.judge_id, seat.section_id): seat
        for seat in seats
        if seat.judge.left_at is None and seat.section_id not in held[seat.judge_id]
    }
    said = [
        _("{judge} sits in {section} and is not engaged for it.").format(
            judge=seat.judge, section=seat.section.name
        )
        for seat in strange.values()
    ]
    places: dict[tuple[int, int], set[int]] = defaultdict(set)
    for seat in seats:
        places[seat.judge_id, seat.entry_id].add(seat.section_id)
    at_entry = {seat.entry_id for seat in seats}
    for pin in pins:
        sits = places[pin.judge_id, pin.entry_id]
        kept = bool(sits) if pin.section_id is None else pin.section_id in sits
        if pin.judge.left_at is None and pin.entry_id in at_entry and kept != pin.must:
            does = _("{pin}, and does not.") if pin.must else _("{pin}, and does.")
            said.append(does.format(pin=pin))
    return said


def _comparisons(sections: Iterable[Section], seats: Iterable[SeatAt]) -> list[Comparison]:
    at: dict[int, dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
    for seat in seats:
        at[seat.section_id][seat.entry_id].add(seat.judge.code)
    return [_comparison(section, at[section.pk]) for section in sections]


def _comparison(section: Section, by_entry: Mapping[int, set[str]]) -> Comparison:
    """Join judges who share a wagon; more than one group left cannot be compared."""
    groups: list[set[str]] = []
    for codes in by_entry.values():
        touching = [group for group in groups if group & codes]
        groups = [group for group in groups if not group & codes]
        groups.append(codes.union(*touching))
    if len(groups) <= 1:
        return Comparison(section.name, True)
    apart = _(" and ").join(", ".join(sorted(group)) for group in sorted(groups, key=sorted))
    return Comparison(section.name, False, apart)


def _wrong(
    rows: Iterable[Row], seats: Iterable[SeatAt], conflicts: Iterable[Conflict]
) -> list[str]:
    """Say what happened after the draw that the panel does not know of."""
    seated = {(seat.judge_id, seat.entry_id) for seat in seats}
    return [
        *(
            _("{judge} sits at {entry} in spite of a conflict ({kind}).").format(
                judge=conflict.judge, entry=conflict.entry.called, kind=conflict.get_kind_display()
            )
            for conflict in conflicts
            if (conflict.judge_id, conflict.entry_id) in seated
        ),
        *(
            ngettext(
                "{entry} lacks {n} look.",
                "{entry} lacks {n} looks.",
                sum(cell.lacking for cell in row.cells),
            ).format(entry=row.entry.called, n=sum(cell.lacking for cell in row.cells))
            for row in rows
            if any(cell.lacking for cell in row.cells)
        ),
    ]
