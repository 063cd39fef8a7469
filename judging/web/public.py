"""What anybody may read of a show: how it is judged, when, and what was released."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from entries.models import Entry
from entries.queries.entering import closed_for
from entries.queries.entries import entries_by_exhibitor, places_left
from entries.rules.money_words import dollars
from judging.actions.set_release_hour import release_due
from judging.models import ClassCard, Judge, Placing, Result, Section
from judging.queries.cards import class_cards
from judging.queries.corrections import Correction, corrections
from judging.queries.counted import Counted, counted_by
from judging.queries.gaps import public_gaps
from judging.queries.panel_report import results_are_out
from judging.queries.results import released_results
from judging.queries.window import timetable, window_of
from judging.rules.cards.policies import policy_sentences
from judging.rules.results.method_figures import figure, out_of
from judging.rules.results.methods import SAID as METHOD_WORDS
from judging.web.public_terms import terms_said
from judging.web.result_words import fingerprint
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Person, Show, ShowClass
from showrun.shows.queries import allowed, show_by_slug
from showrun.shows.rules.access import Deed


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
    total: str
    by_section: list[tuple[str, str]]
    purse: str


@dataclass(frozen=True)
class ClassResult:
    """A released result as a table."""

    result: Result
    out_of: str
    sections: list[tuple[str, Decimal]]
    lines: list[ResultLine]
    method: str
    paid: str
    missing: list[str]
    fingerprint: str
    correction: Correction | None = None


def tie_words(ladder: Sequence[str], names: dict[str, str]) -> str:
    """Say how equal totals are parted."""
    if not ladder:
        return _("Entries with equal totals share the place.")
    rungs = _(", then by ").join(names.get(code, code) for code in ladder)
    return _("Equal totals are parted by {rungs}; still equal, they share the place.").format(
        rungs=rungs
    )


def judge_words(count: int) -> str:
    """Say how many judges see each section."""
    return ngettext("One judge sees each section.", "{n} judges see each section.", count).format(
        n=count
    )


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
        method=_(METHOD_WORDS[card.method]),
        ties=tie_words(card.tie_ladder, {section.code: section.name for section in sections}),
        policies=policy_sentences(card.policies),
    )


def _published_times(show: Show) -> list[WagonTimes]:
    window = window_of(show)
    if window is None or window.published_at is None:
        return []
    spans: dict[Entry, list[tuple[datetime, datetime]]] = defaultdict(list)
    for _judge, visits in timetable(window):
        for visit in visits:
            spans[visit.entry].append((visit.starts_at, visit.ends_at))
    by_number = sorted(spans, key=lambda entry: entry.number or 0)
    return [WagonTimes(entry, sorted(spans[entry])) for entry in by_number]


def _own(request: HttpRequest, show: Show) -> dict[str, Any]:
    """Return what only somebody signed in sees: their entries here, their report, the office."""
    if not isinstance(request.user, Person):
        return {"mine": [], "has_office": False}
    judge = Judge.objects.filter(show=show, person=request.user).first()
    mine = [entry for entry in entries_by_exhibitor(request.user) if entry.show_id == show.pk]
    return {
        "mine": mine,
        "has_office": allowed(request.user, Deed.SEE_OFFICE, show),
        "own_report": judge.pk if judge and results_are_out(judge) else None,
    }


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
        "closed": closed_for(show, timezone.now()),
        "terms": terms_said(show),
        "cautions": sentences(show.cautions),
        "policies": sentences(show.policies),
        "times": _published_times(show),
        "released": Result.objects.released().filter(show_class__show=show).exists(),
        "tz": show.tz,
        **_own(request, show),
    }
    return render(request, "judging/show.html", context)


def _table(result: Result, counted: Counted) -> ClassResult:
    """Lay a result out, by the sections it counted."""
    placings = list(result.placings.all())
    places = [placing.place for placing in placings]
    sections, method = counted.sections, result.method
    return ClassResult(
        result=result,
        out_of=out_of(method, counted.possible),
        sections=[(section.name, counted.possible_of(section)) for section in sections],
        lines=[
            ResultLine(
                placing=placing,
                shared=places.count(placing.place) > 1,
                total=figure(method, placing.total),
                by_section=[(s.name, _figure(method, placing, s)) for s in sections],
                purse=dollars(placing.purse_cents) if placing.purse_cents else "",
            )
            for placing in placings
        ],
        method=_(METHOD_WORDS[result.method]),
        paid=dollars(paid) if (paid := sum(p.purse_cents for p in placings)) else "",
        missing=_missing(result, placings, sections),
        fingerprint=fingerprint(result.result_hash),
    )


def _figure(method: str, placing: Placing, section: Section) -> str:
    points = placing.by_section.get(section.code)
    return figure(method, Decimal(points)) if points else ""


def _missing(result: Result, placings: list[Placing], sections: Sequence[Section]) -> list[str]:
    """Say which cards a result lacks; whose they are stays in the office."""
    order = {section.code: n for n, section in enumerate(sections)}
    names = {section.code: section.name for section in sections}
    lacks: dict[int, list[str]] = defaultdict(list)
    for gap in sorted(public_gaps(result), key=lambda gap: order.get(gap.section, len(order))):
        cards = ngettext("{n} card", "{n} cards", gap.cards).format(n=gap.cards)
        lacks[gap.entry].append(f"{names.get(gap.section, gap.section)} {cards}")
    entries = {placing.entry.number: placing.entry.called for placing in placings}
    return [
        _("Wagon {wagon}: {sections}").format(wagon=entries.get(n, n), sections=", ".join(lacks[n]))
        for n in sorted(lacks)
    ]


@require_safe
def results_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the results the office has released, and nothing of the others."""
    show = show_by_slug(slug)
    release_due(at=timezone.now(), show=show)
    released = released_results(show)
    changed = corrections(released, released=True)
    cards = {card.show_class_id: card for card in class_cards(show)} if released else {}
    counted = counted_by(show, released, cards)
    context = {
        "show": show,
        "tz": show.tz,
        "tables": [
            replace(
                _table(result, counted[result.pk]),
                correction=changed.get(result.pk),
            )
            for result in released
        ],
    }
    return render(request, "judging/results.html", context)
