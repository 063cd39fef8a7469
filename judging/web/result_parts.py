"""The parts of one result on the office's page: how sure it is, what it lacks, money, pictures."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from entries.models import Entry
from entries.rules.money_words import dollars
from judging.models import Placing, Result
from judging.queries.result_desk import ClassDesk
from judging.rules.results.incomplete import EVERY_FILLING_UP_TO
from judging.rules.results.places_chart import PlaceLine, PlacesChart, places_chart, span_said
from judging.rules.results.points_chart import PointsChart, WagonPoints, points_chart
from judging.web.result_words import (
    chance_words,
    method_in_sentence,
    purse_words,
    sections_named,
)
from showrun.language import gettext as _
from showrun.language import ngettext


@dataclass(frozen=True)
class SureLine:
    """One wagon: its place, the places these marks allow, its chance against the next one."""

    entry: Entry
    place: int
    ranks: str
    chance: str
    told_apart: bool


@dataclass(frozen=True)
class Sure:
    """How sure the places are; `warnings` are of the awarded places, `rest` of the others."""

    refused: str
    warnings: list[tuple[str, str]]
    rest: str
    lines: list[SureLine]
    chart: PlacesChart | None


@dataclass(frozen=True)
class ReachLine:
    """One wagon that missing cards could move."""

    entry: Entry
    place: int
    best: int
    worst: int


@dataclass(frozen=True)
class Gaps:
    """What a result lacks; `moves` are the wagons that the missing cards could move."""

    cards: list[str]
    moves: list[ReachLine]
    told: bool
    not_all_tried: str


@dataclass(frozen=True)
class PurseLine:
    """What one wagon is paid."""

    entry: Entry
    place: int
    amount: str
    sharing: int


@dataclass(frozen=True)
class Purse:
    """Who is paid what."""

    lines: list[PurseLine]
    total: str


@dataclass(frozen=True)
class SectionPicture:
    """The judges' points of one section: a picture, and the same as rows of a table."""

    name: str
    chart: PointsChart | None
    judges: list[str]
    rows: list[tuple[Entry, list[tuple[str, Decimal | None]]]]


def sure_part(desk: ClassDesk, result: Result, placings: Sequence[Placing]) -> Sure | None:
    """Return how sure the places are; None for a result computed before that was looked at."""
    kept = result.uncertainty
    if not kept:
        return None
    if kept.get("refused"):
        words = sections_named(kept["refused"], desk.sections)
        return Sure(words, [], "", [], _places_chart(placings))
    pairs = {pair["above"]: pair for pair in kept.get("neighbours", [])}
    by_number = {placing.entry.number: placing for placing in placings}
    warnings, others, unsure = [], 0, 0
    for pair in pairs.values():
        above, below = by_number.get(pair["above"]), by_number.get(pair["below"])
        if above is None or below is None:
            continue
        awarded = above.place <= desk.show_class.places_awarded
        others += not awarded
        unsure += not awarded and not pair["told_apart"]
        if awarded and not pair["told_apart"]:
            chance = "" if above.place == below.place else chance_words(pair["chance"])
            warnings.append((pair["sentence"], _ahead(above.entry, below.entry, chance)))
    lines = []
    for placing in placings:
        pair = pairs.get(placing.entry.number or 0)
        lines.append(
            SureLine(
                entry=placing.entry,
                place=placing.place,
                ranks=_span(placing.rank_low, placing.rank_high),
                chance=chance_words(pair["chance"]) if pair else "",
                told_apart=bool(pair and pair["told_apart"]),
            )
        )
    return Sure("", warnings, _rest(others, unsure), lines, _places_chart(placings))


def _ahead(above: Entry, below: Entry, chance: str) -> str:
    first, second = (f"{entry.number} {entry.wagon_name}" for entry in (above, below))
    if not chance:
        return _("{first} and {second}.").format(first=first, second=second)
    return _("{first} is ahead of {second} with a chance of {chance}.").format(
        first=first, second=second, chance=chance
    )


def _rest(others: int, unsure: int) -> str:
    if not others:
        return ""
    if not unsure:
        return _("Below the awarded places, all neighbors can be told apart.")
    if unsure == others:
        return _("Below the awarded places, no wagon can be told from the next.")
    return _(
        "Below the awarded places, {unsure} of {others} neighbors cannot be told from the next."
    ).format(unsure=unsure, others=others)


