"""Judges' points by section and entry: what every way to make totals starts from."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from typing import Generic, Protocol, TypeVar

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


Cards = dict[str, dict[E, dict[Hashable, Decimal]]]


def cards_by_section(
    points: Iterable[SectionPoints[E]], entries: Sequence[E], sections: Sequence[str]
) -> Cards[E]:
    """Points by section, entry and judge.

    Raises
    ------
    ValueError
        For points that do not belong to the class, or that are there twice.
    """
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


def missing_cards(
    cards: Cards[E],
    entries: Sequence[E],
    sections: Sequence[str],
    judges_required: Mapping[str, int],
    *,
    with_gaps: bool = False,
) -> tuple[Missing[E], ...]:
    """Entries seen by too few judges, `with_gaps` by none.

    Raises
    ------
    ValueError
        For an entry seen by too many, and for a section that asks for no judge.
    """
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
            if have < need and not (with_gaps and have):
                gaps.append(Missing(entry, section, have, need))
    return tuple(gaps)


def section_by_section(
    cards: Cards[E],
    entries: Sequence[E],
    sections: Sequence[str],
    missing: Iterable[Missing[E]],
    figure: Callable[[str, Mapping[Hashable, Decimal]], Decimal],
) -> dict[E, dict[str, Decimal]]:
    """Figures of each entry where it lacks nothing, each from a section and its judges' points."""
    short = {(gap.entry, gap.section) for gap in missing}
    return {
        entry: {
            section: figure(section, cards[section][entry])
            for section in sections
            if (entry, section) not in short
        }
        for entry in entries
    }


def summed(
    by_section: Mapping[E, Mapping[str, Decimal]], sections: Sequence[str]
) -> dict[E, Decimal | None]:
    """Add the sections up; None where one of them is missing."""
    return {
        entry: sum(row.values(), Decimal(0)) if len(row) == len(sections) else None
        for entry, row in by_section.items()
    }


def hundredths(value: float) -> Decimal:
    """Round half up; nine decimals first, so that a true half is not lost to binary rounding."""
    return Decimal(f"{value:.9f}").quantize(HUNDREDTH, rounding=ROUND_HALF_UP)
