"""What the form of entering and the page of details both ask for, as it was typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.http import HttpRequest

from entries.rules.particulars import faults_of_particulars, metres, read_feet
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.rules.photos import BYTES_MAX
from showrun.shows.web.number_sent import number_sent

FEET_FIELDS = {"frontage_ft": N_("Frontage"), "depth_ft": N_("Depth")}
FEET_HINTS = {
    "frontage_ft": N_("Along the camp line."),
    "depth_ft": N_("From front to back."),
}
TEXT_FIELDS = ("dietary_notes", "emergency_name", "emergency_phone")


@dataclass(frozen=True)
class FeetField:
    """One measure of the camp: what was typed, and the same in metres where it can be read."""

    name: str
    words: str
    hint: str
    value: str
    metres: str
    fault: str


@dataclass
class Typed:
    """The values as typed, and what is wrong with them."""

    values: dict[str, str]
    faults: dict[str, str] = field(default_factory=dict)

    @classmethod
    def read(cls, typed: Callable[[str], str]) -> Typed:
        """Read the fields from a form."""
        return cls({name: typed(name) for name in (*FEET_FIELDS, *TEXT_FIELDS)})

    def meant(self) -> dict[str, Any]:
        """Return what the values mean; notes what cannot be read among the faults."""
        meant: dict[str, Any] = {name: self.values[name].strip() for name in TEXT_FIELDS}
        for name in FEET_FIELDS:
            try:
                meant[name] = read_feet(self.values[name])
            except ValueError as unread:
                meant[name] = None
                self.faults[name] = str(unread)
        return meant

    def check(self) -> dict[str, Any]:
        """Return what the values mean, with everything the rules say against them noted."""
        meant = self.meant()
        self.faults = {**faults_of_particulars(**meant), **self.faults}
        return meant

    def feet_fields(self) -> list[FeetField]:
        """The two measures of the camp, for the page."""
        return [
            FeetField(
                name,
                _(words),
                _(FEET_HINTS[name]),
                self.values[name],
                _in_metres(self.values[name]),
                self.faults.get(name, ""),
            )
            for name, words in FEET_FIELDS.items()
        ]


def _in_metres(typed: str) -> str:
    try:
        feet = read_feet(typed)
    except ValueError:
        return ""
    return "" if feet is None else metres(feet)


def sent_photo(request: HttpRequest) -> bytes | None:
    """Return the photo that came with the form; of one too large, enough to be refused."""
    file = request.FILES.get("photo")
    return file.read(BYTES_MAX + 1) if file else None


def sent_version(typed: str) -> int | None:
    """Return the version of the waiver that stood on the page."""
    return number_sent(typed) or None