def _span(low: int | None, high: int | None) -> str:
    return span_said((low, high)) if low is not None and high is not None else ""


def _places_chart(placings: Sequence[Placing]) -> PlacesChart | None:
    """Draw the places where any of them has an interval of either kind."""
    if not any(p.rank_low is not None or p.best_place is not None for p in placings):
        return None
    return places_chart(
        [
            PlaceLine(
                number=placing.entry.number or 0,
                name=placing.entry.wagon_name,
                place=placing.place,
                ranks=_pair(placing.rank_low, placing.rank_high),
                reach=_pair(placing.best_place, placing.worst_place),
            )
            for placing in placings
        ]
    )


def _pair(low: int | None, high: int | None) -> tuple[int, int] | None:
    return (low, high) if low is not None and high is not None else None


def gaps_part(desk: ClassDesk, result: Result, placings: Sequence[Placing]) -> Gaps | None:
    """Return what the result lacks; None where nothing is missing."""
    if not result.gaps:
        return None
    sections = dict(desk.sections)
    entries = {placing.entry.number: placing.entry.called for placing in placings}
    cards: dict[tuple[int, str], list[str]] = defaultdict(list)
    handed_in: set[tuple[int, str]] = set()
    for gap in result.gaps:
        card = gap["entry"], gap["judge"]
        rows = gap["rows"]
        named = sections.get(gap["section"], gap["section"])
        if rows:
            named = ngettext(
                "{section} ({rows} row without a mark)",
                "{section} ({rows} rows without a mark)",
                rows,
            ).format(section=named, rows=rows)
        cards[card].append(named)
        if gap["handed_in"]:
            handed_in.add(card)
    lines = [
        (
            _("{judge}, wagon {wagon}: {sections}.")
            if (number, judge) in handed_in
            else _("{judge}, wagon {wagon}: not handed in, {sections}.")
        ).format(
            judge=f"{judge} {desk.judges.get(judge, '')}",
            wagon=entries.get(number, number),
            sections=", ".join(names),
        )
        for (number, judge), names in sorted(cards.items())
    ]
    told = [p for p in placings if p.best_place is not None and p.worst_place is not None]
    moves = [
        ReachLine(p.entry, p.place, p.best_place, p.worst_place)
        for p in told
        if p.best_place is not None and p.worst_place is not None and p.best_place != p.worst_place
    ]
    tried = ""
    if result.method in EVERY_FILLING_UP_TO:
        tried = _(
            "Reckoned from full and from empty cards; by {method} a card between "
            "the two might move a place further still."
        ).format(method=method_in_sentence(result.method))
    return Gaps(lines, moves, bool(told), tried)


def purse_part(placings: Sequence[Placing], purse_cents: int) -> Purse | None:
    """Return who is paid what; None without a purse."""
    paid = sum(placing.purse_cents for placing in placings)
    if not paid and not purse_cents:
        return None
    sharing = Counter(placing.place for placing in placings)
    lines = [
        PurseLine(p.entry, p.place, dollars(p.purse_cents), sharing[p.place])
        for p in placings
        if p.purse_cents
    ]
    return Purse(lines, purse_words(paid, purse_cents))


def points_pictures(desk: ClassDesk, entries: Sequence[Entry]) -> list[SectionPicture]:
    """Draw the points of the cards that are in, section by section, wagons as listed."""
    if desk.class_card is None or not entries:
        return []
    given: dict[str, dict[int, dict[str, Decimal]]] = defaultdict(lambda: defaultdict(dict))
    for card in desk.points:
        given[card.section][card.entry][str(card.judge)] = card.points
    possible = {section.code: section.points for section in desk.class_card.sections.all()}
    pictures = []
    for code, name in desk.sections:
        here = given.get(code, {})
        judges = sorted({judge for by_judge in here.values() for judge in by_judge})
        if not judges:
            continue
        wagons = [
            WagonPoints(entry.number or 0, entry.wagon_name, here.get(entry.number or 0, {}))
            for entry in entries
        ]
        named = {judge: desk.judges.get(judge, "") for judge in judges}
        pictures.append(
            SectionPicture(
                name=name,
                chart=points_chart(name, wagons, named, possible[code]),
                judges=judges,
                rows=[
                    (entry, [(judge, wagon.points.get(judge)) for judge in judges])
                    for entry, wagon in zip(entries, wagons, strict=True)
                ],
            )
        )
    return pictures
