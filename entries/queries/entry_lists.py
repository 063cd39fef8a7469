"""A show's entries as the rows of a list, and what a list read from a file would do."""

from __future__ import annotations

from dataclasses import dataclass

from entries.models import Entry, EntryImport, EntryTerms
from entries.queries.entries import entries_of, places_left
from entries.queries.lacking import lacking_of
from entries.queries.terms import terms_of
from entries.rules.eligibility import CREW_ROLES, same_name
from entries.rules.entry_rows import EntryRow, RowFault, faults_of_rows, read_row
from entries.rules.entry_sheet import COLUMNS, Matched, crew_keys, matched
from entries.rules.places import Status
from entries.rules.rig import FACTS, WORDS
from entries.rules.sheet_writing import Cell
from showrun.errors import NotFound
from showrun.language import gettext as _
from showrun.shows.models import Person, Show

HEADING_ROW = [column.heading for column in COLUMNS]
TEMPLATE_ROW = [column.heading for column in COLUMNS if column.read]


def _order(entry: Entry) -> tuple[int, int]:
    return (entry.number or 10**9, entry.pk)


def _cells_of(entry: Entry, terms: EntryTerms) -> dict[str, Cell]:
    rig = entry.rig.facts()
    cells: dict[str, Cell] = {
        "number": entry.number,
        "wagon_name": entry.wagon_name,
        "outfit": entry.outfit,
        "exhibitor_name": entry.exhibitor.name,
        "exhibitor_email": entry.exhibitor.email,
        **{fact: WORDS[rig[fact]] for fact in FACTS},
        "classes": "; ".join(sorted(taken.show_class.code for taken in entry.classes.all())),
        "history": entry.history,
        "frontage_ft": entry.frontage_ft,
        "depth_ft": entry.depth_ft,
        "spot": entry.spot.number if entry.spot else None,
        "dietary_notes": entry.dietary_notes,
        "emergency_name": entry.emergency_name,
        "emergency_phone": entry.emergency_phone,
        "status": entry.status,
        "status_reason": entry.status_reason,
        "lacking": "; ".join(lack.what for lack in lacking_of(entry, terms)),
        "entered_at": entry.entered_at.astimezone(entry.show.tz).strftime("%Y-%m-%d %H:%M"),
    }
    crew = list(enumerate(entry.crew.all(), start=1))
    cells["under_age"] = "; ".join(str(number) for number, member in crew if member.under_age)
    for number, member in crew:
        name, part = crew_keys(number)
        cells |= {name: member.name, part: CREW_ROLES[member.role]}
    return cells


def entry_rows_of(show: Show) -> list[list[Cell]]:
    """Return the headings and a row for each entry: numbered ones first, then as they entered."""
    terms = terms_of(show)
    there = entries_of(show).select_related("show").prefetch_related("animals")
    rows = [_cells_of(entry, terms) for entry in sorted(there, key=_order)]
    return [[*HEADING_ROW], *([cells.get(one.key) for one in COLUMNS] for cells in rows)]


def template_notes(show: Show) -> list[list[str]]:
    """Return what may stand in each column, for the second sheet of a blank list."""
    known: dict[str, list[str]] = {
        name: [WORDS[member.value] for member in kind] for name, kind in FACTS.items()
    }
    known["classes"] = [f"{one.code} ({one.name})" for one in show.classes.all()]
    parts = ", ".join(CREW_ROLES.values())
    rows = [[_("Column"), _("Needed"), _("What may stand there")]]
    for column in COLUMNS:
        if column.read:
            said = ", ".join(known.get(column.key, []))
            said = parts if column.key.endswith("_part") else said
            if column.key == "under_age":
                said = _(
                    "Numbers of the crew who are, such as 3; 4. Give their initials as the name."
                )
            if column.key == "classes":
                said = _("One or more of these codes, parted by semicolons: {said}").format(
                    said=said
                )
            rows.append([column.heading, "yes" if column.needed else "", said])
    return rows


@dataclass(frozen=True)
class Preview:
    """What a list says, what is wrong with it, and what would come of it."""

    heads: Matched
    rows: tuple[EntryRow, ...]
    faults: tuple[RowFault, ...]
    with_place: int

    @property
    def waiting(self) -> int:
        """How many would go to the wait list."""
        return len(self.rows) - self.with_place

    def faults_at(self, line: int) -> list[RowFault]:
        """Return what is wrong with one row."""
        return [fault for fault in self.faults if fault.line == line]


def preview_of(read: EntryImport) -> Preview:
    """Judge a list against the show as it is now."""
    show = read.show
    classes = {one.code: one.name for one in show.classes.all()}
    heading, *rows = read.rows
    typed = tuple(read_row(row["line"], row["cells"], classes) for row in rows)
    there = entries_of(show).exclude(status=Status.SCRATCHED.value)
    faults = faults_of_rows(
        typed,
        known_classes=list(classes),
        entered=[(one.exhibitor.email.lower(), same_name(one.wagon_name)) for one in there],
    )
    return Preview(
        heads=matched(heading["headings"]),
        rows=typed,
        faults=tuple(faults),
        with_place=min(places_left(show), len(typed)),
    )


def list_to_take(show: Show, by: Person) -> EntryImport | None:
    """Return the list this person read last and has neither taken nor left."""
    mine = EntryImport.objects.filter(show=show, read_by=by, state=EntryImport.State.READ)
    return mine.order_by("-id").first()


def list_of(show: Show, list_id: int) -> EntryImport:
    """Return a list of the show."""
    found = EntryImport.objects.filter(show=show, pk=list_id).first()
    if found is None:
        raise NotFound(_("There is no such list in this show."))
    return found
