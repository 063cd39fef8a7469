"""Totals by crossed effects: each mark less what its judge is believed to add to every mark."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal

from judging.rules.results.crossed import CrossedFit, fit_crossed
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

LEAST_TO_CROSS = 2


def crossed(
    points: Iterable[SectionPoints[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
    *,
    with_gaps: bool = False,
) -> Totals[E]:
    """Add up the judges' points, each less its judge's habit as far as the marks prove one.

    Parameters
    ----------
    points : iterable of SectionPoints [points]
    entries : sequence of hashable, shape (n_entries,)
    sections : sequence of str
    judges_required : mapping of section to int
    with_gaps : bool
        Give a total also to an entry that lacks judges, as long as one saw each section.

    Returns
    -------
    Totals
        Refused (all totals ``None``) when in some section the judges do not link the entries or no
        mark is to spare; and when one judge gave all marks there are.

    Raises
    ------
    ValueError
        As for `plain`.

    Notes
    -----
    One mixed model for each section: points = mean + entry + judge + noise, by restricted maximum
    likelihood. The points of a section are one figure a card, so a card's own liking is in the
    noise, where it belongs. What is taken off is the judge's best prediction: less than
    `judge_adjusted` takes off, and nought where judges differ no more than by chance. The entry's
    own figure is not drawn to the mean: with panels of different size that would cost an entry
    places for being seen by fewer. Where every judge saw every entry the result equals `plain`.
    A section with one judge, one entry or one mark for all is left as it is: nothing in it
    favours anybody. Rounded half up to 0.01 by section.

    Source
    ------
    As `fit_crossed` (from memory); taking off the prediction is common practice, no source.

    Example
    -------
    J3 scores above J1, by 4.40 as `judge_adjusted` has it; of that 3.94 is believed:

    >>> wrote = {"Ace": {"J2": 32, "J3": 35}, "Bell": {"J1": 30, "J2": 31},
    ...          "Cook": {"J1": 28, "J3": 32}, "Dell": {"J1": 33, "J2": 36}}
    >>> cards = [SectionPoints(entry, judge, "trail", Decimal(points))
    ...          for entry, row in wrote.items() for judge, points in row.items()]
    >>> result = crossed(cards, list(wrote), ["trail"], {"trail": 2})
    >>> {entry: str(total) for entry, total in result.total.items()}
    {'Ace': '65.10', 'Bell': '63.04', 'Cook': '59.86', 'Dell': '71.04'}
    """
    cards = cards_by_section(points, entries, sections)
    missing = missing_cards(cards, entries, sections, judges_required, with_gaps=with_gaps)
    fits = {section: _fit(cards[section]) for section in sections if _tells(cards[section])}
    refused = _refused(fits, cards)
    habits: dict[str, dict[Hashable, float]] = {
        section: dict(zip(fit.judges, fit.judge_effect.tolist(), strict=True))
        for section, fit in fits.items()
        if not refused
    }
    by_section = section_by_section(
        cards,
        entries,
        () if refused else sections,
        missing,
        lambda section, given: _points(given, habits.get(section, {}), judges_required[section]),
    )
    return Totals(
        total=summed(by_section, sections),
        by_section=by_section,
        missing=missing,
        refused=refused,
        judge_effects=habits,
        standard_error=dict.fromkeys(entries),
    )


def _tells(rows: Mapping[E, Mapping[Hashable, Decimal]]) -> bool:
    """Say whether several judges gave several entries several marks."""
    judges = {judge for row in rows.values() for judge in row}
    marks = {points for row in rows.values() for points in row.values()}
    return min(len(judges), len(rows), len(marks)) > 1


def _fit(rows: Mapping[E, Mapping[Hashable, Decimal]]) -> CrossedFit:
    # In one order, however the marks came: the same marks give the same last digit.
    flat = sorted(
        ((entry, judge, points) for entry, row in rows.items() for judge, points in row.items()),
        key=lambda card: (str(card[0]), str(card[1])),
    )
    entry, judge, points = zip(*flat, strict=True)
    return fit_crossed(entry, judge, [float(value) for value in points])


def _refused(fits: Mapping[str, CrossedFit], cards: Cards[E]) -> str | None:
    rows = [row for by_entry in cards.values() for row in by_entry.values()]
    if 0 < len({judge for row in rows for judge in row}) < LEAST_TO_CROSS:
        return "Crossed effects cannot be told: one judge alone gave marks."
    sentences = [
        f"Crossed effects cannot be told in section {section}: {' '.join(fit.cannot_tell)}"
        for section, fit in fits.items()
        if fit.cannot_tell
    ]
    return " ".join(sentences) or None


def _points(
    row: Mapping[Hashable, Decimal], habits: Mapping[Hashable, float], need: int
) -> Decimal:
    """Points of an entry in a section, scaled to the judges it needs."""
    less = [points - Decimal(f"{habits.get(judge, 0.0):.6f}") for judge, points in row.items()]
    whole = sum(less, Decimal(0)) * need / len(less)
    return whole.quantize(HUNDREDTH, rounding=ROUND_HALF_UP)
