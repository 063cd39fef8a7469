"""The scorecard laid out for a reader: what a row is worth, and on which rig it stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from judging.models import ClassCard, Criterion, Scorecard, Section
from judging.rules.cards.condition import Condition, applies, condition_words, every_rig
from judging.rules.cards.policies import policy_sentences
from judging.rules.cards.score import to_hundredths
from judging.rules.cards.scorecard import Form
from judging.rules.results.methods import SAID as METHOD_WORDS
from judging.rules.round.card_hash import plain_number
from judging.web.public import judge_words, tie_words
from showrun.language import gettext as _
from showrun.shows.models import ShowClass

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
    marks: str

    @property
    def counts(self) -> str:
        """How often the row counts among those of its section."""
        number = plain_number(self.row.weight)
        if number in ("1", "2"):
            return _("once") if number == "1" else _("twice")
        return _("{n} times").format(n=number)


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

    show_class: ShowClass
    sections: str
    points: Decimal
    judges: str
    method: str
    ties: str
    policies: tuple[str, ...]


def fit_of(condition: Condition, facts: Mapping[str, str]) -> Fit:
    """Say whether a row is judged on a rig of which only some facts may be known."""
    return _fit(condition, _rigs_with(facts))


def _rigs_with(facts: Mapping[str, str]) -> list[dict[str, str]]:
    """Return every rig that has the facts known."""
    return [rig for rig in every_rig() if facts.items() <= rig.items()]


def _fit(condition: Condition, rigs: Iterable[Mapping[str, str]]) -> Fit:
    if not condition:
        return Fit.YES
    found = {applies(condition, rig) for rig in rigs}
    return Fit.OPEN if len(found) > 1 else Fit.YES if True in found else Fit.NO


def section_views(card: Scorecard, facts: Mapping[str, str]) -> list[SectionView]:
    """Lay out every section for the rig facts chosen."""
    rigs = _rigs_with(facts)
    return [_section(section, rigs) for section in card.sections.all()]


def _section(section: Section, rigs: list[dict[str, str]]) -> SectionView:
    fits = {row: _fit(row.applies, rigs) for row in section.criteria.all()}
    undecided = sum(fit is Fit.OPEN for fit in fits.values())
    possible = sum((_most(row) for row, fit in fits.items() if fit is Fit.YES), Fraction(0))

    def worth(row: Criterion) -> Decimal | None:
        if undecided or not possible or fits[row] is not Fit.YES:
            return None
        return to_hundredths(Fraction(section.points) * _most(row) / possible)

    rows = [
        RowView(
            row=row,
            when=condition_words(row.applies),
            fit=fit,
            worth=worth(row),
            danger=row.get_danger_display() if row.danger else "",
            danger_sign=DANGER_SIGN.get(row.danger, ""),
            marks=marks_words(row, Form(section.form)),
        )
        for row, fit in fits.items()
    ]
    return SectionView(
        section=section,
        rows=[row for row in rows if row.fit is not Fit.NO],
        others=[row for row in rows if row.fit is Fit.NO],
        undecided=undecided,
    )


def marks_words(row: Criterion, form: Form) -> str:
    """Say which marks a row takes."""
    if form is not Form.POINTS:
        return _("pass or fail") if form is Form.PASS_FAIL else _("a place")
    most, step = plain_number(row.max_mark), plain_number(row.step)
    return f"0–{most}" if row.step == 1 else _("0–{most} by {step}").format(most=most, step=step)


def points_of(card: Scorecard | None) -> Decimal:
    """Return what the card is worth from one judge."""
    every = card.sections.all() if card else ()
    return sum((section.points for section in every), Decimal(0))


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
                show_class=card.show_class,
                sections=", ".join(names.values()),
                points=sum((section.points for section in sections), Decimal(0)),
                judges=judge_words(card.judges_per_section),
                method=_(METHOD_WORDS[card.method]),
                ties=tie_words(card.tie_ladder, names),
                policies=policy_sentences(card.policies),
            )
        )
    return lines
