"""More ways to make totals which a rule book may ask for: mean, trimmed mean, judges' placings."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from judging.rules.results.placing import borda, competition_ranks
from judging.rules.results.section_points import (
    HUNDREDTH,
    Cards,
    E,
    SectionPoints,
    Totals,
    cards_by_section,
    missing_cards,
    section_by_section,
    summed,
)

# Dropping the best and the worst of three judges leaves the whole say to one.
LEAST_TO_TRIM = 4
LEAST_TO_PLACE = 2


def trimmed_mean(values: Sequence[Decimal | int], drop: int = 1) -> Fraction:
    """Average what is left when the highest and the lowest values are dropped.

    Parameters
    ----------
    values : sequence of Decimal or int, shape (n,) [points]
    drop : int
        How many are dropped at either end.

    Returns
    -------
    Fraction [points]
        Exact.

    Raises
    ------
    ValueError
        When nothing would be left, or ``drop`` is below 0.

    Source
    ------
    Trimmed mean: Stigler, S. M., Annals of Statistics 5, 1977.

    Example
    -------
    >>> trimmed_mean([Decimal("9.5"), Decimal("3"), Decimal("8"), Decimal("8.5")])
    Fraction(33, 4)
    """
    if drop < 0 or len(values) <= 2 * drop:
        raise ValueError(f"Of {len(values)} values, {drop} at either end cannot be dropped.")
    kept = sorted(values)[drop : len(values) - drop]
    return sum((Fraction(value) for value in kept), Fraction(0)) / len(kept)


def mean(
    points: Iterable[SectionPoints[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
) -> Totals[E]:
    """Average what the judges of each section wrote, then add up the sections.

    Parameters
    ----------
    points : iterable of SectionPoints [points]
    entries : sequence of hashable, shape (n_entries,)
    sections : sequence of str
    judges_required : mapping of section to int

    Returns
    -------
    Totals
        As `plain`, but each section counts alike however many judges it has.

    Raises
    ------
    ValueError
        As for `plain`.

    Notes
    -----
    Exact, rounded half up to 0.01 in each section so that printed figures add up. Where all
    sections have the same number of judges the order is that of `plain`, but for this rounding.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> cards = [SectionPoints("Ace", "J1", "trail", Decimal("31.50")),
    ...          SectionPoints("Ace", "J2", "trail", Decimal("33.25"))]
    >>> mean(cards, ["Ace"], ["trail"], {"trail": 2}).total
    {'Ace': Decimal('32.38')}
    """
    return _averaged(points, entries, sections, judges_required, drop=0)


def trimmed(
    points: Iterable[SectionPoints[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
) -> Totals[E]:
    """Drop each entry's highest and lowest judge of a section, then average as `mean`.

    Parameters
    ----------
    points : iterable of SectionPoints [points]
    entries : sequence of hashable, shape (n_entries,)
    sections : sequence of str
    judges_required : mapping of section to int

    Returns
    -------
    Totals
        Refused (all totals ``None``) when a section has fewer than four judges.

    Raises
    ------
    ValueError
        As for `plain`.

    Notes
    -----
    It keeps one judge's favour from counting in full, at a price: with four judges 16 %, with
    five 12 % of what the panel knows is thrown away. With three judges the middle one alone would
    decide, at a price of 26 %, which is why it is refused.

    Source
    ------
    Common practice, no source; the price by our own simulation.

    Example
    -------
    >>> cards = [SectionPoints("Ace", judge, "trail", Decimal(mark))
    ...          for judge, mark in zip("ABCD", (30, 31, 32, 40))]
    >>> trimmed(cards, ["Ace"], ["trail"], {"trail": 4}).total
    {'Ace': Decimal('31.50')}
    """
    few = [section for section in sections if judges_required.get(section, 0) < LEAST_TO_TRIM]
    refused = (
        f"The highest and the lowest judge can be dropped with {LEAST_TO_TRIM} judges or more; "
        f"there are fewer in {_listed(few)}."
    )
    return _averaged(
        points, entries, sections, judges_required, drop=1, refused=refused if few else None
    )


def by_placings(
    points: Iterable[SectionPoints[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
) -> Totals[E]:
    """Let each judge of a section place the entries, and total the places as `borda`.

    Parameters
    ----------
    points : iterable of SectionPoints [points]
    entries : sequence of hashable, shape (n_entries,)
    sections : sequence of str
    judges_required : mapping of section to int

    Returns
    -------
    Totals
        In points of `borda`, so that the highest is best: one for each entry a judge put lower,
        half a one for each level. Refused when a section has one judge, or when some judge of a
        section did not see all its entries: their places cannot be compared.

    Raises
    ------
    ValueError
        As for `plain`.

    Notes
    -----
    Severity and spread of a judge play no part; how far apart entries were does not count either.
    Places are among the complete entries of the class.

    Source
    ------
    Borda count, as `borda` (from memory).

    Example
    -------
    >>> wrote = {"Ace": (40, 30), "Bell": (35, 38), "Cook": (20, 20)}
    >>> cards = [SectionPoints(entry, judge, "trail", Decimal(mark))
    ...          for entry, row in wrote.items() for judge, mark in zip("AB", row)]
    >>> found = by_placings(cards, list(wrote), ["trail"], {"trail": 2})
    >>> {entry: str(total) for entry, total in found.total.items()}
    {'Ace': '3', 'Bell': '3', 'Cook': '0'}
    """
    cards = cards_by_section(points, entries, sections)
    missing = missing_cards(cards, entries, sections, judges_required)
    short = {gap.entry for gap in missing}
    ready = [entry for entry in entries if entry not in short]
    refused = _placings_refused(cards, ready, sections, judges_required)
    by_section: dict[E, dict[str, Decimal]] = {entry: {} for entry in entries}
    for section in sections if ready and not refused else ():
        for entry, total in borda(_places(cards[section], ready)).items():
            by_section[entry][section] = total
    return Totals(
        total=summed(by_section, sections),
        by_section=by_section,
        missing=missing,
        refused=refused,
        standard_error=dict.fromkeys(entries),
    )


def _averaged(
    points: Iterable[SectionPoints[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
    *,
    drop: int,
    refused: str | None = None,
) -> Totals[E]:
    cards = cards_by_section(points, entries, sections)
    missing = missing_cards(cards, entries, sections, judges_required)
    by_section = section_by_section(
        cards,
        entries,
        () if refused else sections,
        missing,
        lambda _, given: _rounded(trimmed_mean(list(given.values()), drop)),
    )
    return Totals(
        total=summed(by_section, sections),
        by_section=by_section,
        missing=missing,
        refused=refused,
        standard_error=dict.fromkeys(entries),
    )


def _rounded(value: Fraction) -> Decimal:
    """Round half up to 0.01, exactly."""
    return Decimal(math.floor(value * 100 + Fraction(1, 2))) * HUNDREDTH


def _places(rows: Mapping[E, Mapping[Hashable, Decimal]], ready: Sequence[E]) -> list[dict[E, int]]:
    """Each judge's places of the entries."""
    judges = list(rows[ready[0]])
    return [
        dict(zip(ready, competition_ranks([rows[entry][judge] for entry in ready]), strict=True))
        for judge in judges
    ]


def _placings_refused(
    cards: Cards[E],
    ready: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
) -> str | None:
    alone = [one for one in sections if judges_required[one] < LEAST_TO_PLACE]
    parted = [one for one in sections if len({frozenset(cards[one][e]) for e in ready}) > 1]
    sentences = []
    if alone:
        sentences.append(f"Placings need two judges or more; there is one in {_listed(alone)}.")
    if parted:
        sentences.append(
            f"Placings need judges who saw every entry; some did not in {_listed(parted)}."
        )
    return " ".join(sentences) or None


def _listed(sections: Sequence[str]) -> str:
    return f"section{'s' if len(sections) > 1 else ''} {', '.join(sections)}"
