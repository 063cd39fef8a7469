"""The scorecard laid out for a reader: what a row is worth, and on which rig it stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from entries.rules.rig import WORDS
from judging.models import ClassCard, Criterion, Scorecard, Section
from judging.rules.cards.score import to_hundredths
from judging.rules.cards.scorecard import NotInspected
from judging.web.public import METHOD_WORDS, NOT_INSPECTED_WORDS, judge_words, tie_words

DANGER_SIGN = {"A": "state-bad", "B": "state-wait", "C": ""}


class Fit(StrEnum):
    """Whether a row is judged on the rig looked at."""

    YES = "yes"
    NO = "no"
    OPEN = "open"


@dataclass(frozen=True)
class RowView:
    """One row of the card."""

    row: Criterion
    when: str
    fit: Fit
    worth: Decimal | None  # known once the rig decides every row of the section
    danger: str
    danger_sign: str


@dataclass(frozen=True)
class SectionView:
    """One section: the rows this rig may have, and those it has not."""

    section: Section
    rows: list[RowView]
    others: list[RowView]
    undecided: int

    @property
    def judged(self) -> int:
        """Rows that are judged on this rig for sure."""
        return len(self.rows) - self.undecided

    @property
    def count(self) -> int:
        """Rows of the section, whatever the rig."""
        return len(self.rows) + len(self.others)


@dataclass(frozen=True)
class ClassLine:
    """How one class counts the card, in words."""

    name: str
    sections: str
    points: Decimal
    judges: str
    method: str
    ties: str
    not_inspected: str


def when_words(applies: Mapping[str, Sequence[str]]) -> str:
    """Say on which rigs a row is judged."""
    if not applies:
        return "every rig"
    return "; ".join(" or ".join(WORDS[value] for value in values) for values in applies.values())


def fit_of(applies: Mapping[str, Sequence[str]], facts: Mapping[str, str]) -> Fit:
    """Say whether a row is judged on a rig of which only some facts may be known."""
    known = [facts[fact] in values for fact, values in applies.items() if fact in facts]
    if not all(known):
        return Fit.NO
    return Fit.YES if len(known) == len(applies) else Fit.OPEN


def section_views(card: Scorecard, facts: Mapping[str, str]) -> list[SectionView]:
    """Lay out every section for the rig facts chosen."""
    return [_section(section, facts) for section in card.sections.all()]


def _section(section: Section, facts: Mapping[str, str]) -> SectionView:
    fits = {row: fit_of(row.applies, facts) for row in section.criteria.all()}
    undecided = sum(fit is Fit.OPEN for fit in fits.values())
    possible = sum((_most(row) for row, fit in fits.items() if fit is Fit.YES), Fraction(0))

    def worth(row: Criterion) -> Decimal | None:
        if undecided or fits[row] is not Fit.YES:
            return None
        return to_hundredths(Fraction(section.points) * _most(row) / possible)

    rows = [
        RowView(
            row=row,
            when=when_words(row.applies),
            fit=fit,
            worth=worth(row),
            danger=row.get_danger_display() if row.danger else "",
            danger_sign=DANGER_SIGN.get(row.danger, ""),
        )
        for row, fit in fits.items()
    ]
    return SectionView(
        section=section,
        rows=[row for row in rows if row.fit is not Fit.NO],
        others=[row for row in rows if row.fit is Fit.NO],
        undecided=undecided,
    )


def _most(row: Criterion) -> Fraction:
    return Fraction(row.weight) * Fraction(row.max_mark)


def class_lines(cards: Iterable[ClassCard]) -> list[ClassLine]:
    """Say how each class counts the card."""
    lines = []
    for card in cards:
        sections = sorted(card.sections.all(), key=lambda section: section.position)
        names = {section.code: section.name for section in sections}
        lines.append(
            ClassLine(
                name=card.show_class.name,
                sections=", ".join(names.values()),
                points=sum((section.points for section in sections), Decimal(0)),
                judges=judge_words(card.judges_per_section),
                method=METHOD_WORDS[card.method],
                ties=tie_words(card.tie_ladder, names),
                not_inspected=NOT_INSPECTED_WORDS[NotInspected(card.not_inspected)],
            )
        )
    return lines
