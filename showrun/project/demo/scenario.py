"""The invented show as it stands in `fixtures_demo/`, read once; its card is the library's."""

from __future__ import annotations

import csv
from copy import deepcopy
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import yaml

from entries.rules.animal_papers import AnimalFacts
from judging.queries.library import library_cards

FOLDER = Path(__file__).resolve().parents[3] / "fixtures_demo"
USUAL_FEET = 40


@dataclass(frozen=True)
class Scenario:
    """Plain data by file."""

    show: dict[str, Any]
    scorecard: dict[str, Any]
    story: dict[str, Any]
    marks: dict[tuple[int, str], dict[str, str]]

    @cached_property
    def meta(self) -> dict[str, Any]:
        """The show's own facts."""
        return dict(self.show["show"])

    @cached_property
    def judging_starts_at(self) -> datetime:
        """When judging starts, on the show's clock."""
        local = datetime.fromisoformat(self.meta["judging_starts"])
        return local.replace(tzinfo=ZoneInfo(self.meta["zone"]))

    @cached_property
    def judging_minutes(self) -> int:
        """How long the window may be."""
        ends = datetime.fromisoformat(self.meta["judging_ends"])
        starts = datetime.fromisoformat(self.meta["judging_starts"])
        return int((ends - starts).total_seconds() // 60)

    @cached_property
    def all_entries(self) -> list[dict[str, Any]]:
        """The entries that fill the show, then those over the cap."""
        return [*self.show["entries"], *self.show["over_the_cap"]]

    def office(self, role: str) -> dict[str, Any]:
        """The office member with this role."""
        return next(p for p in self.show["people"]["office"] if p["role"] == role)


def read_scenario(folder: Path = FOLDER) -> Scenario:
    """Read the three files, and the card of the starter library that the show names."""

    def plain(name: str) -> dict[str, Any]:
        return dict(yaml.safe_load((folder / name).read_text(encoding="utf-8")))

    with (folder / "marks.csv").open(encoding="utf-8", newline="") as file:
        marks = {
            (int(line.pop("entry")), line.pop("judge")): dict(line) for line in csv.DictReader(file)
        }
    show = plain("show.yaml")
    card = deepcopy(library_cards()[show["show"]["scorecard"]])
    return Scenario(show, card, plain("story.yaml"), marks)


def entry_body(entry: dict[str, Any]) -> dict[str, Any]:
    """What the exhibitor of an invented entry writes into the form."""
    return {
        "wagon_name": entry["wagon"],
        "outfit": entry["outfit"],
        "history": entry["history"].strip(),
        "rig": entry["rig"],
        "classes": entry["classes"],
        "crew": entry["crew"],
        "frontage_ft": entry.get("frontage_ft", USUAL_FEET),
        "depth_ft": USUAL_FEET,
        "waiver_version": 1,
        "waiver_agreed_by": entry["head_cook"],
    }


def animals_of(entry: dict[str, Any], *, today: date) -> list[AnimalFacts]:
    """The animals of an invented entry; their papers are some days old when it is made."""
    said = entry["animals"]
    tested_on = today - timedelta(days=said["eia_days_ago"])
    undated = said.get("undated", ())
    return [
        AnimalFacts(name, said["kind"], eia_tested_on=None if name in undated else tested_on)
        for name in said["names"]
    ]


def details_form(entry: dict[str, Any], *, today: date) -> dict[str, str]:
    """What the exhibitor of an invented entry writes into the page of its details."""
    form = {}
    for number, animal in enumerate(animals_of(entry, today=today), start=1):
        form[f"animal_name_{number}"] = animal.name
        form[f"animal_kind_{number}"] = animal.kind
        form[f"animal_eia_{number}"] = str(animal.eia_tested_on or "")
    return form
