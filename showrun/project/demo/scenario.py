"""The invented show as it stands in `fixtures_demo/`, read once; its card is the library's."""

from __future__ import annotations

import csv
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import yaml

from judging.queries.library import library_cards

FOLDER = Path(__file__).resolve().parents[3] / "fixtures_demo"


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
    }
