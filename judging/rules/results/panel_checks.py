"""All checks of a panel's marks in one go, with what each means and what nobody can know."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from judging.rules.results.behaviour import SameCard, consistency, same_marks, tiring
from judging.rules.results.cards import CardTable, card_table
from judging.rules.results.checks import OddMarks, odd_marks_in
from judging.rules.results.habits import (
    Habits,
    OrderEffect,
    drift,
    order_effect,
    severity,
    spread,
)
from judging.rules.results.labels import Floats, Labels, finite_scores
from judging.rules.results.odd_cards import OddCards, odd_cards
from judging.rules.results.panel import analyse, read_marks
from judging.rules.results.swaps import Swaps, swapped_cards
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_

PAIR, FEW = 2, 3


@dataclass(frozen=True)
class Meaning:
    """What a check looks at and how far it may be trusted.

    Attributes
    ----------
    looks_at : str
        The statistic and what it is held against, in words.
    means, does_not_mean : str
        One sentence each.
    """

    looks_at: str
    means: str
    does_not_mean: str

    def said(self) -> Meaning:
        """Say it in the reader's language."""
        return Meaning(_(self.looks_at), _(self.means), _(self.does_not_mean))


# Each check keeps its own chance of a false alarm, alpha a show.
MEANINGS: Mapping[str, Meaning] = {
    "marks": Meaning(
        N_(
            "A mark's distance from what the panel and the judge's habit suggest, over its own "
            "error."
        ),
        N_("This mark fits neither the other judges nor this judge's other marks."),
        N_("It does not show a slip: the judge may have seen what the others missed."),
    ),
    "cards": Meaning(
        N_(
            "A card's distance from what the panel and the judge's severity suggest, over how "
            "much judges' likings vary in this show."
        ),
        N_("This judge put this wagon higher or lower as a whole than liking usually goes here."),
        N_("It does not show favour or grudge, and says nothing of who is right."),
    ),
    "swaps": Meaning(
        N_("How much likelier two cards of a judge become when they are exchanged."),
        N_("The two cards fit the other judges' cards much better exchanged."),
        N_("It does not show which card is whose; ask the judge, look at the paper."),
    ),
    "severity": Meaning(
        N_("A judge's mean distance from the panel, over the error that cards carry."),
        N_("This judge scores higher or lower than the panel throughout."),
        N_("It harms no wagon where every judge saw every wagon, and is no fault."),
    ),
    "spread": Meaning(
        N_("How fast a judge's cards rise with the panel's, over the error of that slope."),
        N_("This judge sets the wagons wider, or less wide, apart than the others."),
        N_("It does not make the judge wrong; such a judge weighs more, or less, in a sum."),
    ),
    "consistency": Meaning(
        N_("Noise of a judge's rows within a card against the other judges', beyond a quarter."),
        N_("This judge's rows go along with the panel's less, or more, steadily than the others'."),
        N_("It does not show carelessness: a judge with an eye of their own looks the same."),
    ),
    "drift": Meaning(
        N_("How a judge's cards rise or fall with the hours beside the others', over its error."),
        N_("This judge became milder or stricter through the day, beside the others."),
        N_("It cannot show a drift that all judges share."),
    ),
    "tiring": Meaning(
        N_("Noise of a judge's later cards against the earlier ones, beyond a quarter."),
        N_("This judge marked less, or more, steadily late than early."),
        N_("It does not tell a tired judge from wagons that were harder to judge."),
    ),
    "order": Meaning(
        N_("How cards go with the merit of the wagon the judge saw just before, over its error."),
        N_("A wagon gained or lost by the one seen before it."),
        N_("It cannot be seen at all when all judges walk in one order."),
    ),
    "same": Meaning(
        N_("How little the rows of a card differ beside the other judges' cards of the wagon."),
        N_("This card has the same mark on nearly every row, the others' cards have not."),
        N_("It does not show that the wagon was not looked at."),
    ),
}


@dataclass(frozen=True, eq=False)
class PanelChecks:
    """What the checks of a panel found.

    Attributes
    ----------
    marks : OddMarks
    cards : OddCards
    swaps : Swaps
    severity, spread, consistency : Habits
    drift, tiring : Habits or None
        None without times.
    order : OrderEffect or None
    same : tuple of SameCard
    alpha : float
        Chance of a false alarm a show, of each check by itself.
    cannot_know : tuple of str
        What this panel leaves open, in sentences for the page.
    """

    marks: OddMarks
    cards: OddCards
    swaps: Swaps
    severity: Habits
    spread: Habits
    consistency: Habits
    drift: Habits | None
    tiring: Habits | None
    order: OrderEffect | None
    same: tuple[SameCard, ...]
    alpha: float
    cannot_know: tuple[str, ...]


