"""What can only be seen when rows stand side by side: codes twice, rows that meet on a rig."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from entries.rules.rig import Rig
from judging.rules.cards.card_fields import Faults
from judging.rules.cards.card_values import CriterionFile, SectionFile
from judging.rules.cards.condition import every_rig, places_met
from showrun.language import gettext as _


@dataclass(frozen=True)
class Placed:
    """A section with its place in the file; `copied` when the file only takes it."""

    section: SectionFile
    place: str
    copied: bool = False

    def key_at(self, key: str) -> str:
        """Return the place of one of the section's own keys."""
        return f"{self.place}.take" if self.copied else f"{self.place}.{key}"

    def row_at(self, number: int, key: str = "") -> str:
        """Return the place of a row, or of one of its keys."""
        end = f".{key}" if key else ""
        return f"{self.place}.take" if self.copied else f"{self.place}.criteria.{number}{end}"


@dataclass(frozen=True)
class _Row:
    row: CriterionFile
    at: Callable[[str], str]


def note_overlaps(placed: Sequence[Placed], faults: Faults) -> None:
    """Note codes that are there twice, and rows that must not meet on a rig but do.

    Rows whose own condition is at fault are passed over: their rigs are not known.
    """
    sections: set[str] = set()
    rows: set[str] = set()
    for here in placed:
        if here.section.code in sections:
            faults.add(
                here.key_at("code"),
                _("Section code “{code}” is there twice.").format(code=here.section.code),
            )
        sections.update({here.section.code} - {""})
        for row in _rows(here):
            if row.row.code in rows:
                faults.add(
                    row.at("code"),
                    _("Criterion code “{code}” is there twice.").format(code=row.row.code),
                )
            rows.update({row.row.code} - {""})
    everything = [row for here in placed for row in _known(here, faults)]
    for group in _grouped(everything, lambda row: row.one_of):
        _note_meeting(group, "one_of", faults)
    for here in placed:
        for group in _grouped(_known(here, faults), lambda row: row.name.casefold()):
            _note_meeting(group, "name", faults)


def _rows(here: Placed) -> Iterator[_Row]:
    for number, row in enumerate(here.section.criteria):
        # Bound now, by a default value, whose type a lambda cannot name.
        yield _Row(row, lambda key, number=number: here.row_at(number, key))  # type: ignore[misc]


def _known(here: Placed, faults: Faults) -> list[_Row]:
    return [row for row in _rows(here) if here.copied or faults.clean(row.at("applies"))]


def _grouped(rows: Sequence[_Row], key: Callable[[CriterionFile], str]) -> list[list[_Row]]:
    """Rows that share a key, where there are two or more of them."""
    groups: dict[str, list[_Row]] = defaultdict(list)
    for row in rows:
        if key(row.row):
            groups[key(row.row)].append(row)
    return [group for group in groups.values() if len(group) > 1]


def _note_meeting(group: Sequence[_Row], key: str, faults: Faults) -> None:
    """Note each row that meets an earlier one of its group on some rig, and name the rig."""
    first_on: dict[int, CriterionFile] = {}
    for item in group:
        met = places_met(item.row.applies)
        meeting = next((place for place in met if place in first_on), None)
        if meeting is not None:
            rig = Rig.read(every_rig()[meeting]).in_words()
            faults.add(item.at(key), _sentence(key, item.row, first_on[meeting], rig))
        for place in met:
            first_on.setdefault(place, item.row)


def _sentence(key: str, row: CriterionFile, other: CriterionFile, rig: str) -> str:
    if key == "name":
        return _(
            "Another row of this section is named “{row}” too, and both are judged on this "
            "rig: {rig}."
        ).format(row=row.name, rig=rig)
    return _(
        "“{other}” and “{row}” stand in for each other ({one_of}), but both are judged on "
        "this rig: {rig}."
    ).format(other=other.name, row=row.name, one_of=row.one_of, rig=rig)
