"""What is asked of a panel beside looks and conflicts: seats set by hand, and limits of judges."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Entry = Hashable
Judge = Hashable
# A mapping's key type is invariant, so Any lets every dict of entries, judges or sections in.
Names = Mapping[Any, str]


@dataclass(frozen=True)
class JudgeOffer:
    """What one judge may be asked to do at this show.

    Parameters
    ----------
    judge
        The judge, any hashable value.
    sections
        Sections the judge is qualified for.
    barred
        Entries the judge is in conflict with and is never seated at.
    max_seats
        Most seats the judge takes [seats]; ``None`` for no limit.
    novice
        Whether the judge is a novice.
    max_minutes
        Most minutes of judging the judge takes [min]; ``None`` for no limit, 0 for a judge who
        is away all the time.
    """

    judge: Judge
    sections: frozenset[str]
    barred: frozenset[Entry] = frozenset()
    max_seats: int | None = None
    novice: bool = False
    max_minutes: int | None = None

    def __post_init__(self) -> None:
        if self.max_seats is not None and self.max_seats < 0:
            raise ValueError("a judge's limit of seats cannot be below zero")
        if self.max_minutes is not None and self.max_minutes < 0:
            raise ValueError("a judge's minutes cannot be below zero")

    def may_sit(self, entry: Entry, section: str) -> bool:
        """Whether the judge is qualified for the section and not in conflict with the entry."""
        return section in self.sections and entry not in self.barred


@dataclass(frozen=True)
class Pin:
    """A seat the office set by hand: the judge must sit there, or must not.

    Parameters
    ----------
    judge, entry
        Whose seat, and at which entry.
    section
        Which section; ``None`` for every section of the entry, of a judge who must sit for
        those the judge is qualified for.
    must
        ``True`` for must sit, ``False`` for must not sit.
    """

    judge: Judge
    entry: Entry
    section: str | None = None
    must: bool = True


@dataclass(frozen=True)
class Task:
    """Everything asked of one panel.

    Parameters
    ----------
    entries, entry_sections, judges, judges_per_section
        As in `assignment.draw`.
    pins
        Seats set by hand.
    novices_beside_seniors
        Whether a place with a novice needs a senior beside: of `k` looks at most `k - 1` are
        novices'.
    minutes
        Length of one look in a section [min]; without it limits of minutes cannot be kept.
    """

    entries: Sequence[Entry]
    entry_sections: Mapping[Any, tuple[str, ...]]
    judges: Sequence[JudgeOffer]
    judges_per_section: Mapping[str, int]
    pins: Sequence[Pin] = ()
    novices_beside_seniors: bool = False
    minutes: Mapping[str, int] | None = None

    def check(self) -> None:
        """Refuse what is no task: repeated names, unknown judges, sections without numbers."""
        if len(set(self.entries)) != len(self.entries):
            raise ValueError("an entry is given twice")
        known = {offer.judge for offer in self.judges}
        if len(known) != len(self.judges):
            raise ValueError("a judge is offered twice")
        if any(pin.judge not in known for pin in self.pins):
            raise ValueError("a pin is for a judge who is not offered")
        for entry in self.entries:
            self._check_sections(entry)
        if self.minutes is None and any(o.max_minutes is not None for o in self.judges):
            raise ValueError("a limit of minutes needs the sections' minutes")

    def _check_sections(self, entry: Entry) -> None:
        sections = self.entry_sections[entry]
        if len(set(sections)) != len(sections):
            raise ValueError(f"a section is given twice for entry {entry}")
        for section in sections:
            if self.judges_per_section.get(section, -1) < 0:
                raise ValueError(f"section {section} has no number of judges")
            if self.minutes is not None and self.minutes.get(section, 0) <= 0:
                raise ValueError(f"section {section} has no minutes")

    def places(self) -> list[tuple[Entry, str]]:
        """Every section of every entry, in their order."""
        return [
            (entry, section) for entry in self.entries for section in self.entry_sections[entry]
        ]

    def weight(self, section: str) -> int:
        """How long one look takes in the section [min]; 1 where no minutes are given."""
        return 1 if self.minutes is None else self.minutes[section]

    def seats_at_most(self, offer: JudgeOffer) -> int | None:
        """How many seats the judge's limits leave at best [seats]; ``None`` for no limit."""
        if offer.max_minutes is None:
            return offer.max_seats
        asked = {section for _, section in self.places()} & offer.sections
        shortest = min((self.weight(section) for section in asked), default=1)
        by_minutes = offer.max_minutes // shortest
        return by_minutes if offer.max_seats is None else min(offer.max_seats, by_minutes)

    def pinned(self) -> dict[tuple[Entry, str], set[int]]:
        """Who must sit where, as positions in the offers."""
        must: dict[tuple[Entry, str], set[int]] = {}
        position = {offer.judge: index for index, offer in enumerate(self.judges)}
        for pin in self.pins:
            if pin.must:
                for place in self.reach(pin):
                    must.setdefault(place, set()).add(position[pin.judge])
        return must

    def banned(self) -> set[tuple[Judge, Entry, str]]:
        """Where judges must not sit because the office said so."""
        return {
            (pin.judge, *place) for pin in self.pins if not pin.must for place in self.reach(pin)
        }

    def reach(self, pin: Pin) -> list[tuple[Entry, str]]:
        """The places a pin speaks of; one of a judge who holds no section there means them all."""
        every = self.entry_sections.get(pin.entry, ()) if pin.entry in self.entries else ()
        if pin.section is not None:
            return [(pin.entry, pin.section)] if pin.section in every else []
        held = next(offer.sections for offer in self.judges if offer.judge == pin.judge)
        chosen = [section for section in every if section in held] if pin.must else every
        return [(pin.entry, section) for section in chosen or every]
