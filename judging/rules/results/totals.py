"""From the judges' section points to one total for each entry."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal

from judging.rules.results.effects import AdditiveFit, fit_additive
from judging.rules.results.section_points import (
    E,
    Missing,
    SectionPoints,
    Totals,
    cards_by_section,
    hundredths,
    missing_cards,
    section_by_section,
    summed,
)

__all__ = ["Missing", "SectionPoints", "Totals", "judge_adjusted", "plain"]


def plain(
    points: Iterable[SectionPoints[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
) -> Totals[E]:
    """Add up what the judges wrote.

    Parameters
    ----------
    points : iterable of SectionPoints [points]
    entries : sequence of hashable, shape (n_entries,)
        Entries of the class that are to be judged; scratched entries are left out.
    sections : sequence of str
        Section codes of the scorecard.
    judges_required : mapping of section to int
        Number of judges who must see every entry in the section.

    Returns
    -------
    Totals
        Without judge effects and without standard errors (``None``): a sum has no model behind
        it.

    Raises
    ------
    ValueError
        When an entry has more judges in a section than required, a judge has points twice,
        points are not whole hundredths, or an entry, section or number of judges is not declared
        (once).

    Notes
    -----
    Exact decimal sum over sections and judges. An entry with too few judges in any section has
    total ``None``, never 0, and is listed in ``missing``.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> cards = [
    ...     SectionPoints("Ace", "J1", "trail", Decimal("31.50")),
    ...     SectionPoints("Ace", "J2", "trail", Decimal("33.25")),
    ...     SectionPoints("Bell", "J1", "trail", Decimal("40.00")),
    ... ]
    >>> result = plain(cards, ["Ace", "Bell"], ["trail"], {"trail": 2})
    >>> result.total
    {'Ace': Decimal('64.75'), 'Bell': None}
    >>> result.missing
    (Missing(entry='Bell', section='trail', have=1, need=2),)
    """
    cards = cards_by_section(points, entries, sections)
    missing = missing_cards(cards, entries, sections, judges_required)
    by_section = section_by_section(
        cards, entries, sections, missing, lambda _, given: sum(given.values(), Decimal(0))
    )
    return Totals(
        total=summed(by_section, sections),
        by_section=by_section,
        missing=missing,
        standard_error=dict.fromkeys(entries),
    )


def judge_adjusted(
    points: Iterable[SectionPoints[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
    *,
    with_gaps: bool = False,
) -> Totals[E]:
    """Add up what the judges would have written had every judge of a section seen every entry.

    Parameters
    ----------
    points : iterable of SectionPoints [points]
    entries : sequence of hashable, shape (n_entries,)
        Entries of the class that are to be judged; scratched entries are left out.
    sections : sequence of str
        Section codes of the scorecard.
    judges_required : mapping of section to int
        Number of judges who must see every entry in the section.
    with_gaps : bool
        Give a total also to an entry that lacks judges, as long as one saw each section.

    Returns
    -------
    Totals
        Refused (all totals ``None``) when some section's judges do not link its entries.

    Raises
    ------
    ValueError
        As for `plain`.

    Notes
    -----
    In each section: required judges x adjusted mean of the additive entry + judge fit, rounded
    half up to 0.01 so that printed figures add up, then summed over sections. The fit uses all
    points given, those of incomplete entries too, but only complete entries get a total. Where
    every judge saw every entry the result equals `plain`. An adjusted figure may lie above the
    maximum of the card or below 0. Links are asked for between the entries whose points of the
    section are all in.

    The standard error treats sections as independent; it is too small where a judge's liking for
    an entry runs through several sections. It is ``None`` where a section leaves no degrees of
    freedom.

    Source
    ------
    Intra-block analysis: Montgomery, D. C., Design and Analysis of Experiments, 2001, sec. 4-4
    (section number from memory). Rounding by section: common practice, no source.

    Example
    -------
    J3 scores four points above J1; Bell, seen by J1 and J2, loses nothing by it:

    >>> wrote = {"Ace": {"J2": 32, "J3": 34}, "Bell": {"J1": 30, "J2": 32},
    ...          "Cook": {"J1": 28, "J3": 32}}
    >>> cards = [SectionPoints(entry, judge, "trail", Decimal(points))
    ...          for entry, row in wrote.items() for judge, points in row.items()]
    >>> result = judge_adjusted(cards, list(wrote), ["trail"], {"trail": 2})
    >>> {entry: str(total) for entry, total in result.total.items()}
    {'Ace': '64.00', 'Bell': '64.00', 'Cook': '60.00'}
    """
    cards = cards_by_section(points, entries, sections)
    missing = missing_cards(cards, entries, sections, judges_required, with_gaps=with_gaps)
    short = {(gap.entry, gap.section) for gap in missing}
    fits = {section: _fit(cards[section]) for section in sections if cards[section]}
    ready = {
        section: [entry for entry in entries if (entry, section) not in short] for section in fits
    }
    split = {section: _groups(fits[section], ready[section]) for section in fits}
    unlinked = {section: groups for section, groups in split.items() if len(groups) > 1}
    judge_effects = {
        section: dict(zip(fit.judges, fit.judge_effect.tolist(), strict=True))
        for section, fit in fits.items()
        if section not in unlinked
    }
    by_section: dict[E, dict[str, Decimal]] = {entry: {} for entry in entries}
    variance: dict[E, float] = dict.fromkeys(entries, 0.0)
    for section, fit in fits.items() if not unlinked else ():
        for entry, mean, error in _means(fit, ready[section]):
            by_section[entry][section] = hundredths(judges_required[section] * mean)
            variance[entry] += (judges_required[section] * error) ** 2
    total = summed(by_section, sections)
    return Totals(
        total=total,
        by_section=by_section,
        missing=missing,
        refused=" ".join(_refusal(*pair) for pair in unlinked.items()) or None,
        judge_effects=judge_effects,
        standard_error={
            entry: None if total[entry] is None else _root(variance[entry]) for entry in entries
        },
    )


def _fit(rows: Mapping[E, Mapping[Hashable, Decimal]]) -> AdditiveFit:
    flat = [
        (entry, judge, float(points))
        for entry, row in rows.items()
        for judge, points in row.items()
    ]
    entry, judge, score = zip(*flat, strict=True)
    return fit_additive(entry, judge, score)


def _means(fit: AdditiveFit, ready: Sequence[E]) -> Iterator[tuple[E, float, float]]:
    """Adjusted mean of one judge's points and its standard error, for each of these entries."""
    position = {label: index for index, label in enumerate(fit.entries)}
    for entry in ready:
        index = position[entry]
        yield entry, float(fit.adjusted_mean[index]), float(fit.standard_error[index])


def _groups(fit: AdditiveFit, ready: Sequence[E]) -> list[list[E]]:
    """Entries that judges link to one another, directly or through others."""
    component = dict(zip(fit.entries, fit.component.tolist(), strict=True))
    groups: dict[int, list[E]] = {}
    for entry in ready:
        groups.setdefault(component[entry], []).append(entry)
    return list(groups.values())


def _refusal(section: str, groups: Sequence[Sequence[E]]) -> str:
    named = "; ".join(", ".join(str(entry) for entry in group) for group in groups)
    return (
        f"Totals cannot be adjusted for the judges: in section {section} no judge links these "
        f"groups of entries: {named}."
    )


def _root(variance: float) -> float | None:
    return None if math.isnan(variance) else math.sqrt(variance)
