"""What a judge's paper cards say: the rows of each wagon's rig, and the way back to its keying."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import segno
from django.conf import settings
from django.db.models import QuerySet
from django.urls import reverse

from entries.models import Entry
from entries.rules.rig import Rig
from judging.models import Criterion, PaperCard, Section
from judging.queries.cards import class_cards
from judging.queries.keyings import PaperSheet, sections_with_rows, sheets_of
from judging.rules.cards.condition import in_words as rigs_in_words
from judging.rules.cards.policies import in_words as policies_in_words
from judging.rules.cards.scorecard import Form
from judging.rules.round.keying import takes
from reports.models import Paper
from showrun.errors import Conflict, NotYet
from showrun.language import gettext as _
from showrun.language import listed
from showrun.shows.models import Show

QUIET_MODULES = 4
# Rows that move nothing are not flagged: what may hurt somebody is.
FLAGGED = ("A", "B")


@dataclass(frozen=True)
class Row:
    """A row with what it takes, and on a spare the rigs it is for."""

    row: Criterion
    takes: str
    flagged: bool
    may_not_apply: bool
    rigs: str = ""


@dataclass(frozen=True)
class CardPart:
    """A section with its rows."""

    section: Section
    rows: list[Row]


@dataclass(frozen=True)
class Square:
    """A QR code: its side in modules, and the dark ones as a path."""

    side: int
    path: str


@dataclass(frozen=True)
class CardSheet:
    """One card: of a wagon, or a spare without one."""

    parts: list[CardPart]
    entry: Entry | None = None
    rig: str = ""
    number: str = ""
    address: str = ""
    square: Square | None = None


def card_papers_of(show: Show) -> QuerySet[Paper]:
    """Return the printings of the show's paper cards, the newest first."""
    papers = Paper.objects.filter(show=show, kind=Paper.Kind.CARD)
    return papers.select_related("judge__person", "entry", "scorecard").order_by("-pk")


def card_content(paper: Paper) -> dict[str, Any]:
    """Return what the cards of this printing say.

    Raises `Conflict` when judges mark on another version of the scorecard by now.
    """
    judge, card = paper.judge, paper.scorecard
    if judge is None or card is None:
        raise ValueError(f"{paper} is not for a judge to mark on")
    if not card.in_use:
        raise Conflict(
            _("Judges do not mark on {card} any more. Print the cards anew.").format(card=card)
        )
    issued = PaperCard.objects.filter(judge=judge, scorecard=card)
    numbers = {one.entry_id: one.number for one in issued}
    sheets = [
        sheet
        for sheet in sheets_of(judge, card)
        if sheet.entry.pk in numbers and paper.entry_id in (None, sheet.entry.pk)
    ]
    if not sheets:
        raise NotYet(
            _("{judge} sits at none of these wagons any more; there is nothing to print.").format(
                judge=judge
            )
        )
    cards = [_card(sheet, numbers[sheet.entry.pk]) for sheet in sheets]
    if paper.entry_id is None:
        cards.append(_spare(sheets))
    seated = {part.section.pk for sheet in sheets for part in sheet.parts}
    return {
        "paper": paper,
        "show": paper.show,
        "judge": judge,
        "scorecard": card,
        "cards": cards,
        "policies": policies_in_short(paper.show, seated),
    }


def _card(sheet: PaperSheet, number: str) -> CardSheet:
    address = keying_address(number)
    return CardSheet(
        parts=[CardPart(p.section, _rows(p.section, p.rows)) for p in sheet.parts],
        entry=sheet.entry,
        rig=Rig.read(sheet.facts).in_words(),
        number=number,
        address=address,
        square=square(address),
    )


def _spare(sheets: Sequence[PaperSheet]) -> CardSheet:
    """Return a card with every row of the judge's sections, whatever the rig."""
    sections = {part.section.pk for sheet in sheets for part in sheet.parts}
    return CardSheet(
        parts=[
            CardPart(section, _rows(section, section.criteria.all(), spare=True))
            for section in sections_with_rows(sections)
        ]
    )


def _rows(section: Section, rows: Iterable[Criterion], *, spare: bool = False) -> list[Row]:
    form = Form(section.form)
    return [
        Row(
            row=row,
            takes=takes(row.as_value(), form),
            flagged=row.danger in FLAGGED,
            may_not_apply=form is not Form.PLACINGS,
            rigs=rigs_in_words(row.applies) if spare and row.applies else "",
        )
        for row in rows
    ]


def keying_address(number: str) -> str:
    """Return where the card with this number is keyed."""
    site = str(settings.PUBLIC_URL).rstrip("/")
    return site + reverse("judging:paper-card", args=[int(number)])


def square(text: str) -> Square:
    """Draw a QR code as runs of dark modules, with the quiet zone around it."""
    drawn = segno.make(text, error="m", micro=False)
    runs = []
    rows = [bytes(row) for row in drawn.matrix]
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            if not row[x]:
                x += 1
                continue
            end = x
            while end < len(row) and row[end]:
                end += 1
            runs.append(f"M{x + QUIET_MODULES} {y + QUIET_MODULES}h{end - x}v1h{x - end}z")
            x = end
    return Square(len(rows) + 2 * QUIET_MODULES, "".join(runs))


def policies_in_short(show: Show, sections: set[int]) -> list[tuple[str, tuple[str, ...]]]:
    """Return what the classes declare that count these sections; those alike stand together."""
    found: dict[tuple[str, ...], list[str]] = {}
    for card in class_cards(show):
        if sections & {section.pk for section in card.sections.all()}:
            found.setdefault(policies_in_words(card.policies), []).append(card.show_class.name)
    return [(listed(names), lines) for lines, names in found.items()]
