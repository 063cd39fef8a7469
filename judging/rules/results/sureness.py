"""How sure the places of a class are, by the judges' marks alone."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Generic

import numpy as np

from judging.rules.results.effects import AdditiveFit, fit_additive, fit_crossed
from judging.rules.results.rank_intervals import rank_uncertainty
from judging.rules.results.section_points import E, SectionPoints
from judging.rules.results.uncertainty import (
    Estimates,
    Neighbours,
    neighbours,
    of_crossed,
    of_sections,
)

SECTIONS, CROSSED = "sections", "crossed"


@dataclass(frozen=True)
class Sureness(Generic[E]):
    """What the marks say of the places.

    Attributes
    ----------
    basis : str
        ``sections`` for adjusted means, ``crossed`` for a mixed model, empty when refused.
    refused : str
        Why nothing can be told, in a sentence; empty when it can.
    neighbours : tuple of Neighbours
        Each two entries next to each other in the placings.
    reach : dict of entry to (int, int)
        Best and worst place of the 95 % interval.
    df : float or None
        Degrees of freedom behind it; None when they are without end.
    """

    basis: str
    refused: str
    neighbours: tuple[Neighbours, ...] = ()
    reach: Mapping[E, tuple[int, int]] | None = None
    df: float | None = None


def how_sure(
    points: Sequence[SectionPoints[E]],
    place: Mapping[E, int],
    judges_required: Mapping[str, int],
    worth: Mapping[str, Decimal],
    *,
    by_crossed: bool = False,
) -> Sureness[E]:
    """Say how sure the order of a class is.

    Parameters
    ----------
    points : sequence of SectionPoints [points]
    place : mapping of entry to int
        In printed order, the winner first; entries that share a place carry the same one.
    judges_required : mapping of section to int
    worth : mapping of section to Decimal [points]
        Of one judge's card of the section; a mixed model wants sections on one scale.
    by_crossed : bool
        Go by the mixed model instead of adjusted means.

    Returns
    -------
    Sureness

    Notes
    -----
    Where every judge who saw an entry marked all its sections, the judges' totals are looked at,
    which keeps a liking that runs through the sections; otherwise section by section. It covers
    what the judges' disagreement shows; a mistake which all judges share is not in it.

    Source
    ------
    As `of_sections`, `of_crossed`, `neighbours` and `rank_uncertainty`.

    Example
    -------
    >>> wrote = {1: (30, 31, 32), 2: (25, 26, 28), 3: (10, 11, 11)}
    >>> cards = [SectionPoints(entry, judge, "trail", Decimal(mark))
    ...          for entry, row in wrote.items() for judge, mark in zip("ABC", row)]
    >>> found = how_sure(cards, {1: 1, 2: 2, 3: 3}, {"trail": 3}, {"trail": Decimal(40)})
    >>> found.reach
    {1: (1, 1), 2: (2, 2), 3: (3, 3)}
    >>> found.neighbours[0].sentence
    'First and second are in this order with a chance of 99 in 100 or more.'
    """
    ordered = sorted(points, key=lambda card: (str(card.entry), str(card.judge), card.section))
    basis = CROSSED if by_crossed else SECTIONS
    if len(place) < 2:
        return Sureness("", "One entry alone: there is no order to be sure of.")
    try:
        found = _crossed(ordered, worth) if by_crossed else _additive(ordered, judges_required)
        between = neighbours(found, list(place))
        ranks = rank_uncertainty(found, shrunk=by_crossed)
    except (ValueError, np.linalg.LinAlgError) as fault:
        return Sureness("", str(fault) or "The errors of these marks cannot be told.")
    reach = zip(ranks.entries, ranks.low.tolist(), ranks.high.tolist(), strict=True)
    ends = {entry: (low, high) for entry, low, high in reach}
    return Sureness(
        basis=basis,
        refused="",
        neighbours=tuple(_level(pair, place) for pair in between),
        reach={entry: ends[entry] for entry in place},
        df=found.df if math.isfinite(found.df) else None,
    )


def _level(pair: Neighbours, place: Mapping[E, int]) -> Neighbours:
    """Two who share a place are not put in an order."""
    # Neighbours are entries, which their type does not carry on.
    ahead, behind = (place[entry] for entry in (pair.ahead, pair.behind))  # type: ignore[index]
    if ahead != behind:
        return pair
    return replace(pair, told_apart=False, sentence=f"These two share place {ahead}.")


def _additive(points: Sequence[SectionPoints[E]], need: Mapping[str, int]) -> Estimates:
    cards: dict[tuple[E, Hashable], dict[str, Decimal]] = defaultdict(dict)
    for card in points:
        cards[card.entry, card.judge][card.section] = card.points
    whole = all(row.keys() == need.keys() for row in cards.values())
    if whole and len(set(need.values())) == 1:
        pairs = list(cards)
        totals = [float(sum(row.values(), Decimal(0))) for row in cards.values()]
        fit = fit_additive([entry for entry, _ in pairs], [judge for _, judge in pairs], totals)
        return of_sections({"": _telling(fit)}, {"": next(iter(need.values()))})
    fits = {}
    for section in need:
        here = [card for card in points if card.section == section]
        fit = fit_additive(
            [card.entry for card in here],
            [card.judge for card in here],
            [float(card.points) for card in here],
        )
        fits[section] = _telling(fit, f" of section {section}")
    return of_sections(fits, need)


def _telling(fit: AdditiveFit, where: str = "") -> AdditiveFit:
    """Refuse marks that do not say how sure an order is."""
    if not fit.connected:
        named = "; ".join(", ".join(str(entry) for entry in group) for group in fit.groups)
        raise ValueError(
            f"How sure the places are cannot be told: no judge{where} links these groups of "
            f"entries: {named}."
        )
    if fit.sigma2 is None:
        why = "one judge's marks" if len(fit.judges) == 1 else "so few marks"
        raise ValueError(f"How sure the places are cannot be told from {why}{where}.")
    return fit


def _crossed(points: Sequence[SectionPoints[E]], worth: Mapping[str, Decimal]) -> Estimates:
    pairs = [(card.entry, card.judge) for card in points]
    return of_crossed(
        fit_crossed(
            [entry for entry, _ in pairs],
            [judge for _, judge in pairs],
            [float(card.points / worth[card.section]) for card in points],
            [card.section for card in points],
            card=len(set(pairs)) < len(pairs),
        )
    )
