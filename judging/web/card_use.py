"""The office's doors to what a card is for: put a version in use, declare how a class counts it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.declare_class import declare_class
from judging.actions.version_scorecard import use_scorecard
from judging.models import ClassCard, Scorecard
from judging.queries.card_findings import class_findings, difference_of
from judging.queries.card_use import UsePlan, what_use_would_touch
from judging.queries.cards import card_of, demand_card, is_draft, undeclared_classes
from judging.queries.practice import judging_begun
from judging.rules.cards.policies import in_words
from judging.web.card_forms import UseForm
from judging.web.card_pages import actor, office_card
from judging.web.card_places import of_class, on_card
from judging.web.class_form import DeclareForm, every_section, shown_class
from showrun.errors import Conflict, InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.models import ShowClass
from showrun.shows.queries import allowed, demand, show_for
from showrun.shows.rules.access import Deed

SHOWN_FAULTS = 60


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def use_page(request: HttpRequest, slug: str, card_id: int) -> HttpResponse:
    """Show what putting a draft in use would touch, and do it."""
    card = office_card(request, slug, card_id, Deed.RUN_CARDS)
    if not is_draft(card):
        if request.method != "POST":
            return redirect("judging:card", slug, card_id)
        raise Conflict(
            _("{card} is no draft; make a new version and put that in use.").format(card=card)
        )
    form = UseForm(request.POST if request.method == "POST" else None)
    status = 200
    if form.is_bound:
        status = 422
        if form.is_valid():
            try:
                used = use_scorecard(
                    card=card,
                    reason=form.cleaned_data["reason"],
                    by=actor(request),
                    at=timezone.now(),
                )
            except ShowError as fault:
                form.take(fault)
                status = fault.status
            else:
                said = _("{card} is in use. Phones get it the next time they have signal.")
                messages.success(request, said.format(card=used))
                return redirect("judging:scorecard", slug=slug)
    return _use_page(request, card, form, status)


def _use_page(request: HttpRequest, card: Scorecard, form: UseForm, status: int) -> HttpResponse:
    plan: UsePlan = what_use_would_touch(card)
    faults = [on_card(card, place, text) for place, text in plan.faults.items()]
    differs = difference_of(plan.old, card)
    context = {
        "show": card.show,
        "here": "scorecard",
        "card": card,
        "plan": plan,
        "form": form,
        "faults": faults[:SHOWN_FAULTS],
        "more_faults": max(0, len(faults) - SHOWN_FAULTS),
        "differences": [change.sentence for change in differs.changes] if differs else [],
        "closed": bool(faults or plan.stops),
    }
    return render(request, "judging/card_use.html", context, status=status)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def declare_page(request: HttpRequest, slug: str, class_id: int) -> HttpResponse:
    """Show how a class is judged, and declare it until judging has begun."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    show_class = ShowClass.objects.filter(show=show, pk=class_id).first()
    if show_class is None:
        raise NotFound(_("This show has no such class."))
    if request.method == "POST":
        demand(request.user, Deed.RUN_CARDS, show)
    card = card_of(show)
    if card is None:
        demand_card(show)
    assert card is not None
    declared = ClassCard.objects.filter(show_class=show_class).prefetch_related("sections").first()
    form = DeclareForm(
        request.POST if request.method == "POST" else None,
        card=card,
        initial=shown_class(declared) if declared else every_section(card),
    )
    status = 200
    # A look declares nothing.
    looked = "look" in request.POST and form.is_valid()
    if form.is_bound and not looked:
        status = 422
        if form.is_valid():
            try:
                declare_class(
                    show_class=show_class,
                    scorecard=card,
                    by=actor(request),
                    at=timezone.now(),
                    **form.declared,
                )
            except InvalidInput as fault:
                form.take(_in_full(fault))
            except Conflict as fault:
                form.take(fault)
                status = fault.status
            else:
                messages.success(request, _("{name} is declared.").format(name=show_class.name))
                return redirect("judging:declare", slug, class_id)
    begun = judging_begun(show)
    context = {
        "show": show,
        "here": "scorecard",
        "card": card,
        "show_class": show_class,
        "declared": declared,
        "undeclared": undeclared_classes(show),
        "sentences": in_words(declared.policies) if declared else (),
        "lines": of_class(card, class_findings(card, show_class)) if declared else None,
        "form": form,
        "looks_ahead": form.looks_ahead,
        "looked": looked,
        "begun": begun,
        "may_run": allowed(request.user, Deed.RUN_CARDS, show) and not begun,
    }
    return render(request, "judging/card_class.html", context, status=status)


def _in_full(fault: InvalidInput) -> InvalidInput:
    """Put the whole sentence beside each field at fault, a ladder's beside its first."""
    fields = {"tie_ladder": "rung_1", "purse_cents": "purse"}
    names = (fields.get(name, name) for name in fault.fields)
    return InvalidInput(fault.detail, fields=dict.fromkeys(names, fault.detail))
