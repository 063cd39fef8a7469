"""The entry form: what was typed, what is wrong with it, and what it means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms

from entries.actions.agree_to_waiver import agreement_fault
from entries.models import EntryTerms
from entries.rules.eligibility import CREW_MAX, CREW_MIN, CREW_ROLES, HEAD_COOK, faults_of_entry
from entries.rules.rig import FACTS, faults_of_rig
from entries.web.rig_choices import Choice, Fact, as_sentence, rig_questions
from entries.web.typed import Typed, sent_version
from showrun.language import gettext as _
from showrun.shows.models import ShowClass

USUAL_ROLES = {1: HEAD_COOK, 2: "cook"}
# The form's order, for the list of faults.
ORDER = (
    *("wagon_name", "outfit", "classes", "photo", "rig", *FACTS, "crew", "history"),
    *("frontage_ft", "depth_ft", "dietary_notes", "emergency_name", "emergency_phone"),
    "waiver_agreed_by",
)


@dataclass(frozen=True)
class CrewRow:
    """One line of the crew list as typed."""

    number: int
    name: str
    role: str
    minor: bool


class EntryForm(forms.Form):
    """Keeps everything typed; the rules say what is wrong, one message per field."""

    wagon_name = forms.CharField(required=False)
    outfit = forms.CharField(required=False)
    history = forms.CharField(required=False)

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        classes: Iterable[ShowClass],
        terms: EntryTerms,
        wagons_entered: Iterable[str] = (),
    ) -> None:
        super().__init__(data)
        self.show_classes = list(classes)
        self.terms = terms
        self.wagons_entered = list(wagons_entered)
        self.particulars = Typed.read(lambda name: str(self.data.get(name, "")))
        # Faults by field: those of this form, and those a rule found on taking the entry.
        self.faults: dict[str, str] = {}

    def _typed(self, name: str) -> str:
        return str(self.data.get(name, "")).strip()

    @property
    def rig(self) -> dict[str, str]:
        """The facts chosen so far."""
        return {name: self._typed(name) for name in FACTS}

    @property
    def chosen_classes(self) -> list[str]:
        """Codes of the classes ticked."""
        getlist = getattr(self.data, "getlist", None)
        return list(getlist("classes")) if getlist else []

    @property
    def crew(self) -> list[dict[str, Any]]:
        """The crew rows that have a name."""
        rows = [
            {"name": row.name.strip(), "role": row.role, "under_age": row.minor}
            for row in self.crew_rows()
        ]
        return [row for row in rows if row["name"]]

    def crew_rows(self) -> list[CrewRow]:
        """All six rows as typed; the first is the head cook's unless said otherwise."""
        rows = []
        for number in range(1, CREW_MAX + 1):
            role = self._typed(f"crew_role_{number}") or USUAL_ROLES.get(number, "helper")
            name = str(self.data.get(f"crew_name_{number}", ""))
            rows.append(CrewRow(number, name, role, bool(self._typed(f"crew_minor_{number}"))))
        return rows

    def fact_rows(self) -> list[Fact]:
        """The five questions about the rig with what was answered."""
        return rig_questions(self.rig, self.faults)

    def class_choices(self) -> list[Choice]:
        """The show's classes with those ticked."""
        chosen = self.chosen_classes
        return [Choice(c.code, c.name, c.description, c.code in chosen) for c in self.show_classes]

    def crew_choices(self) -> list[tuple[str, str]]:
        """The roles a crew member can have."""
        return [(code, as_sentence(_(words))) for code, words in CREW_ROLES.items()]

    @property
    def crew_span(self) -> str:
        """How many people a crew is."""
        return _("{fewest} to {most}").format(fewest=CREW_MIN, most=CREW_MAX)

    @property
    def waiver_agreed_by(self) -> str:
        """The name typed under the waiver."""
        return str(self.data.get("waiver_agreed_by", ""))

    def said(self) -> dict[str, Any]:
        """Return what the entry says beside wagon, rig and crew, as the verb takes it."""
        return {
            **self.particulars.meant(),
            "waiver_version": sent_version(self._typed("waiver_version")),
            "waiver_agreed_by": self.waiver_agreed_by.strip(),
        }

    def clean(self) -> dict[str, Any]:
        """Ask the rules everything at once, so that one round of mending is enough."""
        cleaned = super().clean() or {}
        faults = faults_of_entry(
            wagon_name=self._typed("wagon_name"),
            outfit=self._typed("outfit"),
            history=self._typed("history"),
            classes=self.chosen_classes,
            known_classes=[c.code for c in self.show_classes],
            crew=self.crew,
            wagons_entered=self.wagons_entered,
        )
        faults |= faults_of_rig(self.rig)
        self.particulars.check()
        faults |= self.particulars.faults
        faults |= agreement_fault(
            self.terms,
            waiver_version=sent_version(self._typed("waiver_version")),
            waiver_agreed_by=self.waiver_agreed_by,
        )
        self.refuse(faults)
        return cleaned

    def refuse(self, faults: Mapping[str, str]) -> None:
        """Mark the fields at fault, beside those Django cannot read."""
        unreadable = {
            name: "; ".join(str(error) for error in errors)
            for name, errors in self.errors.items()
            if name != "__all__"
        }
        self.faults |= {**faults, **unreadable}
        if faults:
            self.add_error(None, _("See the marked fields."))

    def fault_list(self) -> list[tuple[str, str]]:
        """The faults in the form's order, each with the id of the field it is about."""
        first = {
            "classes": f"class-{self.show_classes[0].code}" if self.show_classes else "main",
            "crew": "crew_name_1",
            "rig": "tongue-drop",
        }
        for name, kind in FACTS.items():
            first[name] = f"{name}-{next(iter(kind)).value}"
        found = sorted(self.faults.items(), key=lambda item: ORDER.index(item[0]))
        return [(first.get(name, name), sentence) for name, sentence in found]
