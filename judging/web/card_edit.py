"""The office's doors to one version of a card: look at it, edit a draft, make a new version."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions import edit_row, edit_scorecard
from judging.actions.version_scorecard import new_version
from judging.models import Criterion, Scorecard, Section
from judging.queries.card_findings import findings_of
from judging.queries.cards import is_draft, undeclared_classes
from judging.queries.library import library_cards
from judging.rules.cards.condition import in_words, rigs_met
from judging.web.card_forms import NameForm, SectionForm, shown_section
from judging.web.card_lists import library_lines
from judging.web.card_pages import MANY_ROWS, actor, office_card
from judging.web.card_places import lines_of
from judging.web.card_row_form import RowForm, shown_row
from judging.web.card_view import points_of, section_views
from showrun.errors import InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Person
from showrun.shows.queries import allowed, demand
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent


def _section_of(card: Scorecard, section_id: int) -> Section:
    found = next((one for one in card.sections.all() if one.pk == section_id), None)
    if found is None:
        raise NotFound()
    return found


def _row_of(card: Scorecard, row_id: int) -> Criterion:
    rows = (row for section in card.sections.all() for row in section.criteria.all())
    found = next((row for row in rows if row.pk == row_id), None)
    if found is None:
        raise NotFound()
    return found


def _to(card: Scorecard, slug: str, place: str = "") -> HttpResponseRedirect:
    address = reverse("judging:card", args=[slug, card.pk])
    return HttpResponseRedirect(f"{address}#{place}" if place else address)


# --- One version -----------------------------------------------------------------------------


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def card_page(request: HttpRequest, slug: str, card_id: int) -> HttpResponse:
    """Show a version of the card; a draft is edited here."""
    card = office_card(request, slug, card_id, Deed.SEE_OFFICE)
    name = NameForm(initial={"name": card.name, "notice": card.notice})
    status = 200
    if request.method == "POST":
        demand(request.user, Deed.RUN_CARDS, card.show)
        do, *about = request.POST.get("do", "").split() or [""]
        if do == "name":
            name = NameForm(request.POST)
        try:
            done = _do(request, slug, card, do, about, name)
        except ShowError as fault:
            messages.error(request, fault.detail)
            if fault.status == 404:
                raise
            done = _to(card, slug)
        if done:
            return done
        status = 422
    return _page(request, card, name, status)


def _page(request: HttpRequest, card: Scorecard, name: NameForm, status: int) -> HttpResponse:
    views = section_views(card, {})
    context = {
        "show": card.show,
        "here": "scorecard",
        "card": card,
        "draft": is_draft(card),
        "name": name,
        "sections": views,
        "fold": sum(view.count for view in views) > MANY_ROWS,
        "points": points_of(card),
        "lines": lines_of(card, findings_of(card)),
        "library": library_lines(library_cards()) if is_draft(card) else [],
        "undeclared": undeclared_classes(card.show),
        "may_run": allowed(request.user, Deed.RUN_CARDS, card.show),
    }
    return render(request, "judging/card_edit.html", context, status=status)


def _do(
    request: HttpRequest, slug: str, card: Scorecard, do: str, about: Sequence[str], name: NameForm
) -> HttpResponse | None:
    """Do what a button of the page says; None where a form says what is wrong."""
    by, at = actor(request), timezone.now()
    if do == "name":
        return _rename(request, slug, card, name, by, at)
    if do == "version":
        made = new_version(card=card, by=by, at=at)
        said = _("{card} is a draft. Judges keep the card in use until it is.")
        messages.success(request, said.format(card=made))
        return _to(made, slug)
    if do == "discard":
        edit_scorecard.discard_draft(card=card, by=by, at=at)
        messages.success(request, _("The draft {card} is thrown away.").format(card=card))
        return redirect("judging:scorecard", slug=slug)
    if do == "take" and len(about) == 2:
        section = edit_scorecard.take_section(
            card=card, library_card=about[0], section=about[1], by=by, at=at
        )
        said = _("{name} is copied to the end of the draft.")
        messages.success(request, said.format(name=section.name))
        return _to(card, slug, f"section-{section.pk}")
    if len(about) == 1 and (moved := number_sent(about[0])):
        return _move(request, slug, card, do, moved, by, at)
    raise InvalidInput(_("The page does not know that button."))


def _rename(
    request: HttpRequest, slug: str, card: Scorecard, form: NameForm, by: Person, at: datetime
) -> HttpResponse | None:
    if not form.is_valid():
        return None
    try:
        renamed = edit_scorecard.rename_scorecard(
            card=card,
            name=form.cleaned_data["name"],
            notice=form.cleaned_data["notice"],
            by=by,
            at=at,
        )
    except InvalidInput as fault:
        form.take(fault)
        return None
    messages.success(request, _("Saved: {name}.").format(name=renamed))
    return _to(card, slug)


def _move(
    request: HttpRequest,
    slug: str,
    card: Scorecard,
    do: str,
    pk: int,
    by: Person,
    at: datetime,
) -> HttpResponse:
    """Move or remove a section or a row of the card."""
    steps = {"up": -1, "down": 1}
    kind, _dash, way = do.partition("-")
    if kind == "section" and way in steps:
        section = _section_of(card, pk)
        edit_scorecard.move_section(section=section, by_places=steps[way], by=by, at=at)
        return _to(card, slug, f"section-{pk}")
    if kind == "row" and way in steps:
        edit_row.move_row(row=_row_of(card, pk), by_places=steps[way], by=by, at=at)
        return _to(card, slug, f"row-{pk}")
    if do == "section-remove":
        section = _section_of(card, pk)
        edit_scorecard.remove_section(section=section, by=by, at=at)
        said = _("{name} is removed from the draft.")
        messages.success(request, said.format(name=section.name))
        return _to(card, slug)
    if do == "row-remove":
        row = _row_of(card, pk)
        place = f"section-{row.section_id}"
        edit_row.remove_row(row=row, by=by, at=at)
        said = _("{name} is removed from the draft.")
        messages.success(request, said.format(name=row.name))
        return _to(card, slug, place)
    raise InvalidInput(_("The page does not know that button."))


# --- Sections and rows -----------------------------------------------------------------------


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def section_page(
    request: HttpRequest, slug: str, card_id: int, section_id: int | None = None
) -> HttpResponse:
    """Add a section to a draft, or change one."""
    card = office_card(request, slug, card_id, Deed.RUN_CARDS)
    section = _section_of(card, section_id) if section_id else None
    shown = shown_section(section) if section else {}
    form = SectionForm(request.POST if request.method == "POST" else None, initial=shown)
    edit_scorecard.demand_editable(card)
    if form.is_bound and form.is_valid():
        by, at = actor(request), timezone.now()
        try:
            if section:
                saved = edit_scorecard.change_section(
                    section=section, fields=form.cleaned_data, by=by, at=at
                )
            else:
                saved = edit_scorecard.add_section(
                    card=card, fields=form.cleaned_data, by=by, at=at
                )
        except InvalidInput as fault:
            form.take(fault)
        else:
            messages.success(request, _("Saved: {name}.").format(name=saved.name))
            return _to(card, slug, f"section-{saved.pk}")
    context = {
        "show": card.show,
        "here": "scorecard",
        "card": card,
        "section": section,
        "form": form,
    }
    status = 422 if form.is_bound else 200
    return render(request, "judging/card_section.html", context, status=status)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def row_page(
    request: HttpRequest,
    slug: str,
    card_id: int,
    section_id: int | None = None,
    row_id: int | None = None,
) -> HttpResponse:
    """Add a row to a section of a draft, or change one."""
    card = office_card(request, slug, card_id, Deed.RUN_CARDS)
    row = _row_of(card, row_id) if row_id else None
    section = _section_of(card, row.section_id if row else section_id or 0)
    form = _row_form(request, card, section, row)
    edit_scorecard.demand_editable(card)
    if form.is_bound and form.is_valid():
        try:
            saved = _save_row(card, section, row, form, actor(request))
        except InvalidInput as fault:
            form.take(fault)
        else:
            messages.success(request, _saved_row(saved))
            if "another" in request.POST:
                return redirect("judging:card-new-row", slug, card.pk, saved.section_id)
            return _to(card, slug, f"row-{saved.pk}")
    context = {
        "show": card.show,
        "here": "scorecard",
        "card": card,
        "section": section,
        "row": row,
        "when": in_words(row.applies) if row else "",
        "form": form,
    }
    status = 422 if form.is_bound else 200
    return render(request, "judging/card_row.html", context, status=status)


def _saved_row(row: Criterion) -> str:
    said = _("Saved: {name}. Judged on: {when}.").format(name=row.name, when=in_words(row.applies))
    n_rigs = len(rigs_met(row.applies))
    if n_rigs == 48:
        return said
    return said + " " + _("That is {n} of the 48 rigs there can be.").format(n=n_rigs)


def _row_form(
    request: HttpRequest, card: Scorecard, section: Section, row: Criterion | None
) -> RowForm:
    more: dict[str, Any] = {"section": section, "sections": list(card.sections.all())}
    if row:
        more |= {"initial": shown_row(row), "applies": row.applies}
    return RowForm(request.POST if request.method == "POST" else None, **more)


def _save_row(
    card: Scorecard, section: Section, row: Criterion | None, form: RowForm, by: Person
) -> Criterion:
    at, chosen = timezone.now(), _section_of(card, int(form.cleaned_data["section"]))
    if row is None:
        return edit_row.add_row(section=chosen, fields=form.row_fields, by=by, at=at)
    return edit_row.change_row(
        row=row,
        fields=form.row_fields,
        section=chosen if chosen.pk != section.pk else None,
        by=by,
        at=at,
    )
