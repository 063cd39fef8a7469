"""From a class's cards to its result: places, purse, every method, and how sure all of it is."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from judging.rules.results.incomplete import (
    EVERY_FILLING_UP_TO,
    Filling,
    Gap,
    places_within_reach,
    totals_of_what_is_there,
)
from judging.rules.results.method_figures import ADJUSTING
from judging.rules.results.methods import METHODS
from judging.rules.results.placing import Placing, place
from judging.rules.results.purse import pay, split
from judging.rules.results.section_points import SectionPoints, Totals
from judging.rules.results.sureness import Sureness, how_sure

# Changes whenever the same marks could give another result.
RULE_VERSION = "5"


@dataclass(frozen=True)
class ClassCase:
    """All that a class's result follows from.

    Attributes
    ----------
    method : str
        The one declared.
    points : sequence of SectionPoints [points]
        Of the cards that count, by entry number.
    entries : sequence of int
        Numbers of the entries.
    worth : mapping of section to Decimal [points]
        Sections with what one judge's card can give; in the order of the scorecard.
    judges_required : mapping of section to int
    ladder : sequence of str
        Sections that part equal totals.
    gaps : sequence of Gap
        Cards missing; empty for a complete class.
    by_places : sequence of str
        Names of sections that are judged by places only.
    purse_cents : int [cents]
    purse_weights : sequence of Decimal
        Share of each place, the first place first.
    """

    method: str
    points: Sequence[SectionPoints[int]]
    entries: Sequence[int]
    worth: Mapping[str, Decimal]
    judges_required: Mapping[str, int]
    ladder: Sequence[str] = ()
    gaps: Sequence[Gap[int]] = ()
    by_places: Sequence[str] = ()
    purse_cents: int = 0
    purse_weights: Sequence[Decimal] = ()


@dataclass(frozen=True)
class ByMethod:
    """An entry's total and place by one method, and the section that parted it from an equal."""

    total: Decimal
    place: int
    decided_by: str | None


@dataclass(frozen=True)
class Line:
    """One entry's line in the result.

    Attributes
    ----------
    by_section : mapping of section to Decimal [points]
    by_method : mapping of method to ByMethod
        Of the methods that are not refused; the one declared is among them.
    ranks : (int, int) or None
        95 % interval of the place; None where it cannot be told.
    reach : (int, int) or None
        Best and worst place the missing cards allow; None when none is missing.
    purse_cents : int [cents]
    """

    entry: int
    place: int
    total: Decimal
    decided_by: str | None
    by_section: Mapping[str, Decimal]
    by_method: Mapping[str, ByMethod]
    ranks: tuple[int, int] | None
    reach: tuple[int, int] | None
    purse_cents: int


@dataclass(frozen=True)
class ClassResult:
    """A class's result.

    Attributes
    ----------
    lines : tuple of Line
        In order of place, equal ones by entry number; empty when ``refused``.
    refused : str
        Why the method declared gives no result; empty when it does.
    unplaced : tuple of (int, str)
        Entries which no judge saw in a section, and the section: there is no total without it.
    refusals : mapping of method to str
    judge_effects : mapping of section to mapping of judge to float [points]
        By `judge_adjusted`.
    sureness : Sureness or None
    """

    lines: tuple[Line, ...] = ()
    refused: str = ""
    unplaced: tuple[tuple[int, str], ...] = ()
    refusals: Mapping[str, str] = field(default_factory=dict)
    judge_effects: Mapping[str, Mapping[Hashable, float]] = field(default_factory=dict)
    sureness: Sureness[int] | None = None


