"""The terms of entering as the office types them: what is written, what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from entries.models import EntryTerms
from entries.rules.money_words import dollars, read_dollars
from entries.rules.refunds import Step
from entries.rules.terms import MOST_STEPS, Terms
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.models import Show
from showrun.shows.rules.wall_clock import reason_against_hour

MOMENTS = ("opens_at", "closes_at", "crew_frozen_at")
MONEY = ("entry_fee_cents", "deposit_cents", "travel_cents")
COUNTS = ("entry_cap", "promotion_hours", "eia_max_age_days", "certificate_max_age_days")
TEXTS = ("refund_terms", "waiver_text", "animal_note")
TICKS = ("animals_asked", "emergency_asked", "camp_asked", "names_judges")
# Label and hint of each field, in the form's order.
ASKED: dict[str, tuple[str, str]] = {
    "entry_cap": (N_("Places"), N_("How many wagons the show takes. All others wait, in order.")),
    "opens_at": (N_("Entries open"), N_("Empty: they are open.")),
    "closes_at": (N_("Entries close"), N_("Empty: the day before the show.")),
    "promotion_hours": (
        N_("Hours to take up an offered place"),
        N_(
            "A free place is then offered to the first in line by itself, and goes on to the next "
            "when the hours are over. Empty: the office promotes by hand."
        ),
    ),
    "entry_fee_cents": (
        N_("Entry fee"),
        N_("In dollars, for those who enter or get a place from now on."),
    ),
    "deposit_cents": (N_("Deposit"), N_("In dollars; held till after the show.")),
    "travel_cents": (N_("Travel money"), N_("In dollars; paid to each wagon that came.")),
    "refund_steps": (
        N_("How much of the fee comes back"),
        N_("To whoever withdraws up to and including each day. After the last day nothing does."),
    ),
    "refund_terms": (
        N_("Refunds in your own words"),
        N_("Stands on the entry form. Not required."),
    ),
    "waiver_text": (
        N_("Waiver"),
        N_("Everybody who enters must agree to it. Empty: none is asked."),
    ),
    "animals_asked": (
        N_("Animals are named"),
        N_("Each horse or mule that comes, with its papers."),
    ),
    "eia_max_age_days": (
        N_("EIA test, at most this old"),
        N_("In days before the show starts. Empty: not asked."),
    ),
    "certificate_max_age_days": (
        N_("Veterinary certificate, at most this old"),
        N_("In days before the show starts. Empty: not asked."),
    ),
    "animal_note": (
        N_("About animals, in your own words"),
        N_("Stands beside the list of animals."),
    ),
    "emergency_asked": (N_("Emergency contact"), N_("Somebody to call, with a telephone number.")),
    "camp_asked": (N_("Size of the camp"), N_("Frontage and depth, in feet.")),
    "crew_frozen_at": (
        N_("Crew lists freeze"),
        N_("After that only the office changes them, and says why. Empty: when judging starts."),
    ),
    "names_judges": (
        N_("Feedback sheets name the judges"),
        N_("Otherwise judges stand as letters."),
    ),
}


@dataclass(frozen=True)
class Field:
    """One field of the form, ready to be drawn."""

    name: str
    kind: str
    label: str
    hint: str
    value: str
    fault: str


@dataclass(frozen=True)
class StepRow:
    """One line of the refund steps as typed."""

    number: int
    until: str
    share: str


class TermsForm:
    """Keeps everything typed; reading it and the rules say what is wrong, one message per field."""

    def __init__(self, show: Show, terms: EntryTerms, sent: Mapping[str, str] | None) -> None:
        self.show = show
        self.faults: dict[str, str] = {}
        self.typed = _stored(show, terms) if sent is None else _sent(sent)

    def read(self) -> Terms | None:
        """Return the terms typed, or None with the faults marked."""
        values: dict[str, Any] = {name: self.typed[name] for name in TEXTS}
        values |= {name: bool(self.typed[name]) for name in TICKS}
        readers = [(MOMENTS, self._moment), (MONEY, _cents), (COUNTS, _count)]
        for names, reader in readers:
            for name in names:
                values[name] = self._try(name, reader)
        values["refund_steps"] = self._try("refund_steps", lambda _typed: self._steps())
        if values["entry_cap"] is None:
            self.faults.setdefault("entry_cap", _("How many places are there?"))
        return None if self.faults else Terms(**values)

    def refuse(self, faults: Mapping[str, str]) -> None:
        """Mark the fields a rule found at fault."""
        self.faults |= faults

    @property
    def fields(self) -> dict[str, Field]:
        """Every field by its name."""
        return {
            name: Field(
                name,
                "datetime-local" if name in MOMENTS else "text",
                _(label),
                _(hint),
                self.typed.get(name, ""),
                self.faults.get(name, ""),
            )
            for name, (label, hint) in ASKED.items()
        }

    def step_rows(self) -> list[StepRow]:
        """All lines of the refund steps."""
        return [
            StepRow(n, self.typed[f"step_until_{n}"], self.typed[f"step_share_{n}"])
            for n in range(1, MOST_STEPS + 1)
        ]

    def fault_list(self) -> list[tuple[str, str]]:
        """The faults in the form's order, each with the id of the field it is about."""
        found = sorted(self.faults.items(), key=lambda item: list(ASKED).index(item[0]))
        return [("step_until_1" if n == "refund_steps" else n, words) for n, words in found]

    def _try(self, name: str, reader: Any) -> Any:
        try:
            return reader(self.typed.get(name, "").strip())
        except ValueError as fault:
            self.faults[name] = str(fault)
            return None

    def _moment(self, text: str) -> datetime | None:
        if not text:
            return None
        try:
            wall = datetime.fromisoformat(text).replace(tzinfo=None)
        except ValueError:
            raise ValueError("A day and an hour, please.") from None
        there = wall.replace(tzinfo=self.show.tz)
        if never := reason_against_hour(there):
            raise ValueError(never)
        return there

    def _steps(self) -> tuple[Step, ...]:
        return tuple(_step(row) for row in self.step_rows() if row.until or row.share)


