"""From the judges' section points to one total for each entry."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from typing import Generic, Protocol, TypeVar

from judging.rules.results.effects import AdditiveFit, fit_additive

E = TypeVar("E", bound=Hashable)
HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True)
class SectionPoints(Generic[E]):
    """One judge's points in one section of one entry.

    Attributes
    ----------
    entry, judge : hashable
    section : str
        Section code.
    points : Decimal [points]
        Already rescaled for the rig and rounded to 0.01.
    """

    entry: E
    judge: Hashable
    section: str
    points: Decimal


@dataclass(frozen=True)
class Missing(Generic[E]):
    """An entry seen by too few judges in a section.

    Attributes
    ----------
    entry : hashable
    section : str
    have, need : int
        Judges whose points are in, and judges required.
    """

    entry: E
    section: str
    have: int
    need: int


@dataclass(frozen=True)
class Totals(Generic[E]):
    """Totals of a class by one method.

    Attributes
    ----------
    total : dict of entry to Decimal or None [points]
        None for an incomplete entry, and for all entries when the method is refused.
    by_section : dict of entry to dict of section to Decimal [points]
        Complete sections only; they add up to the total exactly.
    missing : tuple of Missing
    refused : str or None
        Why this method cannot be used for this class, in a sentence.
    judge_effects : dict of section to dict of judge to float [points]
        How much higher than the section's other judges this judge scores a section of one entry.
    standard_error : dict of entry to float or None [points]
        Of the total; None where it cannot be told.
    """

    total: dict[E, Decimal | None]
    by_section: dict[E, dict[str, Decimal]]
    missing: tuple[Missing[E], ...]
    refused: str | None = None
    judge_effects: dict[str, dict[Hashable, float]] = field(default_factory=dict)
    standard_error: dict[E, float | None] = field(default_factory=dict)

    @property
    def complete(self) -> dict[E, Decimal]:
        """Totals of the entries that have one, as wanted for placing."""
        return {entry: total for entry, total in self.total.items() if total is not None}


class Method(Protocol):
    """A way to make totals which a class may declare before judging."""

    def __call__(
        self,
        points: Iterable[SectionPoints[E]],
        entries: Sequence[E],
        sections: Sequence[str],
        judges_required: Mapping[str, int],
    ) -> Totals[E]: ...


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
    cards = _by_section(points, entries, sections)
    missing = _missing(cards, entries, sections, judges_required)
    short = {(gap.entry, gap.section) for gap in missing}
    by_section = {
        entry: {
            section: sum(cards[section][entry].values(), Decimal(0))
            for section in sections
            if (entry, section) not in short
        }
        for entry in entries
    }
    return Totals(
        total=_summed(by_section, sections),
        by_section=by_section,
        missing=missing,
        standard_error=dict.fromkeys(entries),
    )


def judge_adjusted(
    points: Iterable[SectionPoints[E]],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
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
    cards = _by_section(points, entries, sections)
    missing = _missing(cards, entries, sections, judges_required)
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
            by_section[entry][section] = _hundredths(judges_required[section] * mean)
            variance[entry] += (judges_required[section] * error) ** 2
    total = _summed(by_section, sections)
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


METHODS: dict[str, Method] = {"plain": plain, "judge_adjusted": judge_adjusted}

Cards = dict[str, dict[E, dict[Hashable, Decimal]]]


def _by_section(
    points: Iterable[SectionPoints[E]], entries: Sequence[E], sections: Sequence[str]
) -> Cards[E]:
    """Points by section, entry and judge; refuses what does not belong to the class."""
    if not sections or len(set(sections)) < len(sections):
        raise ValueError("A scorecard needs at least one section, and each only once.")
    known = set(entries)
    cards: Cards[E] = {section: {} for section in sections}
    for card in points:
        if card.entry not in known:
            raise ValueError(f"Entry {card.entry} has points but is not in this class.")
        if card.section not in cards:
            raise ValueError(f"Section {card.section} has points but is not on the scorecard.")
        row = cards[card.section].setdefault(card.entry, {})
        if card.judge in row:
            raise ValueError(
                f"Judge {card.judge} has points twice for entry {card.entry} "
                f"in section {card.section}."
            )
        row[card.judge] = _whole_hundredths(card)
    return cards


def _whole_hundredths(card: SectionPoints[E]) -> Decimal:
    points = card.points
    if not points.is_finite() or points != points.quantize(HUNDREDTH):
        raise ValueError(
            f"Entry {card.entry} has {points} points in section {card.section}; "
            "points must be rounded to 0.01."
        )
    return points


def _missing(
    cards: Cards[E],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
) -> tuple[Missing[E], ...]:
    """Entries seen by too few judges; refuses entries seen by too many."""
    gaps = []
    for section in sections:
        if judges_required.get(section, 0) < 1:
            raise ValueError(f"Section {section} needs a declared number of judges, at least 1.")
    for entry in entries:
        for section in sections:
            have, need = len(cards[section].get(entry, {})), judges_required[section]
            if have > need:
                raise ValueError(
                    f"Entry {entry} has points of {have} judges in section {section}, "
                    f"but the class asks for {need}."
                )
            if have < need:
                gaps.append(Missing(entry, section, have, need))
    return tuple(gaps)


def _summed(
    by_section: Mapping[E, Mapping[str, Decimal]], sections: Sequence[str]
) -> dict[E, Decimal | None]:
    return {
        entry: sum(row.values(), Decimal(0)) if len(row) == len(sections) else None
        for entry, row in by_section.items()
    }


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


def _hundredths(value: float) -> Decimal:
    """Round half up; nine decimals first, so that a true half is not lost to binary rounding."""
    return Decimal(f"{value:.9f}").quantize(HUNDREDTH, rounding=ROUND_HALF_UP)


def _root(variance: float) -> float | None:
    return None if math.isnan(variance) else math.sqrt(variance)
