"""From a judge's marks in a section to its points, on whatever rig."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import floor

from judging.rules.cards.scorecard import Criterion, Mark, MarkState, NotInspected, Section

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

    Returns
    -------
    SectionScore
        `points` is None while a row lacks a mark (never zero), and when nothing could be
        inspected at all.

    Notes
    -----
    points = worth x sum(weight x mark) / sum(weight x maximum) over the rows that count,
    rounded half up to 0.01, so that a reader can add the printed figures. Sums of decimals
    with two places are exact, and so is the division, by fractions.

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
    given = possible = Decimal(0)
    for row in rows:
        mark = marks[row.code]
        if mark.state is MarkState.NOT_APPLICABLE:
            continue
        if mark.state is MarkState.NOT_INSPECTED and not_inspected is NotInspected.RESCALE:
            continue
        possible += row.weight * row.max_mark
        given += row.weight * (mark.value or 0)
    if not possible:
        return SectionScore(None, (), unseen, absent)
    share = Fraction(given) / Fraction(possible)
    points = to_hundredths(Fraction(section.points) * share)
    return SectionScore(points, (), unseen, absent)


def _in_state(
    rows: tuple[Criterion, ...], marks: Mapping[str, Mark], state: MarkState
) -> tuple[str, ...]:
    return tuple(row.code for row in rows if row.code in marks and marks[row.code].state is state)
