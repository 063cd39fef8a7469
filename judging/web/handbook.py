"""The handbook of parts as pages: the study sheet, a show's own parts, and how to prepare."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from entries.queries.entries import own_wagons
from entries.rules.rig import WORDS
from judging.models import Criterion, Scorecard, Section
from judging.queries.cards import card_of
from judging.queries.handbook_parts import grouped, legend_of, parts_of
from judging.queries.library import Drawing, drawings, handbook
from judging.rules.cards.condition import condition_words
from judging.rules.handbook.parts import Part
from judging.web.card_view import DANGER_SIGN, Fit, fit_of
from judging.web.public import sentences
from judging.web.setup_forms import RigForm
from showrun.language import gettext as _
from showrun.shows.models import Person
from showrun.shows.queries import show_by_slug


@dataclass(frozen=True)
class PartView:
    """A part with what is said beside it."""

    part: Part
    rigs: str  # "" for every rig
    sign: str
    drawing: Drawing | None


@dataclass(frozen=True)
class DrawingView:
    """A drawing with the parts its numbers stand for; `shown` are those on this page."""

    name: str
    drawing: Drawing
    legend: list[tuple[Part, bool]]


@dataclass(frozen=True)
class GroupView:
    """A heading of the study sheet with its drawings and parts."""

    name: str
    drawings: list[DrawingView]
    parts: list[PartView]


@dataclass(frozen=True)
class RowToPrepare:
    """A row of the card with what to do beforehand; `when` says on which rigs, "" if decided."""

    row: Criterion
    when: str
    parts: list[Part]


@dataclass(frozen=True)
class SectionToPrepare:
    """A section with the rows a rig may be judged on."""

    section: Section
    rows: list[RowToPrepare]


def study_sheet(parts: Iterable[Part]) -> list[GroupView]:
    """Lay the parts out by group, with the drawings that stand there."""
    groups = grouped(parts)
    shown = {part.code for group in groups for part in group.parts}
    return [
        GroupView(
            name=group.name,
            drawings=[_drawing(name, shown) for name in group.drawings],
            parts=[_part(part) for part in group.parts],
        )
        for group in groups
    ]


def _drawing(name: str, shown: set[str]) -> DrawingView:
    legend = [(part, part.code in shown) for part in legend_of(name)]
    return DrawingView(name, drawings()[name], legend)


def _part(part: Part) -> PartView:
    return PartView(
        part=part,
        rigs=condition_words(part.rigs) if part.rigs else "",
        sign=DANGER_SIGN.get(part.danger, ""),
        drawing=drawings().get(part.drawing),
    )


def to_prepare(card: Scorecard, facts: Mapping[str, str]) -> list[SectionToPrepare]:
    """Lay out the rows a rig may be judged on, with how to prepare for each."""
    sections = [
        SectionToPrepare(section, _rows_to_prepare(section, facts))
        for section in card.sections.all()
    ]
    return [section for section in sections if section.rows]


def _rows_to_prepare(section: Section, facts: Mapping[str, str]) -> list[RowToPrepare]:
    lines = []
    for row in section.criteria.all():
        fit = fit_of(row.applies, facts)
        if fit is Fit.NO:
            continue
        known = (handbook()[code] for code in row.parts if code in handbook())
        lines.append(
            RowToPrepare(
                row=row,
                when=condition_words(row.applies) if fit is Fit.OPEN else "",
                parts=[part for part in known if fit_of(part.rigs, facts) is not Fit.NO],
            )
        )
    return lines


@require_safe
def handbook_page(request: HttpRequest) -> HttpResponse:
    """Show every part by group, with the drawings."""
    context = {"groups": study_sheet(handbook().values()), "count": len(handbook())}
    return render(request, "judging/handbook.html", context)


@require_safe
def show_handbook_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the parts that the show's card looks at."""
    show = show_by_slug(slug)
    card = card_of(show)
    parts = parts_of(card) if card else []
    context = {"show": show, "card": card, "groups": study_sheet(parts), "count": len(parts)}
    return render(request, "judging/handbook.html", context)


@require_safe
def prepare_page(request: HttpRequest, slug: str) -> HttpResponse:
    """Show what an exhibitor prepares for the show's card, for one rig or for any."""
    show = show_by_slug(slug)
    card = card_of(show)
    form = RigForm(request.GET)
    facts, person = form.facts, request.user
    context = {
        "show": show,
        "card": card,
        "form": form,
        "rig": ", ".join(_(WORDS[value]) for value in facts.values()),
        "open": len(form.fields) - len(facts),
        "sections": to_prepare(card, facts) if card else [],
        "cautions": sentences(show.cautions),
        "mine": own_wagons(person, show) if isinstance(person, Person) else [],
    }
    return render(request, "judging/prepare.html", context)