def class_result(case: ClassCase) -> ClassResult:
    """Make a class's result.

    Parameters
    ----------
    case : ClassCase

    Returns
    -------
    ClassResult

    Raises
    ------
    ValueError
        As for `plain`, `place` and `split`.

    Notes
    -----
    The order of points, entries and gaps does not matter. Places are exact; what is estimated
    (ranks, chances) stands beside them and decides nothing.

    Source
    ------
    Common practice, no source, and what it calls.

    Example
    -------
    >>> wrote = {4: (30, 31), 7: (35, 36)}
    >>> cards = [SectionPoints(entry, judge, "trail", Decimal(mark))
    ...          for entry, row in wrote.items() for judge, mark in zip("AB", row)]
    >>> found = class_result(ClassCase("plain", cards, [4, 7], {"trail": Decimal(40)},
    ...     {"trail": 2}, purse_cents=10000, purse_weights=[Decimal(60), Decimal(40)]))
    >>> [(line.place, line.entry, str(line.total), line.purse_cents) for line in found.lines]
    [(1, 7, '71', 6000), (2, 4, '61', 4000)]
    """
    case = _in_order(case)
    totals = {name: _totals(case, name) for name in METHODS}
    refusals = {name: found.refused for name, found in totals.items() if found.refused}
    effects = totals["judge_adjusted"].judge_effects
    declared = totals[case.method]
    if declared.refused:
        return ClassResult(refused=declared.refused, refusals=refusals, judge_effects=effects)
    if declared.missing:
        unplaced = tuple((gap.entry, gap.section) for gap in declared.missing)
        return ClassResult(unplaced=unplaced, refusals=refusals, judge_effects=effects)
    placed = {name: _placed(found, case.ladder) for name, found in totals.items()}
    # In order of place, equal ones by number.
    order = list(placed[case.method].values())
    paid = _paid(case, [line.place for line in order])
    sure = _sureness(case, {line.entry: line.place for line in order})
    reach = _reach(case)
    lines = tuple(
        Line(
            entry=line.entry,
            place=line.place,
            total=line.total,
            decided_by=line.decided_by,
            by_section=declared.by_section[line.entry],
            by_method={
                name: ByMethod(
                    by[line.entry].total, by[line.entry].place, by[line.entry].decided_by
                )
                for name, by in placed.items()
                if line.entry in by
            },
            ranks=(sure.reach or {}).get(line.entry),
            reach=reach.get(line.entry),
            purse_cents=cents,
        )
        for line, cents in zip(order, paid, strict=True)
    )
    return ClassResult(lines, refusals=refusals, judge_effects=effects, sureness=sure)


def _in_order(case: ClassCase) -> ClassCase:
    """Put marks, entries and gaps in one order, so that not even a last digit hangs on theirs."""
    return replace(
        case,
        points=sorted(case.points, key=lambda card: (card.entry, str(card.judge), card.section)),
        entries=sorted(case.entries),
        gaps=sorted(case.gaps, key=lambda gap: (gap.entry, str(gap.judge), gap.section)),
    )


def _totals(
    case: ClassCase, method: str, gaps: Sequence[Gap[int]] | None = None, more: Filling[int] = ()
) -> Totals[int]:
    if method in ADJUSTING and case.by_places:
        return _not_by_places(case)
    return totals_of_what_is_there(
        method,
        [*case.points, *more],
        case.gaps if gaps is None else gaps,
        case.entries,
        list(case.worth),
        case.judges_required,
    )


def _places_only(case: ClassCase) -> str:
    names = case.by_places
    return f"{', '.join(names)} {'is' if len(names) == 1 else 'are'} judged by places only"


def _not_by_places(case: ClassCase) -> Totals[int]:
    """Refuse to adjust places: they tell an order and no judge's severity."""
    return Totals(
        total=dict.fromkeys(case.entries),
        by_section={},
        missing=(),
        refused=f"Totals cannot be adjusted for the judges: {_places_only(case)}, and places do "
        "not show how high or low a judge scores.",
    )


def _placed(totals: Totals[int], ladder: Sequence[str]) -> dict[int, Placing[int]]:
    if totals.refused:
        return {}
    return {line.entry: line for line in place(totals.complete, totals.by_section, ladder)}


def _paid(case: ClassCase, ranks: Sequence[int]) -> list[int]:
    if not case.purse_cents:
        return [0] * len(ranks)
    return pay(split(case.purse_cents, case.purse_weights), ranks)


def _sureness(case: ClassCase, places: Mapping[int, int]) -> Sureness[int]:
    if case.by_places:
        words = f"How sure the places are cannot be told: {_places_only(case)}."
        return Sureness("", words)
    by_crossed = case.method == "crossed"
    return how_sure(case.points, places, case.judges_required, case.worth, by_crossed=by_crossed)


def _reach(case: ClassCase) -> dict[int, tuple[int, int]]:
    def places(cards: Filling[int]) -> dict[int, int] | None:
        totals = _totals(case, case.method, gaps=(), more=cards)
        if totals.refused:
            return None
        return {entry: line.place for entry, line in _placed(totals, case.ladder).items()}

    most = EVERY_FILLING_UP_TO.get(case.method, 0)
    return places_within_reach(case.gaps, case.entries, case.worth, places, every_up_to=most)
