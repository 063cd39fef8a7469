"""The office's doors to its cards: the one in use, versions, the library, files, the phone."""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from judging.actions.adopt_scorecard import adopt_from_library, adopt_scorecard, begin_scorecard
from judging.models import Scorecard
from judging.queries.card_findings import findings_of
from judging.queries.cards import (
    card_data,
    card_of,
    card_version,
    class_cards,
    newest_drafts,
    undeclared_classes,
    versions_of,
)
from judging.queries.library import library_cards
from judging.rules.cards.card_text import read_text, write_json, write_yaml
from judging.web.card_forms import BeginForm, ImportForm
from judging.web.card_lists import library_lines, version_lines
from judging.web.card_phone import phone_view
from judging.web.card_places import in_file, lines_of
from judging.web.card_view import class_lines, points_of, section_views
from judging.web.setup_forms import RigForm
from showrun.errors import InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.office_form import OfficeForm

FILES = {"yaml": (write_yaml, "application/yaml"), "json": (write_json, "application/json")}
MANY_ROWS = 200  # above it, sections of a page are folded
SHOWN_FAULTS = 40


def actor(request: HttpRequest) -> Person:
    """Return who is signed in, the deed having been demanded."""
    assert isinstance(request.user, Person)
    return request.user


def office_card(request: HttpRequest, slug: str, card_id: int, deed: Deed) -> Scorecard:
    """Return a card of the show for somebody who may do the deed there."""
    show = show_for(request.user, slug, deed)
    card = card_version(show, card_id)
    card.show = show
    return card


@never_cache
@require_safe
def scorecard(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the card in use as judges have it, for every rig or for one, and the versions."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    card = card_of(show)
    form = RigForm(request.GET)
    facts = form.facts
    sections = section_views(card, facts) if card else []
    declared = class_cards(show)
    context = {
        "show": show,
        "here": "scorecard",
        "card": card,
        "form": form,
        "facts": facts,
        "sections": sections,
        "fold": sum(view.count for view in sections) > MANY_ROWS,
        "classes": class_lines(declared),
        "undeclared": undeclared_classes(show),
        "points": points_of(card),
        "lines": lines_of(card, findings_of(card)) if card else None,
        "versions": version_lines(card, versions_of(show), newest_drafts(show)),
        "may_run": allowed(request.user, Deed.RUN_CARDS, show),
    }
    return render(request, "judging/scorecard.html", context)


# --- Library, files and empty cards ---------------------------------------------------------


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def library(request: HttpRequest, slug: str) -> HttpResponse:
    """Take a card of the starter library, bring one in as a file, or begin an empty one."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    do = request.POST.get("do", "")
    data = request.POST if request.method == "POST" else None
    forms: dict[str, OfficeForm] = {
        "begin": BeginForm(data if do == "begin" else None),
        "import": ImportForm(data if do == "import" else None, request.FILES or None),
    }
    faults: list[tuple[str, str, str]] = []
    status = 200
    if data is not None:
        demand(request.user, Deed.RUN_CARDS, show)
        try:
            card = _bring(show, do, request.POST.get("card", ""), forms, actor(request))
            if card:
                said = (
                    _("{card} is in use.")
                    if card.in_use
                    else _("{card} is a draft; nothing is touched yet.")
                )
                messages.success(request, said.format(card=card))
                return redirect("judging:card", slug=slug, card_id=card.pk)
            status = 422
        except ShowError as fault:
            status = fault.status
            faults = in_file(fault.fields)
            if not faults:
                messages.error(request, fault.detail)
    context = {
        "show": show,
        "here": "scorecard",
        "cards": library_lines(library_cards()),
        "begin": forms["begin"],
        "import_form": forms["import"],
        "show_has_card": card_of(show) is not None,
        "faults": faults[:SHOWN_FAULTS],
        "more_faults": max(0, len(faults) - SHOWN_FAULTS),
        "refused": status != 200,
        "may_run": allowed(request.user, Deed.RUN_CARDS, show),
    }
    return render(request, "judging/card_library.html", context, status=status)


def _bring(
    show: Show, do: str, code: str, forms: dict[str, OfficeForm], by: Person
) -> Scorecard | None:
    """Make the card asked for, or None where a form says what is wrong."""
    at = timezone.now()
    if do == "take":
        return adopt_from_library(show=show, code=code, by=by, at=at)
    form = forms.get(do)
    if form is None:
        raise InvalidInput(_("Take, import or begin a card: choose one of them."))
    if not form.is_valid():
        return None
    if do == "begin":
        return _begin(show, form, by, at)
    try:
        data = read_text(form.cleaned_data["text"])
    except ValueError as fault:
        raise InvalidInput(str(fault), fields={"": str(fault)}) from fault
    if not isinstance(data, dict):
        sentence = _("A card is a mapping with a name and sections.")
        raise InvalidInput(sentence, fields={"": sentence})
    return adopt_scorecard(show=show, data=data, by=by, at=at)


def _begin(show: Show, form: OfficeForm, by: Person, at: datetime) -> Scorecard | None:
    try:
        return begin_scorecard(show=show, name=form.cleaned_data["name"], by=by, at=at)
    except InvalidInput as fault:
        form.take(fault)
        return None


@require_safe
def card_file(request: HttpRequest, slug: str, card_id: int, form: str) -> HttpResponse:
    """Give a version of the card as a file that can be imported again."""
    card = office_card(request, slug, card_id, Deed.SEE_OFFICE)
    if form not in FILES:
        raise NotFound(_("A card comes as yaml or json."))
    write, kind = FILES[form]
    name = f"{slug}-card-{card.pk}-version-{card.version}.{form}"
    answer = HttpResponse(write(card_data(card)), content_type=f"{kind}; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


@never_cache
@require_safe
def phone(request: HttpRequest, slug: str, card_id: int) -> HttpResponse:
    """Show the card as it stands on a judge's phone, for a rig chosen."""
    card = office_card(request, slug, card_id, Deed.SEE_OFFICE)
    form = RigForm(request.GET)
    context = {
        "show": card.show,
        "here": "scorecard",
        "card": card,
        "form": form,
        "view": phone_view(card, form.facts),
    }
    return render(request, "judging/card_phone.html", context)
