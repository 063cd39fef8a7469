"""What is read of scorecards and of how classes count them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import Count, Prefetch, QuerySet

from judging.models import ClassCard, Criterion, Result, Scorecard, Section
from judging.queries.library import handbook, library_cards
from judging.rules.cards import scorecard as values
from judging.rules.cards.card_file import CardFaults, CardFile, read_card_file
from judging.rules.cards.scorecard import Form
from judging.rules.round.card_hash import plain_number
from showrun.errors import NotFound, NotYet
from showrun.language import gettext as _
from showrun.shows.models import AuditEntry, Show, ShowClass

NEWEST_DRAFTS = 5
# The record's word for a change of the card; what was in use when is read from it.
PUT_IN_USE = "put in use"


def with_rows(cards: QuerySet[Scorecard]) -> QuerySet[Scorecard]:
    """Let the cards bring their sections and criteria, each in its order."""
    rows = Criterion.objects.order_by("position", "pk")
    sections = Section.objects.prefetch_related(Prefetch("criteria", queryset=rows))
    return cards.prefetch_related(Prefetch("sections", queryset=sections))


def card_of(show: Show) -> Scorecard | None:
    """Return the show's scorecard in use with its sections and criteria."""
    return with_rows(Scorecard.objects.filter(show=show, in_use=True)).first()


def demand_card(show: Show) -> Scorecard:
    """Return the show's scorecard, or say that there is none yet."""
    card = card_of(show)
    if card is None:
        raise NotYet(_("This show has no scorecard yet."))
    return card


def card_version(show: Show, card_id: int) -> Scorecard:
    """Return one version of the show's card with its rows; another show's is not there."""
    card = with_rows(Scorecard.objects.filter(show=show, pk=card_id)).first()
    if card is None:
        raise NotFound(_("This show has no such scorecard."))
    return card


def versions_of(show: Show) -> list[Scorecard]:
    """Return every version with the number of its sections and rows, the newest first."""
    cards = Scorecard.objects.filter(show=show).select_related("copied_from")
    counted = cards.annotate(
        n_sections=Count("sections", distinct=True), n_rows=Count("sections__criteria")
    )
    return list(counted.order_by("-in_use", "-pk"))


def newest_drafts(show: Show) -> dict[int, Scorecard]:
    """Return the newest few drafts with their rows, by id."""
    drafts = Scorecard.objects.filter(show=show, in_use=False, frozen_at__isnull=True)
    return {card.pk: card for card in with_rows(drafts).order_by("-pk")[:NEWEST_DRAFTS]}


def is_draft(card: Scorecard) -> bool:
    """Say whether the card may still be edited: not in use, never used before."""
    return not card.in_use and card.frozen_at is None


def section_values(card: Scorecard) -> Mapping[str, values.Section]:
    """Return the card's sections as the rules know them, by code."""
    return {section.code: section.as_value() for section in card.sections.all()}


def class_cards(show: Show) -> list[ClassCard]:
    """Return how each class of the show is judged, in the show's order."""
    cards = ClassCard.objects.filter(show_class__show=show).select_related("show_class")
    return list(cards.prefetch_related("sections").order_by("show_class__position"))


def undeclared_classes(show: Show) -> list[ShowClass]:
    """Return the classes for which nobody has declared how they are judged, in the show's order."""
    declared = ClassCard.objects.filter(show_class__show=show).values("show_class")
    return list(show.classes.exclude(pk__in=declared).order_by("position"))


def sections_as_counted(show: Show, results: Sequence[Result]) -> dict[int, list[Section]]:
    """Return the sections behind each result, by result id, as the card stood when it was computed.

    Left out are results computed on the card in use. They come with their placings.
    """
    changes = AuditEntry.objects.filter(show=show, verb=PUT_IN_USE, before__isnull=False)
    lines = list(changes.order_by("at", "pk").values_list("at", "before"))
    cards: dict[int, int] = {}
    for result in results:
        later = (before["card"] for at, before in lines if at > result.computed_at)
        if card := next(later, None):
            cards[result.pk] = card
    by_card: dict[int, list[Section]] = {}
    for section in Section.objects.filter(scorecard__in=set(cards.values())) if cards else ():
        by_card.setdefault(section.scorecard_id, []).append(section)
    counted = {result.pk: _codes_of(result) for result in results if result.pk in cards}
    return {
        pk: [section for section in by_card.get(cards[pk], ()) if section.code in codes]
        for pk, codes in counted.items()
    }


def _codes_of(result: Result) -> set[str]:
    return {code for placing in result.placings.all() for code in placing.by_section}


# --- The card as a file ----------------------------------------------------------------------


def _number(value: Decimal) -> int | float:
    """Return the number as a card file has it; two places are exact enough for a float."""
    return int(value) if value == value.to_integral_value() else float(plain_number(value))


def row_data(row: Criterion) -> dict[str, Any]:
    """Return a row in the shape of a card file, as it is kept, right or wrong."""
    data: dict[str, Any] = {"code": row.code, "name": row.name}
    if row.guidance:
        data["guidance"] = row.guidance
    if row.danger:
        data["danger"] = row.danger
    data["max_mark"], data["step"] = _number(row.max_mark), _number(row.step)
    if row.weight != 1:
        data["weight"] = _number(row.weight)
    if row.applies:
        data["applies"] = row.applies
    if row.one_of:
        data["one_of"] = row.one_of
    if row.parts:
        data["parts"] = list(row.parts)
    return data


def section_data(section: Section) -> dict[str, Any]:
    """Return a section with its rows in the shape of a card file."""
    data: dict[str, Any] = {
        "code": section.code,
        "name": section.name,
        "points": _number(section.points),
        "minutes": section.minutes,
    }
    if section.form != Form.POINTS:
        data["form"] = section.form
    if section.all_or_nothing:
        data["all_or_nothing"] = True
    if section.quick_phrases:
        data["quick_phrases"] = list(section.quick_phrases)
    data["criteria"] = [row_data(row) for row in section.criteria.all()]
    return data


def card_data(card: Scorecard) -> dict[str, Any]:
    """Return the card in the shape of a card file; a draft's may be one the rules refuse."""
    data: dict[str, Any] = {"name": card.name, "version": card.version}
    if card.code:
        data = {"code": card.code, **data}
    if card.notice:
        data["notice"] = card.notice
    data["sections"] = [section_data(section) for section in card.sections.all()]
    return data


def read_data(data: object) -> CardFile:
    """Read a card file against the library and the handbook, or raise `CardFaults`."""
    return read_card_file(data, library_cards(), parts=handbook())


def faults_of(data: object) -> dict[str, str]:
    """Return what keeps a card from being used, by its place in the card file."""
    try:
        read_data(data)
    except CardFaults as found:
        return dict(found.faults)
    return {}
