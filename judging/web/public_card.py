"""The card judges will have, for whoever means to come, by section and for one rig."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from judging.queries.cards import card_of, class_cards
from judging.web.card_view import class_lines, points_of, section_views
from judging.web.setup_forms import RigForm
from showrun.shows.queries import show_by_slug


@require_safe
def public_card(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the card in use; drafts and earlier versions stay in the office."""
    show = show_by_slug(slug)
    card = card_of(show)
    form = RigForm(request.GET)
    facts = form.facts
    context = {
        "show": show,
        "card": card,
        "form": form,
        "facts": facts,
        "open": len(form.fields) - len(facts),
        "points": points_of(card),
        "sections": section_views(card, facts) if card else [],
        "classes": class_lines(class_cards(show)),
    }
    return render(request, "judging/show_card.html", context)
