"""Parts of the handbook as study sheets lay them out: those of a card, group by group."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from judging.models import Scorecard
from judging.queries.library import drawings, handbook
from judging.rules.handbook.parts import Part


@dataclass(frozen=True)
class PartGroup:
    """A group of parts, and the names of the drawings that stand with it."""

    name: str
    drawings: list[str]
    parts: list[Part]


def parts_of(card: Scorecard) -> list[Part]:
    """Return the handbook's parts that rows of the card look at, in the handbook's order."""
    rows = (row for section in card.sections.all() for row in section.criteria.all())
    named = {code for row in rows for code in row.parts}
    return [part for code, part in handbook().items() if code in named]


def grouped(parts: Iterable[Part]) -> list[PartGroup]:
    """Return the parts by group; each drawing stands where most of its parts are."""
    by_group: dict[str, list[Part]] = defaultdict(list)
    for part in parts:
        by_group[part.group].append(part)
    homes: dict[str, tuple[int, str]] = {}
    for group, there in by_group.items():
        for name, count in Counter(part.drawing for part in there if part.drawing).items():
            if count > homes.get(name, (0, ""))[0]:
                homes[name] = (count, group)
    return [
        PartGroup(
            name=group,
            drawings=[name for name in drawings() if homes.get(name, (0, None))[1] == group],
            parts=there,
        )
        for group, there in by_group.items()
    ]


def legend_of(drawing: str) -> list[Part]:
    """Return what the numbers of a drawing point at, in their order."""
    drawn = (part for part in handbook().values() if part.drawing == drawing)
    return sorted(drawn, key=lambda part: part.mark)
