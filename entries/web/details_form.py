"""The page of an entry's details: what is kept, what was typed, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import QueryDict

from entries.actions.change_entry import OF_THE_WAGON
from entries.models import Animal, Entry, EntryTerms
from entries.queries.lacking import demands_of, waiver_of
from entries.rules.animal_papers import (
    ANIMALS_MAX,
    CERTIFICATE,
    EIA,
    AnimalFacts,
    oldest_date,
    read_date,
)
from entries.web.typed import FEET_FIELDS, TEXT_FIELDS, Typed, sent_version
from showrun.language import gettext as _
from showrun.shows.web.number_sent import number_sent

ANIMALS_BY_HITCH = {"team": 2, "four_up": 4, "six_up": 6}
ROOM_FOR_MORE = 2  # empty lines below those filled
PARTS = {"name": "name", "kind": "kind", "description": "description", EIA: "eia"}
PARTS[CERTIFICATE] = "certificate"


@dataclass(frozen=True)
class AnimalRow:
    """One line of the list of animals as typed."""

    number: int
    row: str = ""
    name: str = ""
    kind: str = Animal.Kind.HORSE.value
    description: str = ""
    eia: str = ""
    certificate: str = ""
    faults: Mapping[str, str] | None = None

    @property
    def empty(self) -> bool:
        """Whether nothing is said of an animal here."""
        return not (self.name or self.description or self.eia or self.certificate)

    def fault_of(self, part: str) -> str:
        """Return what is wrong with a part of the line."""
        return (self.faults or {}).get(f"animal_{part}_{self.number}", "")

    @property
    def fault_lines(self) -> list[tuple[str, str]]:
        """What is wrong with the line, each with the id of its sentence."""
        return [
            (f"animal_{part}_{self.number}-fault", words)
            for part in PARTS.values()
            if (words := self.fault_of(part))
        ]


class DetailsForm:
    """Holds what is kept, or what was typed while something in it is wrong."""

    def __init__(self, entry: Entry, terms: EntryTerms, sent: QueryDict | None = None) -> None:
        self.entry, self.terms, self.sent = entry, terms, sent
        self.faults: dict[str, str] = {}
        self.wagon = {name: self._value(name) for name in OF_THE_WAGON}
        self.typed = Typed.read(self._value)

    def _value(self, name: str) -> str:
        if self.sent is not None and name in self.sent:
            return str(self.sent[name])
        kept = getattr(self.entry, name)
        return "" if kept is None else str(kept)

    def _sent(self, name: str) -> str:
        return str(self.sent.get(name, "")) if self.sent is not None else ""

    @property
    def waiver_agreed_by(self) -> str:
        """The name typed under the waiver."""
        return self._sent("waiver_agreed_by")

    @property
    def waiver_open(self) -> bool:
        """Whether the show's waiver, or a new version of it, is not agreed to."""
        asked = waiver_of(self.terms)
        return bool(asked) and self.entry.waiver_version != asked

    def change(self) -> dict[str, Any]:
        """Return what is to be changed, as the verb takes it; what cannot be read is a fault."""
        meant = self.typed.check() | self.wagon
        self.faults |= self.typed.faults
        shown = (*OF_THE_WAGON, *FEET_FIELDS, *TEXT_FIELDS)
        given = self.sent if self.sent is not None else {}
        return {
            "changes": {name: meant[name] for name in shown if name in given},
            "waiver_version": sent_version(self._sent("waiver_version")),
            "waiver_agreed_by": self.waiver_agreed_by,
            "remove_photo": self._sent("remove_photo") == "yes",
            "animals": self._animals(),
        }

    # --- Animals --------------------------------------------------------------------------

    def _animals(self) -> list[AnimalFacts] | None:
        """Return the lines that say something; None where the page had no list."""
        if self.sent is None or "animal_name_1" not in self.sent:
            return None
        # Faults are told by the line's number on the page, so lines left empty in between count.
        self.lines = [row.number for row in self._typed_rows() if not row.empty]
        return [self._facts(row) for row in self._typed_rows() if not row.empty]

    def _facts(self, row: AnimalRow) -> AnimalFacts:
        return AnimalFacts(
            name=row.name,
            kind=row.kind,
            description=row.description,
            eia_tested_on=self._date(f"animal_eia_{row.number}", row.eia),
            certificate_on=self._date(f"animal_certificate_{row.number}", row.certificate),
            row=number_sent(row.row) or None,
        )

    def _date(self, name: str, typed: str) -> date | None:
        try:
            return read_date(typed)
        except ValueError as unread:
            self.faults[name] = str(unread)
            return None

    def _typed_rows(self) -> list[AnimalRow]:
        numbers = range(1, ANIMALS_MAX + 1)
        return [
            AnimalRow(
                number=n,
                row=self._sent(f"animal_row_{n}"),
                name=self._sent(f"animal_name_{n}").strip(),
                kind=self._sent(f"animal_kind_{n}") or Animal.Kind.HORSE.value,
                description=self._sent(f"animal_description_{n}").strip(),
                eia=self._sent(f"animal_eia_{n}").strip(),
                certificate=self._sent(f"animal_certificate_{n}").strip(),
                faults=self.faults,
            )
            for n in numbers
            if f"animal_name_{n}" in (self.sent or {})
        ]

    def animal_rows(self) -> list[AnimalRow]:
        """The lines of the page: those kept or typed, and room for more."""
        if self.sent is not None:
            return self._typed_rows()
        kept = [
            AnimalRow(
                number=n,
                row=str(animal.pk),
                name=animal.name,
                kind=animal.kind,
                description=animal.description,
                eia=animal.eia_tested_on.isoformat() if animal.eia_tested_on else "",
                certificate=animal.certificate_on.isoformat() if animal.certificate_on else "",
            )
            for n, animal in enumerate(self.entry.animals.all(), start=1)
        ]
        usual = ANIMALS_BY_HITCH.get(self.entry.hitch, 2)
        lines = min(ANIMALS_MAX, max(usual, len(kept) + ROOM_FOR_MORE))
        return kept + [AnimalRow(number=n) for n in range(len(kept) + 1, lines + 1)]

    @property
    def kinds(self) -> list[tuple[str, str]]:
        """What an animal may be."""
        return [(kind.value, _(kind.label).capitalize()) for kind in Animal.Kind]

    def oldest(self) -> dict[str, date]:
        """The oldest date each paper may carry, of those the show asks for."""
        asked = demands_of(self.entry.show, self.terms)
        days = {"eia": asked.eia_max_age_days, "certificate": asked.certificate_max_age_days}
        return {
            paper: oldest_date(asked.first_day, most)
            for paper, most in days.items()
            if most is not None
        }

    # --- What is wrong --------------------------------------------------------------------

    def refuse(self, faults: Mapping[str, str]) -> None:
        """Mark the fields at fault; a fault of an animal stands at its line on the page."""
        lines = getattr(self, "lines", [])
        for name, sentence in faults.items():
            head, _, number = name.rpartition("_")
            of_animal = head.startswith("animal_") and int(number) <= len(lines)
            field = f"{head}_{lines[int(number) - 1]}" if of_animal else name
            self.faults.setdefault(field, sentence)
        self.typed.faults = self.faults

    def fault_list(self) -> list[tuple[str, str]]:
        """The faults in the page's order, each with the id of the field it is about."""
        return sorted(self.faults.items(), key=lambda item: _place(item[0]))


def _place(field: str) -> tuple[int, int]:
    order = ("waiver_agreed_by", *OF_THE_WAGON, *FEET_FIELDS, *TEXT_FIELDS)
    if field in order:
        return order.index(field), 0
    number = field.rpartition("_")[2]
    return (len(order), int(number)) if number.isdigit() else (len(order) + 1, 0)
