"""The entry form: what was typed, what is wrong with it, and what it means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms

from entries.rules.eligibility import CREW_MAX, CREW_MIN, CREW_ROLES, HEAD_COOK, faults_of_entry
from entries.rules.rig import FACTS, WORDS, faults_of_rig
from showrun.shows.models import ShowClass

# What each answer means, in one sentence, for somebody who never filled in such a form.
MEANING: dict[str, str] = {
    "drop": "Hinged behind the team; its weight hangs on the neck yoke and breast straps.",
    "stiff": "Fixed in the front hounds; the wagon carries it, not the animals' necks.",
    "team": "One pair, which pulls, steers and stops the wagon.",
    "four_up": "A wheel pair at the tongue and a lead pair in front of it.",
    "six_up": "Wheelers, a swing pair and leaders.",
    "leather": "Leather from the hames to the singletree.",
    "chain": "Chain from the hames, with a pipe or sleeve where it passes the leg.",
    "civil": "Farm, ranch or freight harness, with collars and separate hames.",
    "military": "Army harness, after the pattern of its day.",
    "pole_strap": "Quarter straps run under the belly to a pole strap and the neck yoke.",
    "side_backer": "Side straps hold back to a jockey yoke; nothing runs under the belly.",
}
USUAL_ROLES = {1: HEAD_COOK, 2: "cook"}
QUESTIONS: dict[str, str] = {
    "tongue": "How does the tongue meet the wagon?",
    "hitch": "How many animals?",
    "draft": "What do they pull with?",
    "pattern": "After which pattern is the harness made?",
    "holdback": "How does the wheel team hold the wagon back?",
}


@dataclass(frozen=True)
class Choice:
    """One radio button or tick box."""

    value: str
    words: str
    meaning: str
    chosen: bool


@dataclass(frozen=True)
class Fact:
    """One question about the rig with its answers."""

    name: str
    words: str
    question: str
    choices: tuple[Choice, ...]
    fault: str


@dataclass(frozen=True)
class CrewRow:
    """One line of the crew list as typed."""

    number: int
    name: str
    role: str


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


class EntryForm(forms.Form):
    """Keeps everything typed; the rules say what is wrong, a sentence a field."""

    wagon_name = forms.CharField(required=False)
    outfit = forms.CharField(required=False)
    history = forms.CharField(required=False)

    def __init__(
        self,
        data: Mapping[str, Any] | None,
        *,
        classes: Iterable[ShowClass],
        wagons_entered: Iterable[str] = (),
    ) -> None:
        super().__init__(data)
        self.show_classes = list(classes)
        self.wagons_entered = list(wagons_entered)
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
    def crew(self) -> list[dict[str, str]]:
        """The crew rows that have a name."""
        rows = [{"name": row.name.strip(), "role": row.role} for row in self.crew_rows()]
        return [row for row in rows if row["name"]]

    def crew_rows(self) -> list[CrewRow]:
        """All six rows as typed; the first is the head cook's unless said otherwise."""
        rows = []
        for number in range(1, CREW_MAX + 1):
            role = self._typed(f"crew_role_{number}") or USUAL_ROLES.get(number, "helper")
            rows.append(CrewRow(number, str(self.data.get(f"crew_name_{number}", "")), role))
        return rows

    def fact_rows(self) -> list[Fact]:
        """The five questions about the rig with what was answered."""
        return [
            Fact(
                name=name,
                words=WORDS[name],
                question=QUESTIONS[name],
                choices=tuple(
                    Choice(
                        member.value,
                        _sentence(WORDS[member.value]),
                        MEANING[member.value],
                        self._typed(name) == member.value,
                    )
                    for member in kind
                ),
                fault=self.faults.get(name, ""),
            )
            for name, kind in FACTS.items()
        ]

    def class_choices(self) -> list[Choice]:
        """The show's classes with those ticked."""
        chosen = self.chosen_classes
        return [Choice(c.code, c.name, c.description, c.code in chosen) for c in self.show_classes]

    def crew_choices(self) -> list[tuple[str, str]]:
        """The roles a crew member can have."""
        return [(code, _sentence(words)) for code, words in CREW_ROLES.items()]

    @property
    def crew_span(self) -> str:
        """How many people a crew is."""
        return f"{CREW_MIN} to {CREW_MAX}"

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
        self.refuse(faults | faults_of_rig(self.rig))
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
            self.add_error(None, "See the marked fields.")

    def fault_list(self) -> list[tuple[str, str]]:
        """The faults in the form's order, each with the id of the field it is about."""
        first = {
            "classes": f"class-{self.show_classes[0].code}" if self.show_classes else "main",
            "crew": "crew_name_1",
            "rig": "tongue-drop",
        }
        for name, kind in FACTS.items():
            first[name] = f"{name}-{next(iter(kind)).value}"
        order = ["wagon_name", "outfit", "classes", "rig", *FACTS, "crew", "history"]
        found = sorted(self.faults.items(), key=lambda item: order.index(item[0]))
        return [(first.get(name, name), sentence) for name, sentence in found]
