"""From a judge's marks in a section to its points, on whatever rig."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor

from judging.rules.cards.scorecard import Criterion, Form, Mark, MarkState, NotInspected, Section

CENT_POINT = Decimal("0.01")


def to_hundredths(value: Fraction) -> Decimal:
    """Round an exact value half up to 0.01 points.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> to_hundredths(Fraction(1, 200)), to_hundredths(Fraction(2, 3))
    (Decimal('0.01'), Decimal('0.67'))
    """
    return Decimal(floor(value * 100 + Fraction(1, 2))) * CENT_POINT


@dataclass(frozen=True)
class SectionScore:
    """A judge's section: its points, or the rows that still lack a mark."""

    points: Decimal | None
    missing: tuple[str, ...]
    not_inspected: tuple[str, ...]
    not_applicable: tuple[str, ...]


def score_section(
    section: Section,
    facts: Mapping[str, str],
    marks: Mapping[str, Mark],
    not_inspected: NotInspected = NotInspected.RESCALE,
    places: Sequence[Decimal] | None = None,
) -> SectionScore:
    """Turn a judge's marks in a section into points out of the section's worth.

    Parameters
    ----------
    section : Section
        Worth `section.points` [points].
    facts : mapping
        The rig; rows that do not apply to it are left out of both sides.
    marks : mapping of criterion code to Mark
    not_inspected : NotInspected
        What the class declares: left out and the rest rescaled, or counted as zero.
    places : sequence of Decimal, optional
        For a section of places: every place this judge gave in the class, this one among them.

    Returns
    -------
    SectionScore
        `points` is None while a row lacks a mark (never zero), and when nothing could be
        inspected at all; in a section of places also while the places of the class are not
        known, or when two wagons share one.

    Notes
    -----
    points = worth x sum(weight x mark) / sum(weight x maximum) over the rows that count,
    rounded half up to 0.01, so that a reader can add the printed figures. Sums of decimals
    with two places are exact, and so is the division, by fractions.

    Pass or fail is the same sum with a maximum of 1. Where the section is all or nothing, one row
    at zero gives it no points; a row left out (not applicable, or not inspected and rescaled)
    neither passes nor fails. Places only: see `points_of_place`; the policy for rows that could
    not be inspected has no effect there, because a wagon without a place has no rank.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> rows = (Criterion("a", "A", Decimal(10), Decimal(1)),
    ...         Criterion("b", "B", Decimal(10), Decimal(1), applies={"tongue": ["drop"]}))
    >>> section = Section("s", "S", Decimal(20), 5, rows)
    >>> given = {"a": Mark(MarkState.MARKED, Decimal(7))}
    >>> score_section(section, {"tongue": "stiff"}, given).points
    Decimal('14.00')
    """
    rows = section.rows_for(facts)
    missing = tuple(row.code for row in rows if row.code not in marks)
    unseen = _in_state(rows, marks, MarkState.NOT_INSPECTED)
    absent = _in_state(rows, marks, MarkState.NOT_APPLICABLE)
    if missing:
        return SectionScore(None, missing, unseen, absent)
    if section.form is Form.PLACINGS:
        points = _points_of_places(section, rows, marks, places)
    else:
        points = _points_of_marks(section, rows, marks, not_inspected)
    return SectionScore(points, (), unseen, absent)


def points_of_place(worth: Decimal, place: Decimal, places: Sequence[Decimal]) -> Decimal:
    """Turn one judge's place for a wagon into points out of the section's worth.

    Parameters
    ----------
    worth : Decimal [points]
    place : Decimal
        1 is best.
    places : sequence of Decimal
        Every place this judge gave in the class, in any order, `place` among them.

    Returns
    -------
    Decimal [points]
        worth x (n - r) / (n - 1), where the wagon is r-th of n; the whole worth when it is the
        only one. Rounded half up to 0.01.

    Raises
    ------
    ValueError
        When two wagons share a place, or `place` is not among `places`.

    Notes
    -----
    Only the order counts: places 1, 2, 5 give what 1, 2, 3 give, because a wagon that is scratched
    after it was placed leaves a gap.

    Source
    ------
    Common practice, no source: the first gets all, the last nothing, equal steps between.

    Examples
    --------
    >>> places = [Decimal(2), Decimal(1), Decimal(3)]
    >>> [points_of_place(Decimal(25), place, places) for place in places]
    [Decimal('12.50'), Decimal('25.00'), Decimal('0.00')]
    """
    if len(set(places)) < len(places):
        raise ValueError("Two wagons have the same place from one judge.")
    if place not in places:
        raise ValueError(f"Place {place:f} is not among the places this judge gave.")
    if len(places) == 1:
        return to_hundredths(Fraction(worth))
    behind = sum(other > place for other in places)
    return to_hundredths(Fraction(worth) * behind / (len(places) - 1))


def _points_of_marks(
    section: Section,
    rows: tuple[Criterion, ...],
    marks: Mapping[str, Mark],
    not_inspected: NotInspected,
) -> Decimal | None:
    """Points of a section whose rows are marked, or passed and failed."""
    given = possible = Decimal(0)
    failed = False
    for row in rows:
        mark = marks[row.code]
        if mark.state is MarkState.NOT_APPLICABLE:
            continue
        if mark.state is MarkState.NOT_INSPECTED and not_inspected is NotInspected.RESCALE:
            continue
        value = mark.value or Decimal(0)
        failed = failed or not value
        possible += row.weight * row.max_mark
        given += row.weight * value
    if not possible:
        return None
    if failed and section.form is Form.PASS_FAIL and section.all_or_nothing:
        return to_hundredths(Fraction(0))
    return to_hundredths(Fraction(section.points) * Fraction(given) / Fraction(possible))


def _points_of_places(
    section: Section,
    rows: tuple[Criterion, ...],
    marks: Mapping[str, Mark],
    places: Sequence[Decimal] | None,
) -> Decimal | None:
    """Points of a section of places, or None while they cannot be told."""
    own = marks[rows[0].code].value if rows else None
    if own is None or places is None or own not in places or len(set(places)) < len(places):
        return None
    return points_of_place(section.points, own, places)


def _in_state(
    rows: tuple[Criterion, ...], marks: Mapping[str, Mark], state: MarkState
) -> tuple[str, ...]:
    return tuple(row.code for row in rows if row.code in marks and marks[row.code].state is state)
