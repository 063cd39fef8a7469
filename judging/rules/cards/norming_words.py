"""What is said of the marks on the practice wagon: questions and plain figures, no blame."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from itertools import groupby

from judging.rules.cards.norming import (
    CLEAR_ERRORS,
    ENOUGH_ROWS,
    RowSpread,
    Severity,
    graded,
    to_discuss,
)
from judging.rules.cards.scale_use import ScaleUse
from judging.rules.cards.scorecard import Criterion

MOST_POINTS = 10


@dataclass(frozen=True)
class TalkingPoint:
    """One row worth a talk, with what to ask."""

    row: Criterion
    sentence: str


def talking_points(spreads: Iterable[RowSpread]) -> tuple[TalkingPoint, ...]:
    """Put a plain question for each row worth a talk, the widest apart first.

    Parameters
    ----------
    spreads : iterable of RowSpread

    Returns
    -------
    tuple of TalkingPoint
        As many as there are; a page shows the first `MOST_POINTS`.

    Notes
    -----
    It names who gave the lowest and the highest mark and asks both what they saw. Which of
    them is right it does not say: that is what the talk is for.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> hub = Criterion("hub", "Hubs", Decimal(10), Decimal(1))
    >>> spread = RowSpread(hub, (("J1", Decimal(4)), ("J2", Decimal(7)), ("J3", Decimal(9))))
    >>> talking_points([spread])[0].sentence
    'J1 gave 4, J3 gave 9: what did each of you see?'
    """
    found = [spread for spread in spreads if to_discuss(spread)]
    found.sort(key=lambda spread: -spread.share)
    return tuple(TalkingPoint(spread.row, _question(spread)) for spread in found)


def severity_words(severity: Severity) -> str:
    """Say how a judge marks beside the others, and how sure that is.

    Notes
    -----
    Figures are for a row of ten. “Give or take” is two standard errors.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> severity_words(Severity("J1", Fraction(-3, 40), 18, 0.02))
    'Marks lower than the others: 0.8 on a row of ten, give or take 0.4.'
    >>> severity_words(Severity("J1", Fraction(-3, 40), 3, 0.02))
    'Rests on 3 rows only; too few to say.'
    """
    if severity.share is None:
        return "No row of this judge was marked by another judge too."
    if severity.n_rows < ENOUGH_ROWS or severity.standard_error is None:
        rows = "1 row" if severity.n_rows == 1 else f"{severity.n_rows} rows"
        return f"Rests on {rows} only; too few to say."
    by = of_ten(abs(severity.share))
    around = of_ten(Fraction(CLEAR_ERRORS * severity.standard_error))
    way = "higher" if severity.share > 0 else "lower"
    if severity.clear:
        return f"Marks {way} than the others: {by} on a row of ten, give or take {around}."
    if by == "0.0":
        return f"Level with the others, give or take {around} on a row of ten."
    return f"No clear difference: {by} {way} on a row of ten, give or take {around}."


def scale_words(use: ScaleUse) -> str:
    """Say which part of the scale a judge used, and whether nearly all rows got one mark.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> scale_words(ScaleUse("J1", 12, Fraction(3, 10), Fraction(9, 10), Fraction(7, 10), 5))
    'From 3.0 to 9.0 of ten.'
    >>> scale_words(ScaleUse("J1", 12, Fraction(7, 10), Fraction(9, 10), Fraction(7, 10), 10))
    'From 7.0 to 9.0 of ten. 10 of 12 rows have the same mark: were they alike?'
    """
    if use.lowest is None or use.highest is None:
        return "No mark yet."
    told = f"From {of_ten(use.lowest)} to {of_ten(use.highest)} of ten."
    if use.lowest == use.highest:
        told = f"Only {of_ten(use.lowest)} of ten."
    if use.one_mark:
        told += f" {use.n_commonest} of {use.n_rows} rows have the same mark: were they alike?"
    return told


def of_ten(share: Fraction) -> str:
    """Write a share of a row's maximum as marks on a row of ten, to one place.

    Examples
    --------
    >>> of_ten(Fraction(1, 3)), of_ten(Fraction(1, 2))
    ('3.3', '5.0')
    """
    exact = Decimal(share.numerator * 10) / Decimal(share.denominator)
    return f"{exact.quantize(Decimal('0.1'), rounding=ROUND_HALF_UP):f}"


def mark_words(row: Criterion, mark: Decimal) -> str:
    """Say what was given: a number, or pass or fail where there is nothing between.

    Examples
    --------
    >>> mark_words(Criterion("tank", "Tank", Decimal(1), Decimal(1)), Decimal(0))
    'failed it'
    """
    if graded(row):
        return f"gave {_plain(mark)}"
    return "passed it" if mark else "failed it"


def _question(spread: RowSpread) -> str:
    """Ask about the marks if they are apart, and about rows only some could mark."""
    asked = []
    if spread.apart:
        groups = [
            (mark, [judge for judge, _ in pairs])
            for mark, pairs in groupby(spread.given, key=lambda pair: pair[1])
        ]
        ends = (groups[0], groups[-1])
        told = ", ".join(f"{_names(who)} {mark_words(spread.row, mark)}" for mark, who in ends)
        asked.append(f"{told}: what did each of you see?")
    marked = _names([judge for judge, _ in spread.given])
    if spread.not_applicable and spread.given:
        said = _names(spread.not_applicable)
        asked.append(f"{said} wrote “not applicable”, {marked} gave a mark: which is it here?")
    if spread.not_inspected and spread.given:
        asked.append(
            f"{_names(spread.not_inspected)} could not inspect it, {marked} could: "
            "how did you get to see it?"
        )
    if spread.not_applicable and spread.not_inspected and not spread.given:
        asked.append(
            f"{_names(spread.not_applicable)} wrote “not applicable”, "
            f"{_names(spread.not_inspected)} “not inspected”: is it on this wagon?"
        )
    return " ".join(asked)


def _names(judges: Sequence[str]) -> str:
    if len(judges) < 2:
        return "".join(judges)
    return f"{', '.join(judges[:-1])} and {judges[-1]}"


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