def check_panel(
    entry: Labels,
    judge: Labels,
    criterion: Labels,
    score: ArrayLike,
    minute: ArrayLike | None = None,
    alpha: float = 0.05,
) -> PanelChecks:
    """Run every check over the marks of a panel.

    Parameters
    ----------
    entry, judge, criterion : sequence of hashable, shape (n,)
    score : array_like of float, shape (n,) [points]
        On one common scale, 0 to 10.
    minute : array_like of float, shape (n,), optional [min]
        When each mark was given; a card's time is the mean of its marks.
    alpha : float
        Of each check by itself.

    Returns
    -------
    PanelChecks

    Raises
    ------
    ValueError
        As `odd_marks`; and when a time is not finite.

    Notes
    -----
    Ten checks at 5 % each raise some flag in up to 40 clean shows of 100. Each is a question to a
    person, never a finding; nothing is altered.

    Source
    ------
    The checks' own sources; to keep alpha for each check is our own choice.

    Example
    -------
    >>> entry, judge, row = (axis.ravel() for axis in np.indices((8, 3, 5)))
    >>> score = 5 + entry % 3 + (entry * 7 + judge * 5 + row * 3) % 4 / 4
    >>> found = check_panel(entry, judge, row, score + 2.0 * ((entry == 6) & (judge == 1)))
    >>> [(found.cards.entry[i], found.cards.judge[i]) for i in found.cards.flagged]
    [(6, 1)]
    """
    analysis = analyse(read_marks(entry, judge, criterion, score))
    table = card_table(analysis)
    when = None if minute is None else _times(table, finite_scores(minute, mark=entry))
    order = None if when is None else order_effect(table, when, alpha)
    return PanelChecks(
        marks=odd_marks_in(analysis, alpha, table.steadiness),
        cards=odd_cards(table, alpha),
        swaps=swapped_cards(table, alpha),
        severity=severity(table, alpha),
        spread=spread(table, alpha),
        consistency=consistency(table, alpha),
        drift=None if when is None else drift(table, when, alpha),
        tiring=None if when is None else tiring(table, when, alpha),
        order=order,
        same=same_marks(table, alpha),
        alpha=alpha,
        cannot_know=cannot_know(table, timed=when is not None, order=order),
    )


def cannot_know(
    table: CardTable, *, timed: bool = False, order: OrderEffect | None = None
) -> tuple[str, ...]:
    """Say what the marks of this panel leave open however well they are looked at.

    Parameters
    ----------
    table : CardTable
    timed : bool
        Whether times were given.
    order : OrderEffect, optional

    Returns
    -------
    tuple of str

    Source
    ------
    Arithmetic of two-way tables; the power figures by our own simulation.

    Example
    -------
    >>> marks = read_marks(list("AABB"), list("XYXY"), ["fire"] * 4, [7, 8, 5, 9])
    >>> cannot_know(card_table(analyse(marks)))[0]
    'Two judges: where they differ, nobody can tell from the marks which of them is off.'
    """
    n_judges, n_entries = len(table.analysis.marks.judges), len(table.analysis.marks.entries)
    groups = max(design.seen.n_components for design in table.analysis.designs)
    sentences = []
    if n_judges == 1:
        sentences.append(_("One judge: no mark, card or habit can be held against another's."))
    if n_judges == PAIR:
        sentences += [
            _(
                "Two judges: where they differ, nobody can tell from the marks which of them is "
                "off."
            ),
            _("Two judges: which of them is the steadier cannot be told."),
        ]
    if n_judges == FEW:
        sentences.append(
            _(
                "Three judges: two who err alike make the third look odd, and one in six favours "
                "of two points goes unseen."
            )
        )
    if n_judges > 1:
        sentences += [
            _(
                "What all judges have in common, a shared liking or a shared mistake, cannot be "
                "seen."
            ),
            _("A slip of one to three points mostly cannot be told from a judge's opinion."),
        ]
    if n_entries < 6:
        sentences.append(_("Fewer than six wagons: the checks see only the grossest errors."))
    if groups > 1:
        sentences.append(_("Some judges share no wagon with the others and cannot be compared."))
    if timed and order is not None and np.isnan(order.size):
        sentences.append(_("All judges walked in one order: what it did to the marks is untold."))
    return tuple(sentences)


def _times(table: CardTable, minute: Floats) -> Floats:
    """Mean time of each card."""
    total = np.bincount(table.card_of, weights=minute)
    times: Floats = total / table.n_marks
    return times
