"""What the study sheet says: the parts that the card in use looks at, with their drawings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from judging.queries.cards import card_of
from judging.queries.handbook_parts import grouped, legend_of, parts_of
from judging.queries.library import Drawing, drawings
from judging.rules.cards.condition import in_words
from judging.rules.handbook.parts import Part
from reports.models import Paper
from showrun.errors import NotYet
from showrun.language import gettext as _


@dataclass(frozen=True)
class Drawn:
    """A drawing with the names of what its numbers point at."""

    drawing: Drawing
    legend: list[Part]


@dataclass(frozen=True)
class Group:
    """A heading of the sheet: its drawings, and its parts with the rigs that have them."""

    name: str
    drawings: list[Drawn]
    parts: list[tuple[Part, str]]


def study_content(paper: Paper) -> dict[str, Any]:
    """Return what the sheet says of the card in use."""
    card = card_of(paper.show)
    parts = parts_of(card) if card else []
    if card is None or not parts:
        raise NotYet(_("The card in use looks at no part of the handbook."))
    return {
        "paper": paper,
        "show": paper.show,
        "card": card,
        "groups": _groups(parts),
        "count": len(parts),
    }


def _groups(parts: Sequence[Part]) -> list[Group]:
    return [
        Group(
            name=group.name,
            drawings=[Drawn(drawings()[name], legend_of(name)) for name in group.drawings],
            parts=[(part, in_words(part.rigs) if part.rigs else "") for part in group.parts],
        )
        for group in grouped(parts)
    ]
