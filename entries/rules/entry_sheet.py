"""The columns of a list of entries, as it goes out and as it comes in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from entries.rules.eligibility import CREW_MAX
from entries.rules.rig import FACTS, WORDS


@dataclass(frozen=True)
class Column:
    """One column: its key, the heading people read, and what an import does with it."""

    key: str
    heading: str
    read: bool = True
    needed: bool = False


def crew_keys(number: int) -> tuple[str, str]:
    """Return the keys of the name and the part of one of the crew, from 1."""
    return f"crew_{number}", f"crew_{number}_part"


def _crew_columns() -> list[Column]:
    columns = []
    for number in range(1, CREW_MAX + 1):
        name, part = crew_keys(number)
        columns.append(Column(name, f"Crew {number}", needed=number <= 2))
        columns.append(Column(part, f"Crew {number} part", needed=number <= 2))
    return columns


COLUMNS: tuple[Column, ...] = (
    Column("number", "No.", read=False),
    Column("wagon_name", "Wagon", needed=True),
    Column("outfit", "Outfit"),
    Column("exhibitor_name", "Exhibitor", needed=True),
    Column("exhibitor_email", "E-mail", needed=True),
    *(Column(fact, WORDS[fact], needed=True) for fact in FACTS),
    Column("classes", "Classes", needed=True),
    *_crew_columns(),
    Column("under_age", "Crew under age"),
    Column("history", "History"),
    Column("frontage_ft", "Camp frontage, ft"),
    Column("depth_ft", "Camp depth, ft"),
    Column("spot", "Camp spot", read=False),
    Column("dietary_notes", "Dietary notes"),
    Column("emergency_name", "Emergency contact"),
    Column("emergency_phone", "Emergency phone"),
    Column("status", "Status", read=False),
    Column("status_reason", "Reason", read=False),
    Column("lacking", "Still lacking", read=False),
    Column("entered_at", "Entered at", read=False),
)
READ = tuple(column for column in COLUMNS if column.read)
HEADINGS = {column.key: column.heading for column in COLUMNS}


def _bare(heading: str) -> str:
    return "".join(sign for sign in heading.casefold() if sign.isalnum())


_BY_HEADING = {
    **{_bare(column.key): column for column in COLUMNS},
    **{_bare(column.heading): column for column in COLUMNS},
}


@dataclass(frozen=True)
class Matched:
    """What the headings of a list mean: a place for each column, and what is odd about them."""

    places: Mapping[str, int]
    missing: tuple[str, ...]
    unknown: tuple[str, ...]
    twice: tuple[str, ...]
    not_read: tuple[str, ...]


def matched(headings: Sequence[str]) -> Matched:
    """Find our columns among a list's headings, whatever their order, capitals and blanks.

    Parameters
    ----------
    headings : sequence of str
        The first row of the list.

    Returns
    -------
    Matched
        Places from 0 of the columns that are read; headings that lack, are not ours, or stand
        twice; ours that an import leaves to the office.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> found = matched(["E-mail", "WAGON ", "Shoe size", "No."])
    >>> dict(found.places), found.unknown, found.not_read
    ({'exhibitor_email': 0, 'wagon_name': 1}, ('Shoe size',), ('No.',))
    """
    places: dict[str, int] = {}
    unknown, twice, not_read = [], [], []
    for place, heading in enumerate(headings):
        column = _BY_HEADING.get(_bare(heading))
        if not heading.strip():
            continue
        if column is None:
            unknown.append(heading.strip())
        elif not column.read:
            not_read.append(column.heading)
        elif column.key in places:
            twice.append(column.heading)
        else:
            places[column.key] = place
    missing = tuple(c.heading for c in READ if c.needed and c.key not in places)
    return Matched(places, missing, tuple(unknown), tuple(twice), tuple(not_read))
