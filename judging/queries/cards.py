"""What is read of scorecards and of how classes count them."""

from __future__ import annotations

from collections.abc import Mapping

from django.db.models import Prefetch

from judging.models import ClassCard, Criterion, Scorecard, Section
from judging.rules.cards import scorecard as values
from showrun.errors import NotYet
from showrun.shows.models import Show


def card_of(show: Show) -> Scorecard | None:
    """Return the show's newest scorecard with its sections and criteria."""
    rows = Criterion.objects.order_by("position")
    sections = Section.objects.prefetch_related(Prefetch("criteria", queryset=rows))
    return (
        Scorecard.objects.filter(show=show)
        .prefetch_related(Prefetch("sections", queryset=sections))
        .order_by("-version", "-id")
        .first()
    )


def demand_card(show: Show) -> Scorecard:
    """Return the show's scorecard, or say that there is none yet."""
    card = card_of(show)
    if card is None:
        raise NotYet("This show has no scorecard yet.")
    return card


def section_values(card: Scorecard) -> Mapping[str, values.Section]:
    """Return the card's sections as the rules know them, by code."""
    return {section.code: section.as_value() for section in card.sections.all()}


def class_cards(show: Show) -> list[ClassCard]:
    """Return how each class of the show is judged, in the show's order."""
    cards = ClassCard.objects.filter(show_class__show=show).select_related("show_class")
    return list(cards.prefetch_related("sections").order_by("show_class__position"))
