"""A scorecard as its file has it: plain values that the scoring rules and the store build on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from judging.rules.cards.condition import Condition
from judging.rules.cards.scorecard import Criterion, Form, Section


@dataclass(frozen=True)
class CriterionFile:
    """One row as the file has it; marks run from 0 to `max_mark` in steps of `step`."""

    code: str
    name: str
    max_mark: Decimal
    step: Decimal
    weight: Decimal = Decimal(1)
    danger: str = ""
    applies: Condition = field(default_factory=dict)
    one_of: str = ""
    parts: tuple[str, ...] = ()
    guidance: str = ""

    def as_criterion(self) -> Criterion:
        """Return the row as the scoring rules know it."""
        return Criterion(
            self.code,
            self.name,
            self.max_mark,
            self.step,
            weight=self.weight,
            applies=self.applies,
            one_of=self.one_of,
            parts=self.parts,
        )


@dataclass(frozen=True)
class SectionFile:
    """One section as the file has it; `points` [points], `minutes` [min]."""

    code: str
    name: str
    points: Decimal
    minutes: int
    criteria: tuple[CriterionFile, ...]
    form: Form = Form.POINTS
    all_or_nothing: bool = False
    quick_phrases: tuple[str, ...] = ()

    def as_section(self) -> Section:
        """Return the section as the scoring rules know it."""
        return Section(
            self.code,
            self.name,
            self.points,
            self.minutes,
            tuple(row.as_criterion() for row in self.criteria),
            form=self.form,
            all_or_nothing=self.all_or_nothing,
        )


@dataclass(frozen=True)
class CardFile:
    """A whole card; sections taken from the library are there as if they were written out."""

    name: str
    sections: tuple[SectionFile, ...]
    code: str = ""
    version: int = 1
    notice: str = ""

    @property
    def row_count(self) -> int:
        """Rows of the card, whatever the rig."""
        return sum(len(section.criteria) for section in self.sections)


def as_data(card: CardFile) -> dict[str, Any]:
    """Return the card as plain data; read again it is the same card.

    Examples
    --------
    >>> row = CriterionFile("hubs", "Hubs", Decimal(10), Decimal("0.5"))
    >>> card = CardFile("Wagon", (SectionFile("gear", "Gear", Decimal(25), 4, (row,)),))
    >>> as_data(card)["sections"][0]["criteria"]
    [{'code': 'hubs', 'name': 'Hubs', 'max_mark': 10, 'step': 0.5, 'weight': 1}]
    """
    return {
        **({"code": card.code} if card.code else {}),
        "name": card.name,
        "version": card.version,
        **({"notice": card.notice} if card.notice else {}),
        "sections": [_section_data(section) for section in card.sections],
    }


def _section_data(section: SectionFile) -> dict[str, Any]:
    return {
        "code": section.code,
        "name": section.name,
        "points": _number(section.points),
        "minutes": section.minutes,
        **({} if section.form is Form.POINTS else {"form": section.form.value}),
        **({"all_or_nothing": True} if section.all_or_nothing else {}),
        **({"quick_phrases": list(section.quick_phrases)} if section.quick_phrases else {}),
        "criteria": [_row_data(row) for row in section.criteria],
    }


def _row_data(row: CriterionFile) -> dict[str, Any]:
    data: dict[str, Any] = {
        "code": row.code,
        "name": row.name,
        "max_mark": _number(row.max_mark),
        "step": _number(row.step),
        "weight": _number(row.weight),
        "danger": row.danger,
        "applies": plain_condition(row.applies),
        "one_of": row.one_of,
        "parts": list(row.parts),
        "guidance": row.guidance,
    }
    return {key: value for key, value in data.items() if value not in ("", {}, [])}


def plain_condition(condition: Condition) -> dict[str, list[str]] | list[dict[str, list[str]]]:
    """Return a condition as plain dicts and lists, as JSON keeps it.

    Examples
    --------
    >>> plain_condition([{"tongue": ("drop",)}])
    [{'tongue': ['drop']}]
    """
    if isinstance(condition, Mapping):
        return {fact: list(values) for fact, values in condition.items()}
    return [{fact: list(values) for fact, values in branch.items()} for branch in condition]


def _number(value: Decimal) -> int | float:
    """A number as files write it; at most two decimals, so nothing is lost."""
    return int(value) if value == int(value) else float(value)
