"""Everything an exhibitor's outfits did over the years: shows, places, points, papers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from entries.models import Entry, Outfit
from entries.queries.entries import entries_by_exhibitor
from entries.rules.eligibility import same_name
from entries.rules.places import STATUS_WORDS, Status
from judging.models import Placing, Result, Season
from judging.queries.cards import class_cards
from judging.queries.counted import Counted, counted_by
from judging.queries.seasons import seasons_of
from reports.models import Paper
from reports.queries.my_next import in_words
from reports.queries.my_outcomes import section_lines
from reports.rules.over_years import beside, percent
from showrun.language import gettext as _
from showrun.shows.models import Person, Show

# By what an outfit is known: its row, or the wagon's name where no row is kept.
Key = int | str


@dataclass(frozen=True)
class ShareLine:
    """A section, or the total: the own share of the points beside the middle of the class."""

    name: str
    own: int  # [%]
    beside: str


@dataclass(frozen=True)
class ClassLine:
    """What came of one class."""

    words: str
    total: ShareLine | None
    sections: Sequence[ShareLine]


@dataclass(frozen=True)
class ShowLine:
    """One show an outfit came to, or means to come to."""

    entry: Entry
    status: str
    classes: Sequence[ClassLine]
    papers: Sequence[Paper]


@dataclass(frozen=True)
class OutfitLine:
    """An outfit with its shows, the newest first."""

    wagon_name: str
    name: str
    rig: str
    shows: Sequence[ShowLine]


@dataclass(frozen=True)
class History:
    """All of an exhibitor's outfits, and the seasons their shows count in."""

    outfits: Sequence[OutfitLine]
    seasons: Sequence[Season]


def history_of(person: Person) -> History:
    """Return it: outfits by name, with nothing that is not released."""
    entries = entries_by_exhibitor(person)
    kept = list(Outfit.objects.filter(exhibitor=person))
    by_key: dict[Key, list[Entry]] = {outfit.pk: [] for outfit in kept}
    names: dict[str, Key] = {same_name(outfit.wagon_name): outfit.pk for outfit in kept}
    for entry in entries:
        name = same_name(entry.wagon_name)
        key = entry.kept_outfit_id or names.get(name, name)
        by_key.setdefault(key, []).append(entry)
    shows = _shows(entries)
    rows: dict[Key, Outfit] = {outfit.pk: outfit for outfit in kept}
    lines = [_outfit(rows.get(key), by_key[key], shows) for key in by_key]
    seasons = {row.season_id: row.season for show in _once(entries) for row in seasons_of(show)}
    return History(
        outfits=sorted(lines, key=lambda line: same_name(line.wagon_name)),
        seasons=sorted(seasons.values(), key=lambda season: season.name),
    )


def _once(entries: Iterable[Entry]) -> list[Show]:
    return list({entry.show_id: entry.show for entry in entries}.values())


def _outfit(
    outfit: Outfit | None, entries: Sequence[Entry], shows: Mapping[int, ShowLine]
) -> OutfitLine:
    newest = outfit or entries[0]
    name = outfit.name if outfit else entries[0].outfit
    lines = [shows[entry.pk] for entry in entries]
    return OutfitLine(newest.wagon_name, name, newest.rig.said(), lines)


def _shows(entries: Sequence[Entry]) -> dict[int, ShowLine]:
    """Return a line for each entry, by its id."""
    placings: dict[int, list[Placing]] = defaultdict(list)
    released = Placing.objects.filter(entry__in=entries, result__in=Result.objects.released())
    for placing in released.select_related("result__show_class__show"):
        placings[placing.entry_id].append(placing)
    field: dict[int, list[Placing]] = defaultdict(list)
    results = {one.result_id: one.result for lines in placings.values() for one in lines}
    for one in Placing.objects.filter(result__in=results):
        field[one.result_id].append(one)
    papers: dict[int, list[Paper]] = defaultdict(list)
    ready = Paper.objects.current().filter(entry__in=entries, state=Paper.State.DONE)
    for paper in ready.select_related("show_class"):
        papers[paper.entry_id or 0].append(paper)
    counted = _counted(entries, results.values())
    return {
        entry.pk: ShowLine(
            entry=entry,
            status=_(STATUS_WORDS[Status(entry.status)]),
            classes=[
                _class(one, counted[one.result_id], field[one.result_id])
                for one in sorted(
                    placings[entry.pk], key=lambda one: one.result.show_class.position
                )
            ],
            papers=papers[entry.pk],
        )
        for entry in entries
    }


def _counted(entries: Sequence[Entry], results: Iterable[Result]) -> dict[int, Counted]:
    by_show: dict[int, list[Result]] = defaultdict(list)
    for result in results:
        by_show[result.show_class.show_id].append(result)
    found: dict[int, Counted] = {}
    for show in _once(entries):
        if of_show := by_show[show.pk]:
            cards = {card.show_class_id: card for card in class_cards(show)}
            found |= counted_by(show, of_show, cards)
    return found


def _class(placing: Placing, counted: Counted, field: Sequence[Placing]) -> ClassLine:
    lines = section_lines(placing, counted, field)
    sharing = sum(one.place == placing.place for one in field)
    shares = [
        share
        for line in lines
        if (share := _share(line.name, line.own, line.middle, line.possible, len(field)))
    ]
    totals = sorted(one.total for one in field)
    half, odd = divmod(len(totals), 2)
    middle = totals[half] if odd else (totals[half - 1] + totals[half]) / 2
    return ClassLine(
        words=_("{place}, {n} placed").format(place=in_words(placing, sharing), n=len(field)),
        total=_share(_("All"), placing.total, middle, counted.possible, len(field)),
        sections=shares if len(shares) > 1 else (),
    )


def _share(
    name: str, own: Decimal, middle: Decimal, possible: Decimal, n_entries: int
) -> ShareLine | None:
    here, there = percent(own, possible), percent(middle, possible)
    if here is None or there is None:
        return None
    return ShareLine(name, here, beside(here, there) if n_entries > 1 else _("alone in the class"))
