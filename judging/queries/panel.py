"""What is read of the panel."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from entries.models import Entry, EntryClass
from entries.rules.places import Status
from judging.models import ClassCard, Conflict, Device, Judge, Seat, Section
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
    found = judges.prefetch_related("sections", "conflicts__entry", _phones())
    return list(found.order_by("code"))


def judges_with_phones(show: Show) -> list[Judge]:
    """Return the show's judges with their phones alone."""
    judges = Judge.objects.filter(show=show).select_related("person")
    return list(judges.prefetch_related(_phones()).order_by("code"))


def _phones() -> Prefetch:
    return Prefetch("devices", queryset=Device.objects.phones())


def seats_of(show: Show) -> QuerySet[Seat]:
    """Return the seats of the panel at the entries still in the show."""
    seats = Seat.objects.filter(judge__show=show, entry__status=Status.CONFIRMED.value)
    return seats.select_related("judge__person", "entry__spot", "section")


class SeatAt(NamedTuple):
    """A seat whose judge, entry and section are shared with the other seats."""

    judge_id: int
    entry_id: int
    section_id: int
    judge: Judge
    entry: Entry
    section: Section


def shared_seats(show: Show) -> list[SeatAt]:
    """Return the same in the panel's order, each judge, entry and section read once.

    A seat's row repeats them as often as there are seats, hundreds of times in a large show.
    """
    judges = Judge.objects.filter(show=show).select_related("person").in_bulk()
    sections = Section.objects.filter(scorecard__show=show).in_bulk()
    entries = Entry.objects.confirmed().filter(show=show).in_bulk()
    return [
        SeatAt(judge, entry, section, judges[judge], entries[entry], sections[section])
        for judge, entry, section in seats_of(show).values_list(
            "judge_id", "entry_id", "section_id"
        )
    ]


def seats_in_conflict(show: Show) -> QuerySet[Seat]:
    """Return the seats whose judge is, by now, in conflict with the entry."""
    conflict = Conflict.objects.filter(judge=OuterRef("judge"), entry=OuterRef("entry"))
    return seats_of(show).filter(Exists(conflict))


def sections_to_judge(
    show: Show, cards: Iterable[ClassCard] | None = None
) -> dict[Entry, tuple[str, ...]]:
    """Return which sections each confirmed entry is judged in, by the classes it is in.

    `cards` are the show's class cards where they are at hand already.
    """
    by_class = {
        card.show_class_id: [section.code for section in card.sections.all()]
        for card in (class_cards(show) if cards is None else cards)
    }
    wanted: dict[Entry, dict[str, None]] = defaultdict(dict)
    entries = Entry.objects.confirmed().filter(show=show).in_bulk()
    pairs = EntryClass.objects.filter(entry__show=show, entry__status=Status.CONFIRMED.value)
    in_order = pairs.order_by("entry__number", "show_class__position")
    for entry_id, class_id in in_order.values_list("entry_id", "show_class_id"):
        wanted[entries[entry_id]].update(dict.fromkeys(by_class.get(class_id, ())))
    return {entry: tuple(codes) for entry, codes in wanted.items()}


def judges_needed(show: Show, cards: Iterable[ClassCard] | None = None) -> dict[str, int]:
    """Return how many judges must see each section: the most any class asks for."""
    needed: dict[str, int] = {}
    for card in class_cards(show) if cards is None else cards:
        for section in card.sections.all():
            needed[section.code] = max(needed.get(section.code, 0), card.judges_per_section)
    return needed


def engaged_by_section(show: Show) -> Counter[str]:
    """Count the judges engaged for each section, by its code, without those who have left."""
    engaged = Judge.sections.through.objects.filter(judge__show=show, judge__left_at__isnull=True)
    return Counter(engaged.order_by().values_list("section__code", flat=True))


class Miscount(NamedTuple):
    """A section of a wagon, by its number, with more or fewer judges than declared."""

    number: int | None
    section: str
    seated: int
    needed: int


def miscounts(show: Show) -> list[Miscount]:
    """Return every section of a confirmed entry that is not seen by the number declared."""
    cards = class_cards(show)
    names = {section.code: section.name for card in cards for section in card.sections.all()}
    needed = judges_needed(show, cards)
    seated = Counter(seats_of(show).values_list("entry_id", "section__code"))
    return [
        Miscount(entry.number, names[code], seated[entry.pk, code], needed[code])
        for entry, codes in sections_to_judge(show, cards).items()
        for code in codes
        if seated[entry.pk, code] != needed[code]
    ]


def panel_grid(show: Show, seats: Iterable[SeatAt] | None = None) -> PanelGrid:
    """Lay the panel out as a table; `seats` are its seats where they are at hand already."""
    codes: dict[tuple[int, int], list[str]] = defaultdict(list)
    sections: dict[int, Section] = {}
    loads: Counter[str] = Counter()
    for seat in shared_seats(show) if seats is None else seats:
        codes[seat.entry_id, seat.section_id].append(seat.judge.code)
        sections[seat.section_id] = seat.section
        loads[seat.judge.code] += 1
    order = sorted(sections.values(), key=lambda section: section.position)
    rows = [
        (entry, [sorted(codes[entry.pk, section.pk]) for section in order])
        for entry in Entry.objects.confirmed().filter(show=show)
    ]
    return PanelGrid(sections=order, rows=rows, loads=dict(sorted(loads.items())))
