"""A scorecard as values: sections, criteria, and which marks a criterion can take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from judging.rules.cards.condition import Condition, applies
from showrun.language import gettext as _


class MarkState(StrEnum):
    """Three different things that stay different to the last report; zero is a mark."""

    MARKED = "marked"
    NOT_APPLICABLE = "not_applicable"
    NOT_INSPECTED = "not_inspected"

    @property
    def words(self) -> str:
        """The state as people say it."""
        return {
            "marked": _("marked"),
            "not_applicable": _("not applicable"),
            "not_inspected": _("not inspected"),
        }[self.value]


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
        return {
            "points": _("points"),
            "pass_fail": _("pass or fail"),
            "placings": _("places only"),
        }[self.value]


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


def check_mark(
    criterion: Criterion, facts: Mapping[str, str], mark: Mark, form: Form = Form.POINTS
) -> None:
    """Refuse a mark that the criterion cannot take on this rig.

    Parameters
    ----------
    criterion : Criterion
    facts : mapping
        The rig.
    mark : Mark
        Value in marks of the criterion, `None` unless the state is marked.
    form : Form
        Of the section the criterion stands in.

    Raises
    ------
    MarkRefused
        ``criterion-not-on-rig``, ``mark-missing``, ``mark-over-maximum``,
        ``mark-below-zero``, ``mark-off-step``, ``mark-not-empty``, and for places only
        ``place-below-first`` or ``place-not-applicable``.

    Notes
    -----
    Pass is 1 and fail is 0, nothing between. Places are 1, 2, 3 and so on; every wagon gets one,
    so a row of places cannot be not applicable. It may be not inspected: then this judge has given
    no place and the section has no points.

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
    >>> safe = Criterion("extinguisher", "Extinguisher", Decimal(1), Decimal(1))
    >>> check_mark(safe, {}, Mark(MarkState.MARKED, Decimal("0.5")), Form.PASS_FAIL)
    Traceback (most recent call last):
    ...
    judging.rules.cards.scorecard.MarkRefused: Extinguisher takes 1 for pass or 0 for fail;
    0.5 was sent.
    """
    if not criterion.is_for(facts):
        raise MarkRefused("criterion-not-on-rig", f"{criterion.name} does not apply to this rig.")
    if mark.state is not MarkState.MARKED:
        if mark.value is not None:
            raise MarkRefused("mark-not-empty", f"{criterion.name}: no number with this state.")
        if form is Form.PLACINGS and mark.state is MarkState.NOT_APPLICABLE:
            raise MarkRefused(
                "place-not-applicable",
                f"{criterion.name}: every wagon gets a place, so this row always applies.",
            )
        return
    if mark.value is None:
        raise MarkRefused("mark-missing", f"{criterion.name}: the {_ASKED[form]} is missing.")
    _check_value(criterion, mark.value, form)


_ASKED = {Form.POINTS: "number", Form.PASS_FAIL: "pass or fail", Form.PLACINGS: "place"}
_SENTENCES = {
    Form.POINTS: {
        "mark-over-maximum": "{name} takes at most {most:f}; {value:f} was sent.",
        "mark-below-zero": "{name}: no mark is below zero.",
        "mark-off-step": "{name} goes in steps of {step:f}; {value:f} was sent.",
    },
    Form.PASS_FAIL: dict.fromkeys(
        ("mark-over-maximum", "mark-below-zero", "mark-off-step"),
        "{name} takes 1 for pass or 0 for fail; {value:f} was sent.",
    ),
    Form.PLACINGS: {
        "mark-over-maximum": "{name} takes places up to {most:f}; {value:f} was sent.",
        "mark-below-zero": "{name}: no place is below the first, which is 1.",
        "mark-off-step": "{name}: a place is a whole number; {value:f} was sent.",
        "place-below-first": "{name}: the first place is 1; there is no place 0.",
    },
}


def _check_value(row: Criterion, value: Decimal, form: Form) -> None:
    if value > row.max_mark:
        code = "mark-over-maximum"
    elif value < 0:
        code = "mark-below-zero"
    elif value % row.step:
        code = "mark-off-step"
    elif form is Form.PLACINGS and value < 1:
        code = "place-below-first"
    else:
        return
    says = _SENTENCES[form][code]
    raise MarkRefused(
        code, says.format(name=row.name, most=row.max_mark, step=row.step, value=value)
    )
