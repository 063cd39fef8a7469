"""A scorecard as values: sections, criteria, and which marks a criterion can take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from judging.rules.cards.condition import Condition, applies


class MarkState(StrEnum):
    """Three different things that stay different to the last report; zero is a mark."""

    MARKED = "marked"
    NOT_APPLICABLE = "not_applicable"
    NOT_INSPECTED = "not_inspected"


class NotInspected(StrEnum):
    """What a class declares a criterion that could not be inspected does to the points."""

    RESCALE = "rescale"
    ZERO = "zero"


class Form(StrEnum):
    """What a judge gives the rows of a section."""

    POINTS = "points"
    PASS_FAIL = "pass_fail"  # noqa: S105
    PLACINGS = "placings"

    @property
    def words(self) -> str:
        """The form as people say it."""
        return {"points": "points", "pass_fail": "pass or fail", "placings": "places only"}[
            self.value
        ]


@dataclass(frozen=True)
class Criterion:
    """One row of the card; marks run from 0 to `max_mark` in steps of `step`."""

    code: str
    name: str
    max_mark: Decimal
    step: Decimal
    weight: Decimal = Decimal(1)
    applies: Condition = field(default_factory=dict)
    one_of: str = ""
    parts: tuple[str, ...] = ()

    def is_for(self, facts: Mapping[str, str]) -> bool:
        """Say whether the row is judged on this rig."""
        return applies(self.applies, facts)


@dataclass(frozen=True)
class Section:
    """Criteria that are judged together and are worth `points` in all."""

    code: str
    name: str
    points: Decimal
    minutes: int
    criteria: tuple[Criterion, ...]
    form: Form = Form.POINTS
    all_or_nothing: bool = False

    def rows_for(self, facts: Mapping[str, str]) -> tuple[Criterion, ...]:
        """Return the rows judged on this rig, in the card's order."""
        return tuple(row for row in self.criteria if row.is_for(facts))


@dataclass(frozen=True)
class Mark:
    """What a judge gave one criterion."""

    state: MarkState
    value: Decimal | None = None


class MarkRefused(ValueError):
    """A mark the card cannot take; `code` is stable for programs."""

    def __init__(self, code: str, sentence: str) -> None:
        super().__init__(sentence)
        self.code = code


def check_mark(criterion: Criterion, facts: Mapping[str, str], mark: Mark) -> None:
    """Refuse a mark that the criterion cannot take on this rig.

    Parameters
    ----------
    criterion : Criterion
    facts : mapping
        The rig.
    mark : Mark
        Value in marks of the criterion, `None` unless the state is marked.

    Raises
    ------
    MarkRefused
        ``criterion-not-on-rig``, ``mark-missing``, ``mark-over-maximum``,
        ``mark-below-zero``, ``mark-off-step`` or ``mark-not-empty``.

    Source
    ------
    Common practice, no source: whole steps from zero to the row's maximum.

    Examples
    --------
    >>> row = Criterion("hub", "Hubs", Decimal(10), Decimal(1))
    >>> check_mark(row, {}, Mark(MarkState.MARKED, Decimal(11)))
    Traceback (most recent call last):
    ...
    judging.rules.cards.scorecard.MarkRefused: Hubs takes at most 10; 11 was sent.
    """
    if not criterion.is_for(facts):
        raise MarkRefused("criterion-not-on-rig", f"{criterion.name} does not apply to this rig.")
    if mark.state is not MarkState.MARKED:
        if mark.value is not None:
            raise MarkRefused("mark-not-empty", f"{criterion.name}: no number with this state.")
        return
    if mark.value is None:
        raise MarkRefused("mark-missing", f"{criterion.name}: the number is missing.")
    if mark.value > criterion.max_mark:
        raise MarkRefused(
            "mark-over-maximum",
            f"{criterion.name} takes at most {criterion.max_mark:f}; {mark.value:f} was sent.",
        )
    if mark.value < 0:
        raise MarkRefused("mark-below-zero", f"{criterion.name}: no mark is below zero.")
    if mark.value % criterion.step:
        raise MarkRefused(
            "mark-off-step",
            f"{criterion.name} goes in steps of {criterion.step:f}; {mark.value:f} was sent.",
        )
