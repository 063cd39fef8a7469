"""Check-in as the office's tablet shows it: who is here, who is to come, what is still to do."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from entries.models import Animal, CheckIn, Entry, EntryTerms
from entries.queries.entries import free_spots
from entries.queries.lacking import Lack, lacking_of
from entries.queries.ledger import balance_of, balances_of
from entries.queries.terms import terms_of
from entries.rules.animal_papers import CERTIFICATE, EIA, EQUINE, PAPERS, paper_faults
from entries.rules.gate import Tick, tick_words
from entries.rules.places import Status
from showrun.language import gettext as _
from showrun.shows.models import Show


@dataclass(frozen=True)
class Step:
    """One tick of a wagon: when it was made, and whether it is made here or animal by animal."""

    code: str
    words: str
    at: datetime | None
    by_animal: bool = False


@dataclass(frozen=True)
class GateLine:
    """A wagon in the list."""

    entry: Entry
    steps: tuple[Step, ...]
    note: str
    owes_cents: int

    @property
    def arrived_at(self) -> datetime | None:
        """When it came; None while it is expected."""
        return self.steps[0].at

    @property
    def gone(self) -> bool:
        """Whether it is scratched."""
        return bool(self.entry.status == Status.SCRATCHED)

    @property
    def to_do(self) -> list[str]:
        """What is not ticked off yet, in words."""
        return [step.words for step in self.steps if step.at is None]


@dataclass(frozen=True)
class Gate:
    """The whole list with its counts."""

    lines: tuple[GateLine, ...]

    @property
    def arrived(self) -> int:
        """How many wagons are here."""
        return sum(line.arrived_at is not None and not line.gone for line in self.lines)

    @property
    def expected(self) -> int:
        """How many are still to come."""
        return sum(line.arrived_at is None and not line.gone for line in self.lines)

    @property
    def scratched(self) -> int:
        """How many had a number and left the show."""
        return sum(line.gone for line in self.lines)


@dataclass(frozen=True)
class PaperDates:
    """A paper of an animal: the date typed, and the show's rule beside it."""

    words: str
    dated: object
    rule: str


@dataclass(frozen=True)
class AnimalLine:
    """An animal at the gate: its papers' dates as typed, the show's rule, who saw them."""

    animal: Animal
    papers: tuple[PaperDates, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True)
class GateCard:
    """All that is looked at when one wagon comes in."""

    line: GateLine
    animals: tuple[AnimalLine, ...]
    animal_note: str
    lacks: tuple[Lack, ...]
    free: tuple[int, ...]


def gate_of(show: Show) -> Gate:
    """Return the confirmed wagons by number, and those with a number that left the show."""
    entries = Entry.objects.filter(
        show=show,
        number__isnull=False,
        status__in=[Status.CONFIRMED.value, Status.SCRATCHED.value],
    )
    entries = entries.select_related("spot", "exhibitor").prefetch_related("animals")
    there = {row.entry_id: row for row in CheckIn.objects.filter(entry__show=show)}
    owed = balances_of(show)
    return Gate(
        tuple(
            _line(entry, there.get(entry.pk), owed.get(entry.pk, 0))
            for entry in entries.order_by("number")
        )
    )


def gate_card(entry: Entry) -> GateCard:
    """Return one wagon with its animals, what it lacks and the spots it could have."""
    terms = terms_of(entry.show)
    row = CheckIn.objects.filter(entry=entry).first()
    animals = list(entry.animals.select_related("papers_seen_by"))
    asked = {EIA: terms.eia_max_age_days, CERTIFICATE: terms.certificate_max_age_days}
    lines = []
    for animal in animals:
        dates = {EIA: animal.eia_tested_on, CERTIFICATE: animal.certificate_on}
        wanted = {
            paper: most
            for paper, most in asked.items()
            if paper == CERTIFICATE or animal.kind in EQUINE
        }
        faults = paper_faults(
            kind=animal.kind,
            eia_tested_on=animal.eia_tested_on,
            certificate_on=animal.certificate_on,
            first_day=entry.show.starts_on,
            eia_max_age_days=terms.eia_max_age_days,
            certificate_max_age_days=terms.certificate_max_age_days,
        )
        lines.append(
            AnimalLine(
                animal,
                tuple(
                    PaperDates(PAPERS[paper], dates[paper], _rule(most))
                    for paper, most in wanted.items()
                    if most is not None or dates[paper] is not None
                ),
                tuple(fault.words for fault in faults),
            )
        )
    return GateCard(
        line=_line(entry, row, balance_of(entry)),
        animals=tuple(lines),
        animal_note=terms.animal_note,
        lacks=_lacks(entry, terms, listed=bool(animals)),
        free=tuple(free_spots(entry.show).values_list("number", flat=True)),
    )


def _lacks(entry: Entry, terms: EntryTerms, *, listed: bool) -> tuple[Lack, ...]:
    """Return what is lacking; what an animal's paper lacks stands beside the animal."""
    lacks = lacking_of(entry, terms)
    return tuple(lack for lack in lacks if not (listed and lack.where.startswith("animal_")))


def _rule(most: int | None) -> str:
    if most is None:
        return _("this show does not ask for it")
    days = f"{most} day{'' if most == 1 else 's'}"
    return f"this show asks for at most {days} before its first day"


def _line(entry: Entry, row: CheckIn | None, owes: int) -> GateLine:
    animals = list(entry.animals.all())
    steps = []
    for tick in Tick:
        at = getattr(row, f"{tick.value}_at") if row else None
        by_animal = tick is Tick.PAPERS and bool(animals)
        if by_animal:
            seen = [one.papers_seen_at for one in animals]
            # The list may have grown since: papers of an animal added later are not seen.
            at = None if None in seen else max(filter(None, seen))
        words = tick_words(tick)
        steps.append(Step(tick.value, words[:1].upper() + words[1:], at, by_animal))
    return GateLine(entry, tuple(steps), row.note if row else "", owes)
