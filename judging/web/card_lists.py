"""Lists of cards for the office: versions and drafts, and the starter library."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from judging.models import Scorecard
from judging.queries.card_findings import difference_of
from judging.queries.cards import is_draft
from showrun.language import gettext as _

SHOWN_CHANGES = 4


@dataclass(frozen=True)
class VersionLine:
    """One version of the show's cards."""

    card: Scorecard
    standing: str
    sign: str
    n_sections: int
    n_rows: int
    changes: list[str]
    more_changes: int
    no_change: str


@dataclass(frozen=True)
class LibrarySection:
    """A section of a library card."""

    code: str
    name: str
    points: object
    n_rows: int


@dataclass(frozen=True)
class LibraryCard:
    """A card of the starter library; sections copied from another card are named as such."""

    code: str
    name: str
    notice: str
    sections: list[LibrarySection]

    @property
    def n_rows(self) -> int:
        """Rows of the card, whatever the rig."""
        return sum(section.n_rows for section in self.sections)


def version_lines(
    used: Scorecard | None, versions: Sequence[Scorecard], drafts: Mapping[int, Scorecard]
) -> list[VersionLine]:
    """Say how each version stands, and how the drafts differ from the card in use.

    `versions` come with their counts, `drafts` with their rows.
    """
    return [_version(used, card, drafts.get(card.pk)) for card in versions]


def _version(used: Scorecard | None, card: Scorecard, draft: Scorecard | None) -> VersionLine:
    if card.in_use:
        standing, sign = _("in use"), "state-good"
    elif is_draft(card):
        standing, sign = _("draft"), "state-wait"
    else:
        standing, sign = _("was in use before"), ""
    counts = vars(card)
    changes: list[str] = []
    no_change = "–"
    if used and draft:
        differs = difference_of(used, draft)
        changes = [change.sentence for change in differs.changes] if differs else []
        no_change = _("nothing") if differs else _("unfinished; open it to see why")
    return VersionLine(
        card=card,
        standing=standing,
        sign=sign,
        n_sections=counts["n_sections"],
        n_rows=counts["n_rows"],
        changes=changes[:SHOWN_CHANGES],
        more_changes=max(0, len(changes) - SHOWN_CHANGES),
        no_change=no_change,
    )


def library_lines(cards: Mapping[str, Mapping[str, Any]]) -> list[LibraryCard]:
    """Return the cards of the library with their sections, taken ones followed one step."""
    return [
        LibraryCard(
            code=code,
            name=str(card["name"]),
            notice=" ".join(str(card.get("notice", "")).split()),
            sections=[_section(line, cards) for line in card["sections"]],
        )
        for code, card in cards.items()
    ]


def _section(
    line: Mapping[str, Any], cards: Mapping[str, Mapping[str, Any]], depth: int = 0
) -> LibrarySection:
    take = line.get("take")
    if take and depth < len(cards):
        for other in cards.get(take["card"], {}).get("sections", ()):
            if other.get("code", other.get("take", {}).get("section")) == take["section"]:
                return _section(other, cards, depth + 1)
    return LibrarySection(
        code=str(line.get("code", "")),
        name=str(line.get("name", "")),
        points=line.get("points", ""),
        n_rows=len(line.get("criteria", ())),
    )
