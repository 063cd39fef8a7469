"""What anybody may read of a show: how it is judged, when, and what was released."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from entries.models import Entry
from entries.queries import entries_by_exhibitor, places_left
from judging.models import ClassCard, Placing, Result, Section
from judging.queries.cards import class_cards, sections_as_counted
from judging.queries.results import released_results
from judging.queries.window import timetable, window_of
from judging.rules.cards.policies import in_words
from showrun.shows.models import Person, Show, ShowClass
from showrun.shows.queries import allowed, show_by_slug
from showrun.shows.rules.access import Deed

METHOD_WORDS = {
    "plain": "Plain total: all judges' points added.",
    "judge_adjusted": "Judge-adjusted total: not every judge sees every wagon, so how strict "
    "each judge was is estimated and taken out before the points are added.",
}


@dataclass(frozen=True)
class HowJudged:
    """A class with its rules in words."""

    show_class: ShowClass
    sections: list[Section]
    points: Decimal
    judges: str
    method: str
    ties: str
    policies: tuple[str, ...]


@dataclass(frozen=True)
class WagonTimes:
    """When judges come to one wagon."""

    entry: Entry
    spans: list[tuple[datetime, datetime]]


@dataclass(frozen=True)
class ResultLine:
    """One wagon in a result."""

    placing: Placing
    shared: bool
    by_section: list[tuple[str, str]]


@dataclass(frozen=True)
class ClassResult:
    """A released result as a table."""

    result: Result
    sections: list[tuple[str, Decimal]]
    lines: list[ResultLine]
    method: str


def tie_words(ladder: Sequence[str], names: dict[str, str]) -> str:
    """Say how equal totals are parted."""
    if not ladder:
        return "Entries with equal totals share the place."
    rungs = ", then by ".join(names.get(code, code) for code in ladder)
    return f"Equal totals are parted by {rungs}; still equal, they share the place."


def judge_words(count: int) -> str:
    """Say how many judges see each section."""
    return "One judge sees each section." if count == 1 else f"{count} judges see each section."


def sentences(kept: Any) -> list[str]:
    """Return cautions or policies as sentences, kept as a list or under short names."""
    if isinstance(kept, dict):
        return [str(text).strip() for text in kept.values()]
    return [str(text).strip() for text in kept or []]


def _how_judged(card: ClassCard) -> HowJudged:
    sections = sorted(card.sections.all(), key=lambda section: section.position)
    return HowJudged(
        show_class=card.show_class,
        sections=sections,
        points=sum((section.points for section in sections), Decimal(0)),
        judges=judge_words(card.judges_per_section),
        method=METHOD_WORDS[card.method],
        ties=tie_words(card.tie_ladder, {section.code: section.name for section in sections}),
        policies=in_words(card.policies),
    )


def _published_times(show: Show) -> list[WagonTimes]:
    window = window_of(show)
    if window is None or window.published_at is None:
        return []
    spans: dict[Entry, list[tuple[datetime, datetime]]] = defaultdict(list)
    for _, visits in timetable(window):
        for visit in visits:
            spans[visit.entry].append((visit.starts_at, visit.ends_at))
    by_number = sorted(spans, key=lambda entry: entry.number or 0)
    return [WagonTimes(entry, sorted(spans[entry])) for entry in by_number]


def _own(request: HttpRequest, show: Show) -> dict[str, Any]:
    """Return what only somebody signed in sees: their entries here, and the office."""
    if not isinstance(request.user, Person):
        return {"mine": [], "has_office": False}
    mine = [entry for entry in entries_by_exhibitor(request.user) if entry.show_id == show.pk]
    return {"mine": mine, "has_office": allowed(request.user, Deed.SEE_OFFICE, show)}


@require_safe
def show_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the dates, the classes and how each is judged, before anybody enters."""
    show = show_by_slug(slug)
    cards = {card.show_class_id: _how_judged(card) for card in class_cards(show)}
    context = {
        "show": show,
        "classes": [(row, cards.get(row.pk)) for row in show.classes.all()],
        "places_left": places_left(show),
        "over": show.ends_on < timezone.localdate(timezone=show.tz),
        "fee": f"${show.entry_fee_cents / 100:,.2f}" if show.entry_fee_cents else "",
        "cautions": sentences(show.cautions),
        "policies": sentences(show.policies),
        "times": _published_times(show),
        "released": Result.objects.released().filter(show_class__show=show).exists(),
        "tz": show.tz,
        **_own(request, show),
    }
    return render(request, "judging/show.html", context)


def _table(result: Result, card: ClassCard | None, before: list[Section] | None) -> ClassResult:
    """Lay a result out; `before` are its sections if the card has changed since."""
    placings = list(result.placings.all())
    places = [placing.place for placing in placings]
    now = sorted(card.sections.all(), key=lambda s: s.position) if card else []
    sections = now if before is None else before
    judges = card.judges_per_section if card else 1
    return ClassResult(
        result=result,
        sections=[(section.name, section.points * judges) for section in sections],
        lines=[
            ResultLine(
                placing=placing,
                shared=places.count(placing.place) > 1,
                by_section=[(s.name, placing.by_section.get(s.code, "")) for s in sections],
            )
            for placing in placings
        ],
        method=METHOD_WORDS[result.method],
    )


@require_safe
def results_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the results the office has released, and nothing of the others."""
    show = show_by_slug(slug)
    released = released_results(show)
    cards = {card.show_class_id: card for card in class_cards(show)} if released else {}
    counted = sections_as_counted(show, released)
    context = {
        "show": show,
        "tz": show.tz,
        "tables": [
            _table(result, cards.get(result.show_class_id), counted.get(result.pk))
            for result in released
        ],
    }
    return render(request, "judging/results.html", context)
