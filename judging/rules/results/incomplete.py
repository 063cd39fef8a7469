"""A class with cards missing: places by what is there, and how far the missing could move them."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import product
from math import floor
from typing import Generic

from judging.rules.results.crossed_totals import crossed
from judging.rules.results.methods import METHODS
from judging.rules.results.section_points import E, SectionPoints, Totals
from judging.rules.results.totals import judge_adjusted

# With more cards missing than this, not every filling is tried. More points to one entry never cost
# it a place by the methods not named, nor win another one: two fillings settle it.
EVERY_FILLING_UP_TO = {"judge_adjusted": 5, "crossed": 3, "placings": 5}


@dataclass(frozen=True)
class Gap(Generic[E]):
    """A card that is not there: of this judge, for this entry and section.

    Attributes
    ----------
    entry, judge : hashable
    section : str
        Section code.
    """

    entry: E
    judge: Hashable
    section: str


Places = Mapping[E, int]
Filling = tuple[SectionPoints[E], ...]


def at_the_mean(
    points: Sequence[SectionPoints[E]], gaps: Iterable[Gap[E]]
) -> list[SectionPoints[E]]:
    """Fill each gap with the mean of what the entry's other judges of the section gave.

    Parameters
    ----------
    points : sequence of SectionPoints [points]
    gaps : iterable of Gap

    Returns
    -------
    list of SectionPoints [points]
        The cards made up. With those there they add up to the mean times the judges asked for,
        rounded half up to 0.01. A section that no judge of the entry marked stays empty: missing
        is never nought.

    Source
    ------
    Arithmetic; that a missing card counts as the mean of the others is common practice, no source.

    Example
    -------
    >>> there = [SectionPoints("Ace", judge, "trail", Decimal(mark))
    ...          for judge, mark in (("A", "31.50"), ("B", "33.25"))]
    >>> [str(card.points) for card in at_the_mean(there, [Gap("Ace", "C", "trail")])]
    ['32.38']
    """
    given: dict[tuple[E, str], list[Decimal]] = {}
    for card in points:
        given.setdefault((card.entry, card.section), []).append(card.points)
    lacking: dict[tuple[E, str], list[Gap[E]]] = {}
    for gap in gaps:
        if (gap.entry, gap.section) in given:
            lacking.setdefault((gap.entry, gap.section), []).append(gap)
    made = []
    for where, here in lacking.items():
        there = given[where]
        scaled = sum((Fraction(value) for value in there), Fraction(0)) * len(here) / len(there)
        each, odd = divmod(floor(scaled * 100 + Fraction(1, 2)), len(here))
        made += [
            SectionPoints(gap.entry, gap.judge, gap.section, Decimal(each + (n < odd)) / 100)
            for n, gap in enumerate(here)
        ]
    return made


def totals_of_what_is_there(
    method: str,
    points: Sequence[SectionPoints[E]],
    gaps: Sequence[Gap[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
) -> Totals[E]:
    """Make totals by one method although cards are missing, where the method allows it.

    Parameters
    ----------
    method : str
        One of ``METHODS``.
    points : sequence of SectionPoints [points]
    gaps : sequence of Gap
        Empty for a complete class, whose totals are the method's own.
    entries : sequence of hashable, shape (n_entries,)
    sections : sequence of str
    judges_required : mapping of section to int

    Returns
    -------
    Totals
        Sums and means count a missing card as `at_the_mean`. Adjusted totals and crossed effects
        need nothing made up: they are estimates for all judges from those who gave points.
        Places of the judges are refused. An entry that no judge saw in a section has no total.

    Raises
    ------
    ValueError
        As for `plain`.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> there = [SectionPoints("Ace", judge, "trail", Decimal(30)) for judge in "AB"]
    >>> task = ["Ace"], ["trail"], {"trail": 3}
    >>> totals_of_what_is_there("plain", there, [Gap("Ace", "C", "trail")], *task).total
    {'Ace': Decimal('90')}
    """
    task = entries, sections, judges_required
    if not gaps:
        return METHODS[method](points, *task)
    if method == "judge_adjusted":
        return judge_adjusted(points, *task, with_gaps=True)
    if method == "crossed":
        return crossed(points, *task, with_gaps=True)
    if method == "placings":
        named = ", ".join(sorted({f"{gap.judge} at entry {gap.entry}" for gap in gaps}))
        return Totals(
            total=dict.fromkeys(entries),
            by_section={},
            missing=(),
            refused=f"Places need every judge's card of every entry; missing: {named}.",
        )
    return METHODS[method]([*points, *at_the_mean(points, gaps)], *task)


def places_within_reach(
    gaps: Sequence[Gap[E]],
    entries: Sequence[E],
    worth: Mapping[str, Decimal],
    place: Callable[[Filling[E]], Places[E] | None],
    *,
    every_up_to: int = 0,
) -> dict[E, tuple[int, int]]:
    """Give the best and the worst place each entry could have, whatever the missing cards say.

    Parameters
    ----------
    gaps : sequence of Gap
    entries : sequence of hashable, shape (n_entries,)
    worth : mapping of section to Decimal [points]
        The most a card can give the section; the least is nought.
    place : callable
        From cards for all the gaps to the place of every entry; None where the method refuses.
    every_up_to : int
        Two fillings an entry are tried: its own cards full and its rivals' nought, and the
        reverse. Up to this many gaps, every filling with full cards and noughts is tried as well.

    Returns
    -------
    dict of entry to (int, int)
        Best and worst; without the entries that no filling placed.

    Notes
    -----
    Exact for sums and means, by which more points to one entry never cost it a place nor win
    another one: any other cards lie between the two. By other methods a third entry's cards tell on
    two others, so every filling is worth trying; one between them might reach further still.

    Source
    ------
    Arithmetic.

    Example
    -------
    Bell lacks a card worth 10 and is 4 behind Ace:

    >>> def by_total(cards):
    ...     bell = 16 + sum(card.points for card in cards)
    ...     return {"Ace": 1 + (bell > 20), "Bell": 1 + (bell < 20)}
    >>> places_within_reach([Gap("Bell", "C", "trail")], ["Ace", "Bell"],
    ...                     {"trail": Decimal(10)}, by_total)
    {'Ace': (1, 2), 'Bell': (1, 2)}
    """
    if not gaps:
        return {}
    # Entries without a gap all ask for the same two fillings.
    known: dict[tuple[bool, ...], Places[E] | None] = {}

    def placed(full: tuple[bool, ...]) -> Places[E] | None:
        if full not in known:
            known[full] = place(
                tuple(
                    SectionPoints(gap.entry, gap.judge, gap.section, worth[gap.section] * high)
                    for gap, high in zip(gaps, full, strict=True)
                )
            )
        return known[full]

    every: list[tuple[bool, ...]] = []
    if len(gaps) <= every_up_to:
        every = list(product((False, True), repeat=len(gaps)))
    reach = {}
    for entry in entries:
        own = tuple(gap.entry == entry for gap in gaps)
        tried = [placed(full) for full in (own, tuple(not high for high in own), *every)]
        places = [found[entry] for found in tried if found is not None and entry in found]
        if places:
            reach[entry] = min(places), max(places)
    return reach
