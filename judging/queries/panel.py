"""What is read of the panel."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet

from entries.models import Entry, EntryClass
from entries.queries import confirmed_entries
from entries.rules.places import Status
from judging.models import Conflict, Judge, Seat, Section
from judging.queries.cards import class_cards
from showrun.shows.models import Show


@dataclass(frozen=True)
class PanelGrid:
    """Entries down, sections across, judges' codes in the fields."""

    sections: list[Section]
    rows: list[tuple[Entry, list[list[str]]]]
    loads: dict[str, int]


def judges_of(show: Show) -> list[Judge]:
    """Return the show's judges with their sections, conflicts and phones."""
    judges = Judge.objects.filter(show=show).select_related("person")
    return list(judges.prefetch_related("sections", "conflicts__entry", "devices").order_by("code"))


def seats_of(show: Show) -> QuerySet[Seat]:
    """Return the seats of the panel at the entries still in the show."""
    seats = Seat.objects.filter(judge__show=show, entry__status=Status.CONFIRMED.value)
    return seats.select_related("judge__person", "entry__spot", "section")


def seats_in_conflict(show: Show) -> QuerySet[Seat]:
    """Return the seats whose judge is, by now, in conflict with the entry."""
    conflict = Conflict.objects.filter(judge=OuterRef("judge"), entry=OuterRef("entry"))
    return seats_of(show).filter(Exists(conflict))


def sections_to_judge(show: Show) -> dict[Entry, tuple[str, ...]]:
    """Return which sections each confirmed entry is judged in, by the classes it is in."""
    by_class = {
        card.show_class_id: [section.code for section in card.sections.all()]
        for card in class_cards(show)
    }
    wanted: dict[Entry, dict[str, None]] = defaultdict(dict)
    pairs = EntryClass.objects.filter(entry__show=show, entry__status=Status.CONFIRMED.value)
    for pair in pairs.select_related("entry").order_by("entry__number", "show_class__position"):
        wanted[pair.entry].update(dict.fromkeys(by_class.get(pair.show_class_id, ())))
    return {entry: tuple(codes) for entry, codes in wanted.items()}


def judges_needed(show: Show) -> dict[str, int]:
    """Return how many judges must see each section: the most any class asks for."""
    needed: dict[str, int] = {}
    for card in class_cards(show):
        for section in card.sections.all():
            needed[section.code] = max(needed.get(section.code, 0), card.judges_per_section)
    return needed


def panel_grid(show: Show) -> PanelGrid:
    """Lay the panel out as a table."""
    codes: dict[tuple[int, int], list[str]] = defaultdict(list)
    sections: dict[int, Section] = {}
    loads: Counter[str] = Counter()
    for seat in seats_of(show):
        codes[seat.entry_id, seat.section_id].append(seat.judge.code)
        sections[seat.section_id] = seat.section
        loads[seat.judge.code] += 1
    order = sorted(sections.values(), key=lambda section: section.position)
    rows = [
        (entry, [sorted(codes[entry.pk, section.pk]) for section in order])
        for entry in confirmed_entries(show)
    ]
    return PanelGrid(sections=order, rows=rows, loads=dict(sorted(loads.items())))
