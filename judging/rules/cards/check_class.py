"""What a class's own declaration can get wrong about its card: sums, tie rungs, ties, places."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from judging.rules.cards.card_values import CardFile, SectionFile
from judging.rules.cards.expected_ties import expect_ties
from judging.rules.cards.scorecard import Form
from showrun.language import gettext as _

# Wagons that may share a total before it is worth a word: at least two, and a fifth of the field.
LEAST_SHARING, SHARE_TO_WARN = 2, 0.2


class Level(StrEnum):
    """Whether a finding keeps the card from being used."""

    STOPS = "stops"
    WARNS = "warns"


@dataclass(frozen=True)
class ClassUse:
    """How a class would use a card; `possible_points` [points] is what it announces, if it does."""

    name: str
    sections: tuple[str, ...]
    tie_ladder: tuple[str, ...] = ()
    judges: int = 1
    entries: int = 0
    possible_points: Decimal | None = None


@dataclass(frozen=True)
class Finding:
    """One thing the office should look at.

    `code` is stable for programs. `where` is a place in the card file such as
    ``sections.2.criteria.0``, ``classes.1`` for the second class, or "" for the whole card.
    """

    level: Level
    code: str
    where: str
    sentence: str


def class_findings(
    card: CardFile, use: ClassUse, number: int, rigs: Sequence[Mapping[str, str]]
) -> Iterator[Finding]:
    """Look at one class; `number` is its place among the classes, from zero."""
    where = f"classes.{number}"
    by_code = {section.code: section for section in card.sections}
    counted = [by_code[code] for code in dict.fromkeys(use.sections) if code in by_code]
    for code in dict.fromkeys(use.sections):
        if code not in by_code:
            yield Finding(
                Level.STOPS,
                "section-unknown",
                where,
                _("{name} counts a section “{code}”, and the card has none of that code.").format(
                    name=use.name, code=code
                ),
            )
    if not use.sections:
        sentence = _("{name} counts no section, so it has no result.").format(name=use.name)
        yield Finding(Level.STOPS, "no-sections", where, sentence)
        return
    yield from _sum(use, counted, where)
    yield from _rungs(use, by_code, counted, where)
    yield from _places(use, counted, where)
    yield from _ties(use, counted, where, rigs)


def _sum(use: ClassUse, counted: Sequence[SectionFile], where: str) -> Iterator[Finding]:
    total = sum((section.points for section in counted), Decimal(0))
    if use.possible_points is not None and total != use.possible_points:
        parts = " + ".join(f"{section.points:f}" for section in counted)
        yield Finding(
            Level.STOPS,
            "points-do-not-sum",
            where,
            _(
                "{name} announces {announced:f} points, but its sections give {parts} = {total:f}. "
                "Change the points or the announced total."
            ).format(name=use.name, announced=use.possible_points, parts=parts, total=total),
        )


def _rungs(
    use: ClassUse,
    by_code: Mapping[str, SectionFile],
    counted: Sequence[SectionFile],
    where: str,
) -> Iterator[Finding]:
    """Tie rungs that cannot decide anything, each with the reason."""
    where = f"{where}.tie_ladder"
    # Sections that can differ between two wagons; those worth nothing never do.
    open_codes = {section.code for section in counted if section.points}
    seen: set[str] = set()
    for rung, code in enumerate(use.tie_ladder, start=1):
        name = by_code[code].name if code in by_code else code
        if code in seen:
            yield Finding(
                Level.STOPS,
                "rung-twice",
                where,
                _(
                    "{name}: rung {rung} of the tie ladder is {section} again; what was equal "
                    "there once is equal the second time. Take it out."
                ).format(name=use.name, rung=rung, section=name),
            )
        elif code not in use.sections or code not in by_code:
            yield Finding(
                Level.STOPS,
                "rung-not-counted",
                where,
                _(
                    "{name}: rung {rung} of the tie ladder is {section}, which the class does not "
                    "count. Take it out, or count it."
                ).format(name=use.name, rung=rung, section=name),
            )
        elif reason := _why_never(code, name, open_codes - seen, open_codes):
            yield Finding(
                Level.WARNS,
                "rung-never-decides",
                where,
                _(
                    "{name}: rung {rung} of the tie ladder, {section}, can never decide: {reason}. "
                    "Take it out, and say what follows: a shared place, or the lot."
                ).format(name=use.name, rung=rung, section=name, reason=reason),
            )
        seen.add(code)


def _why_never(code: str, name: str, left: set[str], everything: set[str]) -> str:
    """Why a rung cannot part two wagons with equal totals, or nothing when it can."""
    if code not in everything:
        return _("it is worth no points")
    if len(everything) == 1:
        return _("{section} is the whole total, and that is equal already").format(section=name)
    if left <= {code}:
        return _("with equal totals and every other section equal, it is equal too")
    return ""


def _places(use: ClassUse, counted: Sequence[SectionFile], where: str) -> Iterator[Finding]:
    for section in counted:
        last = min((row.max_mark for row in section.criteria), default=Decimal(0))
        if section.form is Form.PLACINGS and last < use.entries:
            yield Finding(
                Level.STOPS,
                "places-too-few",
                where,
                _(
                    "{section} has places up to {last:f}, and {name} has {entries} wagons. Raise "
                    "the highest place."
                ).format(section=section.name, last=last, name=use.name, entries=use.entries),
            )


def _ties(
    use: ClassUse,
    counted: Sequence[SectionFile],
    where: str,
    rigs: Sequence[Mapping[str, str]],
) -> Iterator[Finding]:
    if use.entries < LEAST_SHARING or use.judges < 1 or not counted:
        return
    forecast = expect_ties(
        [section.as_section() for section in counted],
        entries=use.entries,
        judges=use.judges,
        rigs=rigs,
    )
    sharing = round(forecast.sharing)
    if sharing >= max(LEAST_SHARING, SHARE_TO_WARN * use.entries):
        yield Finding(
            Level.WARNS,
            "steps-too-coarse",
            where,
            _(
                "{name}: about {sharing} of {entries} wagons would share a total. Smaller steps, "
                "more rows or another judge would part them; else the tie ladder has to."
            ).format(name=use.name, sharing=sharing, entries=use.entries),
        )
