"""The practice wagon's page laid out for a reader: judges, rows, and what to talk about."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from string import ascii_uppercase

from entries.rules.rig import Rig
from judging.queries.norming import AtPractice, Norming
from judging.rules.cards.norming import (
    Agreement,
    Marks,
    RowSpread,
    agreement,
    row_spreads,
    severities,
    to_discuss,
)
from judging.rules.cards.norming_words import (
    MOST_POINTS,
    mark_words,
    of_ten,
    scale_words,
    severity_words,
    talking_points,
)
from judging.rules.cards.scale_use import scale_uses
from judging.rules.cards.strip import Strip, strip
from judging.rules.round.card_hash import plain_number
from showrun.language import gettext as _
from showrun.language import ngettext

# A short name longer than this does not fit above a mark; letters stand in for all of them.
LONGEST_LABEL = 4


@dataclass(frozen=True)
class JudgeLine:
    """A judge at the practice wagon; `name` is what stands at their marks."""

    name: str
    at: AtPractice
    rig_words: str
    beside: str
    rows: int
    scale: str

    @property
    def marked(self) -> int:
        """Rows with a mark."""
        return len(self.at.marks)


@dataclass(frozen=True)
class RowLine:
    """One row of the card with its marks, drawn and in words."""

    spread: RowSpread
    drawn: Strip | None
    words: str
    lowest: str
    middle: str
    highest: str
    apart: str
    notes: list[str]
    discuss: bool


@dataclass(frozen=True)
class SectionLines:
    """One section: how far the totals are apart, then its rows, the widest apart first."""

    name: str
    together: str
    worth_a_talk: bool
    rows: list[RowLine]


@dataclass(frozen=True)
class Point:
    """A row to talk about, with its section."""

    section: str
    row: str
    sentence: str


@dataclass(frozen=True)
class View:
    """The whole page once there is a practice wagon."""

    found: Norming
    rig: str
    planted: list[str]
    lines: list[JudgeLine]
    sections: list[SectionLines]
    points: list[Point]
    more_points: int
    lettered: bool

    @property
    def marked(self) -> bool:
        """Whether any mark was given."""
        return any(line.marked for line in self.lines)

    @property
    def handed_in(self) -> int:
        """Judges who are done."""
        return sum(line.at.handed_in_at is not None for line in self.lines)


def view_of(found: Norming) -> View:
    """Lay out what the judges gave the practice wagon."""
    codes = [at.judge.code for at in found.judges]
    lettered = any(len(code) > LONGEST_LABEL for code in codes)
    names = letters(len(codes)) if lettered else codes
    marks = {name: at.marks for name, at in zip(names, found.judges, strict=True)}
    spreads = [(part, row_spreads(part.criteria, marks)) for part in found.sections]
    in_section = {row.code: part.name for part in found.sections for row in part.criteria}
    points = talking_points(spread for _, some in spreads for spread in some)
    return View(
        found=found,
        rig=found.wagon.rig.in_words(),
        planted=[line.strip() for line in found.wagon.history.splitlines() if line.strip()],
        lines=_lines(found, names, marks),
        sections=[
            _section(part.name, agreement(part.criteria, marks), some)
            for part, some in spreads
            if some
        ],
        points=[
            Point(in_section[point.row.code], point.row.name, point.sentence)
            for point in points[:MOST_POINTS]
        ],
        more_points=max(0, len(points) - MOST_POINTS),
        lettered=lettered,
    )


def letters(count: int) -> list[str]:
    """Return short names for judges whose own are too long to stand above a mark."""
    return [*ascii_uppercase, *map(str, range(27, count + 1))][:count]


def _lines(found: Norming, names: Sequence[str], marks: Marks) -> list[JudgeLine]:
    rows = [row for section in found.sections for row in section.criteria]
    beside, scale = severities(rows, marks), scale_uses(rows, marks)
    return [
        JudgeLine(
            name=name,
            at=at,
            rig_words=Rig.read(at.rig).in_words() if at.rig else "",
            beside=severity_words(severity),
            rows=severity.n_rows,
            scale=scale_words(use),
        )
        for name, at, severity, use in zip(names, found.judges, beside, scale, strict=True)
    ]


def _section(name: str, found: Agreement | None, spreads: Sequence[RowSpread]) -> SectionLines:
    together = ""
    if found:
        together = ngettext(
            "Totals of {judges} judges over the one row all of them marked: from {lowest} to "
            "{highest}, {apart} apart.",
            "Totals of {judges} judges over the {n} rows all of them marked: from {lowest} to "
            "{highest}, {apart} apart.",
            found.n_rows,
        ).format(
            judges=found.n_judges,
            n=found.n_rows,
            lowest=_percent(found.lowest),
            highest=_percent(found.highest),
            apart=_percent(found.share),
        )
    return SectionLines(
        name, together, bool(found and found.worth_a_talk), [_row(spread) for spread in spreads]
    )


def _row(spread: RowSpread) -> RowLine:
    notes = []
    if spread.not_applicable:
        notes.append(_("not applicable: {judges}").format(judges=", ".join(spread.not_applicable)))
    if spread.not_inspected:
        notes.append(_("not inspected: {judges}").format(judges=", ".join(spread.not_inspected)))
    told = ", ".join(f"{judge} {mark_words(spread.row, mark)}" for judge, mark in spread.given)
    steps = ngettext("{steps} step", "{steps} steps", spread.steps).format(steps=spread.steps)
    return RowLine(
        spread=spread,
        drawn=strip(spread),
        words=told,
        lowest=_mark(spread.lowest),
        middle=_mark(spread.middle),
        highest=_mark(spread.highest),
        apart=f"{steps}, {_percent(spread.share)}" if spread.n > 1 else "–",
        notes=notes,
        discuss=to_discuss(spread),
    )


def _mark(mark: Decimal | None) -> str:
    return "–" if mark is None else plain_number(mark)


def _percent(share: Fraction) -> str:
    return f"{plain_number(Decimal(of_ten(share)) * 10)} %"