def _step(row: StepRow) -> Step:
    try:
        until = date.fromisoformat(row.until)
    except ValueError:
        raise ValueError(f"Step {row.number} needs its last day.") from None
    share = row.share.removesuffix("%").strip()
    if not (share.isascii() and share.isdecimal() and len(share) <= 3 and int(share) <= 100):
        raise ValueError(f"Step {row.number} needs a share from 0 to 100 percent.")
    return Step(until, int(share))


def _cents(text: str) -> int:
    if not text.removeprefix("$").strip(" 0."):
        return 0
    return read_dollars(text)


def _count(text: str) -> int | None:
    if not text:
        return None
    if not (text.isascii() and text.isdecimal() and len(text) <= 6):
        raise ValueError("A whole number, please.")
    return int(text)


def _sent(sent: Mapping[str, str]) -> dict[str, str]:
    steps = [f"step_{part}_{n}" for n in range(1, MOST_STEPS + 1) for part in ("until", "share")]
    names = (*MOMENTS, *MONEY, *COUNTS, *TEXTS, *TICKS, *steps)
    return {name: sent.get(name, "") for name in names}


def _stored(show: Show, terms: EntryTerms) -> dict[str, str]:
    typed = {
        name: value.astimezone(show.tz).strftime("%Y-%m-%dT%H:%M")
        for name in MOMENTS
        if (value := getattr(terms, name))
    }
    typed["entry_fee_cents"] = dollars(show.entry_fee_cents)
    typed |= {name: dollars(getattr(terms, name)) for name in MONEY[1:]}
    typed["entry_cap"], typed["refund_terms"] = str(show.entry_cap), show.refund_terms
    for name in (*COUNTS[1:], *TEXTS[1:]):
        value = getattr(terms, name)
        typed[name] = "" if value is None else str(value)
    typed |= {name: "1" for name in TICKS if getattr(terms, name)}
    for n, step in enumerate(terms.refund_steps[:MOST_STEPS], start=1):
        typed[f"step_until_{n}"], typed[f"step_share_{n}"] = (
            str(step["until"]),
            str(step["share_percent"]),
        )
    return _sent(typed)
