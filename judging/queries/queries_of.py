"""Exhibitors' queries about released results."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Case, Value, When

from entries.models import Entry
from judging.models import ClassCard, ExhibitorQuery, Placing, Result, Section
from judging.rules.results.query_window import against_query, query_window
from showrun.shows.models import Show

_OPEN = ExhibitorQuery.State.OPEN


@dataclass(frozen=True)
class QueryLine:
    """A query with what the pages say beside it."""

    query: ExhibitorQuery
    section: str
    corrected: bool

    @property
    def is_open(self) -> bool:
        """Whether it waits for the office."""
        return self.query.state == _OPEN


@dataclass(frozen=True)
class QueriesOfClass:
    """What an exhibitor asked about one class, and whether more may be asked."""

    result: Result
    asked: list[QueryLine]
    closes_at: datetime
    against: str
    sections: list[tuple[str, str]]


def queries_put(entry: Entry, class_id: int) -> int:
    """Count what this entry has asked in a class, withdrawn queries too."""
    return ExhibitorQuery.objects.filter(entry=entry, result__show_class=class_id).count()


def corrected_since(query: ExhibitorQuery) -> bool:
    """Say whether a newer version was computed after the query was put, and is public."""
    return Result.objects.filter(
        show_class=query.result.show_class_id,
        version__gt=query.result.version,
        computed_at__gte=query.asked_at,
        released_at__isnull=False,
    ).exists()


def open_queries(show: Show) -> int:
    """Count what waits for the office."""
    return ExhibitorQuery.objects.filter(result__show_class__show=show, state=_OPEN).count()


def queries_of_show(show: Show) -> list[QueryLine]:
    """Return all queries of the show: open ones first, of each kind the oldest first."""
    waits = Case(When(state=_OPEN, then=Value(0)), default=Value(1))
    found = ExhibitorQuery.objects.filter(result__show_class__show=show)
    found = found.select_related("result__show_class", "entry", "asked_by", "answered_by")
    queries = list(found.order_by(waits, "asked_at", "id"))
    newest: dict[int, list[tuple[int, datetime]]] = {}
    versions = Result.objects.filter(show_class__show=show, released_at__isnull=False)
    for class_id, version, at in versions.values_list("show_class", "version", "computed_at"):
        newest.setdefault(class_id, []).append((version, at))
    names = section_names(show)
    return [
        QueryLine(
            query,
            names.get(query.section, query.section),
            any(
                version > query.result.version and at >= query.asked_at
                for version, at in newest[query.result.show_class_id]
            ),
        )
        for query in queries
    ]


def queries_of_entry(
    entry: Entry, placings: list[Placing], *, at: datetime
) -> dict[int, QueriesOfClass]:
    """Return what was asked of each released class of an entry, by class id."""
    if not placings:
        return {}
    names = section_names(entry.show)
    asked: dict[int, list[QueryLine]] = {}
    found = ExhibitorQuery.objects.filter(entry=entry).select_related("result", "answered_by")
    for query in found:
        line = QueryLine(query, names.get(query.section, query.section), corrected=False)
        asked.setdefault(query.result.show_class_id, []).append(line)
    put = Counter({class_id: len(lines) for class_id, lines in asked.items()})
    minutes = dict(
        ClassCard.objects.filter(show_class__show=entry.show_id).values_list(
            "show_class", "query_minutes"
        )
    )
    of_class = {}
    for placing in placings:
        result = placing.result
        assert result.released_at
        window = query_window(result.released_at, minutes.get(result.show_class_id, 0))
        of_class[result.show_class_id] = QueriesOfClass(
            result=result,
            asked=asked.get(result.show_class_id, []),
            closes_at=window.closes_at,
            against=against_query(window, put_before=put[result.show_class_id], at=at),
            sections=[(code, names.get(code, code)) for code in placing.by_section],
        )
    return of_class


def section_names(show: Show) -> dict[str, str]:
    """Return the names of sections by code; the card in use has the last word."""
    sections = Section.objects.filter(scorecard__show=show)
    ordered = sections.order_by("scorecard__in_use", "scorecard__version")
    return dict(ordered.values_list("code", "name"))
