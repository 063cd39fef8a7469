"""What is likely to go wrong with a card that can be read: told before it is put in use."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from math import ceil

from entries.rules.rig import FACTS, Rig
from judging.rules.cards.card_values import CardFile, CriterionFile, SectionFile
from judging.rules.cards.check_class import ClassUse, Finding, Level, class_findings
from judging.rules.cards.condition import every_rig, in_words, places_met
from judging.rules.cards.scorecard import Form
from showrun.language import gettext as _
from showrun.language import listed

__all__ = ["SECONDS_PER_ROW", "ClassUse", "Finding", "Level", "findings"]

SECONDS_PER_ROW = 12
MANY_ROWS = 200
_NAMES_SHOWN = 3
_RIGS = every_rig()
_PLACE_OF = {tuple(rig[fact] for fact in FACTS): place for place, rig in enumerate(_RIGS)}

# The rigs a row is judged on, by their places in `every_rig`, section by section.
Met = Sequence[Sequence[frozenset[int]]]


def findings(
    card: CardFile,
    *,
    classes: Sequence[ClassUse],
    rigs: Sequence[Mapping[str, str]],
    seconds_per_row: int = SECONDS_PER_ROW,
) -> tuple[Finding, ...]:
    """Look at a card together with the classes and wagons of the show.

    Parameters
    ----------
    card : CardFile
        As read by `read_card_file`, which has refused what cannot be used at all.
    classes : sequence of ClassUse
        Classes that would count it; may be empty.
    rigs : sequence of mapping
        One rig for each wagon entered; may be empty.
    seconds_per_row : int [s]
        What one judge needs for one row.

    Returns
    -------
    tuple of Finding
        Those that stop the card first; each group in the order of the card.

    Notes
    -----
    Stops: points of a class that do not add up to what it announces, a class or tie rung that
    names a section the card or class does not have, a rung twice, a section of places that two
    classes count or whose places do not reach, a section without a row on a wagon of this show, a
    row no rig can meet. Warns: a rung that can never decide, many expected ties, rows no wagon of
    this show has, a section without a row on some other rig, more rows than the minutes allow, a
    section nobody counts, more than 200 rows.

    Source
    ------
    Common practice, no source: the thresholds. Twelve seconds a row are ten minutes a vehicle
    (Judging Guidelines (antique vehicles), Texas Tour, n.d.) over almost fifty areas (2024
    conference and judging clinic, Wheels That Won The West, 2024). A tie ladder whose third rung
    can never decide was in print: Turn-ins and scoring, paparock.com, n.d.; the flaw is named in
    Tie Breakers, California BBQ Association, about 2001.

    Examples
    --------
    >>> from decimal import Decimal
    >>> row = CriterionFile("bars", "Lead bars", Decimal(10), Decimal(1),
    ...                     applies={"hitch": ["four_up", "six_up"]})
    >>> card = CardFile("Leaders", (SectionFile("lead", "Leaders", Decimal(20), 4, (row,)),))
    >>> for finding in findings(card, classes=[], rigs=[]):
    ...     print(finding.level, finding.code, finding.where)
    warns points-not-earned sections.0
    """
    met = [[frozenset(places_met(row.applies)) for row in part.criteria] for part in card.sections]
    wagons = Counter(_PLACE_OF[tuple(rig[fact] for fact in FACTS)] for rig in rigs)
    found = [
        *_rows_nobody_has(card, met, wagons),
        *_points_nobody_earns(card, met, wagons),
        *_too_long(card, met, wagons, seconds_per_row),
        *_places_counted_twice(card, classes),
        *_not_counted(card, classes),
        *(
            finding
            for number, use in enumerate(classes)
            for finding in class_findings(card, use, number, rigs)
        ),
    ]
    return tuple(sorted(found, key=lambda finding: finding.level is not Level.STOPS))


def _rows_nobody_has(card: CardFile, met: Met, wagons: Mapping[int, int]) -> Iterator[Finding]:
    for number, section in enumerate(card.sections):
        for at, on in enumerate(met[number]):
            if not on:
                yield Finding(
                    Level.STOPS,
                    "row-on-no-rig",
                    f"sections.{number}.criteria.{at}",
                    _(
                        "{row} is judged on no rig there is. Change on which rigs it applies."
                    ).format(row=section.criteria[at].name),
                )
        if wagons:
            yield from _rows_no_wagon_has(section, number, met[number], wagons)


def _rows_no_wagon_has(
    section: SectionFile, number: int, met: Sequence[frozenset[int]], wagons: Mapping[int, int]
) -> Iterator[Finding]:
    """One finding for all rows of a section with the same condition."""
    groups: dict[frozenset[int], list[int]] = defaultdict(list)
    for at, on in enumerate(met):
        if on and on.isdisjoint(wagons):
            groups[on].append(at)
    for places in groups.values():
        rows = [section.criteria[at] for at in places]
        yield Finding(
            Level.WARNS,
            "row-on-no-wagon",
            f"sections.{number}.criteria.{places[0]}",
            _("{section}: no wagon of this show is “{rig}”, so nobody is judged on {rows}.").format(
                section=section.name, rig=in_words(rows[0].applies), rows=_named(rows)
            ),
        )


def _named(rows: Sequence[CriterionFile]) -> str:
    names = [f"“{row.name}”" for row in rows[:_NAMES_SHOWN]]
    more = len(rows) - len(names)
    if more:
        return _("{rows} and {n} more rows").format(rows=", ".join(names), n=more)
    return listed(names)


def _points_nobody_earns(card: CardFile, met: Met, wagons: Mapping[int, int]) -> Iterator[Finding]:
    for number, section in enumerate(card.sections):
        bare = set(range(len(_RIGS))).difference(*met[number])
        without = sum(count for place, count in wagons.items() if place in bare)
        if not bare:
            continue
        example = _rig(min(bare & set(wagons) or bare))
        if without:
            n, all_of = without, sum(wagons.values())
            said = _(
                "{section} has no row on {n} of {all} wagons of this show, so its {points:f} "
                "points cannot be earned there; for example: {example}. Give it a row for every "
                "rig, or another class."
            )
        else:
            n, all_of = len(bare), len(_RIGS)
            said = _(
                "{section} has no row on {n} of the {all} rigs there can be, so its {points:f} "
                "points cannot be earned there; for example: {example}. Give it a row for every "
                "rig, or another class."
            )
        yield Finding(
            Level.STOPS if without else Level.WARNS,
            "points-not-earned",
            f"sections.{number}",
            said.format(
                section=section.name, n=n, all=all_of, points=section.points, example=example
            ),
        )


def _too_long(
    card: CardFile, met: Met, wagons: Mapping[int, int], seconds: int
) -> Iterator[Finding]:
    looked_at = sorted(wagons) or range(len(_RIGS))
    for number, section in enumerate(card.sections):
        count = {place: sum(place in on for on in met[number]) for place in looked_at}
        longest = max(count, key=lambda place: count[place])
        if count[longest] * seconds > section.minutes * 60:
            yield Finding(
                Level.WARNS,
                "section-too-long",
                f"sections.{number}",
                _(
                    "{section} has {n} rows on a rig of {rig}. At {seconds} seconds a row that "
                    "takes {minutes} minutes, and it is given {given}."
                ).format(
                    section=section.name,
                    n=count[longest],
                    rig=_rig(longest),
                    seconds=seconds,
                    minutes=ceil(count[longest] * seconds / 60),
                    given=section.minutes,
                ),
            )
    if card.row_count > MANY_ROWS:
        yield Finding(
            Level.WARNS,
            "card-very-long",
            "",
            _(
                "This card has {rows:,} rows. It works, but at {seconds} seconds a row a judge "
                "needs up to {minutes} minutes for one wagon."
            ).format(
                rows=card.row_count, seconds=seconds, minutes=ceil(card.row_count * seconds / 60)
            ),
        )


def _rig(place: int) -> str:
    return Rig.read(_RIGS[place]).in_words()


def _places_counted_twice(card: CardFile, classes: Sequence[ClassUse]) -> Iterator[Finding]:
    for number, section in enumerate(card.sections):
        names = [use.name for use in classes if section.code in use.sections]
        if section.form is Form.PLACINGS and len(names) > 1:
            yield Finding(
                Level.STOPS,
                "places-counted-twice",
                f"sections.{number}",
                _(
                    "{section} is judged by places, and {classes} count it. Places are given "
                    "within one class; give each class a section of its own."
                ).format(section=section.name, classes=listed(names)),
            )


def _not_counted(card: CardFile, classes: Sequence[ClassUse]) -> Iterator[Finding]:
    counted = {code for use in classes for code in use.sections}
    for number, section in enumerate(card.sections):
        if classes and section.code not in counted:
            yield Finding(
                Level.WARNS,
                "section-not-counted",
                f"sections.{number}",
                _("No class counts {section}, so its marks decide nothing.").format(
                    section=section.name
                ),
            )
