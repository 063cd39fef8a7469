"""What comes with the service as plain files: the handbook of parts and the starter cards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from judging.rules.cards.card_text import read_text
from judging.rules.handbook.parts import Part, read_parts

FOLDER = Path(__file__).resolve().parents[1] / "library"


@dataclass(frozen=True)
class Drawing:
    """A line drawing of the handbook; `file` lies in the static folder `judging/drawings`."""

    title: str
    alt: str
    file: str

    @property
    def static_path(self) -> str:
        """The path to hand to `static`."""
        return f"judging/drawings/{self.file}"


def _plain(path: Path) -> Any:
    return read_text(path.read_text(encoding="utf-8"))


@cache
def _handbook_file() -> dict[str, Any]:
    return dict(_plain(FOLDER / "handbook.yaml"))


@cache
def handbook() -> Mapping[str, Part]:
    """Return the parts by code, in the order of the study sheet."""
    return MappingProxyType(read_parts(_handbook_file()["parts"]))


@cache
def drawings() -> Mapping[str, Drawing]:
    """Return the drawings by the name that parts give."""
    return MappingProxyType(
        {
            name: Drawing(line["title"], " ".join(line["alt"].split()), f"{name}.svg")
            for name, line in _handbook_file()["drawings"].items()
        }
    )


@cache
def library_cards() -> Mapping[str, dict[str, Any]]:
    """Return the starter cards as plain data by code; readers must not change them."""
    cards = [dict(_plain(path)) for path in sorted((FOLDER / "cards").glob("*.yaml"))]
    return MappingProxyType({card["code"]: card for card in cards})
