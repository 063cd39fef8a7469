"""Seasons and their standings, over released results only."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from fractions import Fraction

from django.db.models import Count

from judging.models import Placing, Result, Season, SeasonClass
from judging.rules.results.season import CountedClass, ShowPoints, Standing, standings
from showrun.errors import NotFound
from showrun.language import gettext as _
from showrun.shows.models import AuditEntry, Person, Show, ShowClass

CHANGED = "changed the points of a season"


@dataclass(frozen=True)
class SeasonShow:
    """A show of the season: its classes, and those whose result is out."""

    show: Show
    classes: list[ShowClass]
    out: list[ShowClass]


@dataclass(frozen=True)
class SeasonLine:
    """An exhibitor's line, with a cell for each show."""

    person: Person
    wagons: str
    standing: Standing[int]
    total: str
    by_show: list[tuple[SeasonCell | None, SeasonShow]]


@dataclass(frozen=True)
class SeasonCell:
    """What a show gave one exhibitor; dropped ones stand in brackets."""

    points: str
    places: str
    counts: bool


@dataclass(frozen=True)
class SeasonTable:
    """The standings of a season as a page shows them."""

    season: Season
    shows: list[SeasonShow]
    lines: list[SeasonLine]
    as_of: datetime | None
    changes: list[AuditEntry]


def season_by_slug(slug: str) -> Season:
    """Return the season, or say there is none."""
    season = Season.objects.select_related("made_by").filter(slug=slug).first()
    if season is None:
        raise NotFound(_("There is no season at this address."))
    return season


def all_seasons() -> list[Season]:
    """Return every season, the newest first, with the number of its classes as `n_classes`."""
    return list(Season.objects.annotate(n_classes=Count("classes")))


def seasons_of(show: Show) -> list[SeasonClass]:
    """Return which classes of the show count in which season."""
    found = SeasonClass.objects.filter(show_class__show=show)
    return list(found.select_related("season", "show_class").order_by("season__name", "pk"))


def counted_results(season: Season) -> list[Result]:
    """Return the released results that count."""
    counted = Result.objects.released().filter(show_class__in=season.classes.values("show_class"))
    found = counted.select_related("show_class__show")
    return list(found.order_by("show_class__show__starts_on", "show_class__position", "pk"))


def subject_of(season: Season) -> str:
    """What the record calls a season; its slug never changes."""
    return f"season {season.slug}"


def points_written(points: Fraction) -> str:
    """Write points with two decimals at most."""
    exact = Decimal(points.numerator) / Decimal(points.denominator)
    return f"{exact:.2f}".rstrip("0").rstrip(".")


def season_table(season: Season) -> SeasonTable:
    """Return the standings of the season."""
    results = counted_results(season)
    placings: dict[int, list[tuple[int, int]]] = defaultdict(list)
    wagons: dict[int, dict[str, None]] = defaultdict(dict)
    people: dict[int, Person] = {}
    rows = Placing.objects.filter(result__in=results).select_related("entry__exhibitor")
    for placing in rows.order_by("result", "place", "entry__number"):
        person = placing.entry.exhibitor
        people[person.pk] = person
        wagons[person.pk].setdefault(placing.entry.wagon_name)
        placings[placing.result_id].append((person.pk, placing.place))
    ranked = standings(
        [
            CountedClass(str(result.show_class.show_id), tuple(placings[result.pk]))
            for result in results
        ],
        [Decimal(points) for points in season.points],
        season.best_of,
    )
    ranked.sort(key=lambda line: (line.place, people[line.exhibitor].name, line.exhibitor))
    shows = _shows(season, results)
    return SeasonTable(
        season=season,
        shows=shows,
        lines=[
            SeasonLine(
                person=people[line.exhibitor],
                wagons=", ".join(wagons[line.exhibitor]),
                standing=line,
                total=points_written(line.total),
                by_show=_by_show(line, shows),
            )
            for line in ranked
        ],
        as_of=max((result.released_at for result in results if result.released_at), default=None),
        changes=_changes(season, shows),
    )


def _by_show(
    line: Standing[int], shows: list[SeasonShow]
) -> list[tuple[SeasonCell | None, SeasonShow]]:
    got = {one.show: one for one in line.shows}
    return [(_cell(got.get(str(one.show.pk))), one) for one in shows]


def _cell(got: ShowPoints | None) -> SeasonCell | None:
    if got is None:
        return None
    places = ", ".join(str(place) for place in got.places)
    return SeasonCell(points_written(got.points), places, got.counts)


def _shows(season: Season, results: list[Result]) -> list[SeasonShow]:
    out = {result.show_class_id for result in results}
    by_show: dict[Show, list[ShowClass]] = defaultdict(list)
    for row in season.classes.select_related("show_class__show"):
        by_show[row.show_class.show].append(row.show_class)
    return [
        SeasonShow(show, classes, [one for one in classes if one.pk in out])
        for show, classes in by_show.items()
    ]


def _changes(season: Season, shows: list[SeasonShow]) -> list[AuditEntry]:
    """Return the changes of the points table, once each: every show of the season records them."""
    lines = AuditEntry.objects.filter(
        show__in=[one.show for one in shows], verb=CHANGED, subject=subject_of(season)
    )
    once = {line.at: line for line in lines.exclude(reason="").select_related("actor")}
    return sorted(once.values(), key=lambda line: line.at)
