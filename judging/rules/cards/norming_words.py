"""What is said of the marks on the practice wagon: questions and plain figures, no blame."""

from __future__ import annotations

from collections.abc import Iterable
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
from showrun.language import gettext as _
from showrun.language import listed, ngettext

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
        return _("No row of this judge was marked by another judge too.")
    if severity.n_rows < ENOUGH_ROWS or severity.standard_error is None:
        return ngettext(
            "Rests on {n} row only; too few to say.",
            "Rests on {n} rows only; too few to say.",
            severity.n_rows,
        ).format(n=severity.n_rows)
    by = of_ten(abs(severity.share))
    around = of_ten(Fraction(CLEAR_ERRORS * severity.standard_error))
    higher = severity.share > 0
    if severity.clear:
        said = (
            _("Marks higher than the others: {by} on a row of ten, give or take {around}.")
            if higher
            else _("Marks lower than the others: {by} on a row of ten, give or take {around}.")
        )
    elif by == "0.0":
        said = _("Level with the others, give or take {around} on a row of ten.")
    elif higher:
        said = _("No clear difference: {by} higher on a row of ten, give or take {around}.")
    else:
        said = _("No clear difference: {by} lower on a row of ten, give or take {around}.")
    return said.format(by=by, around=around)


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
        return _("No mark yet.")
    told = _("From {low} to {high} of ten.").format(
        low=of_ten(use.lowest), high=of_ten(use.highest)
    )
    if use.lowest == use.highest:
        told = _("Only {low} of ten.").format(low=of_ten(use.lowest))
    if use.one_mark:
        told += " " + _("{n} of {rows} rows have the same mark: were they alike?").format(
            n=use.n_commonest, rows=use.n_rows
        )
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
        return _("gave {mark}").format(mark=_plain(mark))
    return _("passed it") if mark else _("failed it")


def _question(spread: RowSpread) -> str:
    """Ask about the marks if they are apart, and about rows only some could mark."""
    asked = []
    if spread.apart:
        groups = [
            (mark, [judge for judge, _ in pairs])
            for mark, pairs in groupby(spread.given, key=lambda pair: pair[1])
        ]
        ends = (groups[0], groups[-1])
        told = ", ".join(f"{listed(who)} {mark_words(spread.row, mark)}" for mark, who in ends)
        asked.append(_("{told}: what did each of you see?").format(told=told))
    marked = listed([judge for judge, _ in spread.given])
    if spread.not_applicable and spread.given:
        said = listed(spread.not_applicable)
        which = _("{judges} wrote “not applicable”, {marked} gave a mark: which is it here?")
        asked.append(which.format(judges=said, marked=marked))
    if spread.not_inspected and spread.given:
        how = _("{judges} could not inspect it, {marked} could: how did you get to see it?")
        asked.append(how.format(judges=listed(spread.not_inspected), marked=marked))
    if spread.not_applicable and spread.not_inspected and not spread.given:
        there = _("{judges} wrote “not applicable”, {others} “not inspected”: is it on this wagon?")
        asked.append(
            there.format(judges=listed(spread.not_applicable), others=listed(spread.not_inspected))
        )
    return " ".join(asked)


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
