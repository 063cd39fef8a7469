"""Declare how a class is judged, before judging."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from entries.rules.money_words import dollars
from judging.models import ClassCard, Scorecard
from judging.queries.practice import judging_begun
from judging.rules.cards.policies import Policies
from judging.rules.cards.scorecard import Form, NotInspected
from judging.rules.results.declared import read_shares
from judging.rules.results.method_figures import ADJUSTING
from judging.rules.results.methods import METHODS
from judging.rules.results.totals_more import LEAST_TO_PLACE, LEAST_TO_TRIM
from showrun.errors import Conflict, InvalidInput
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show, ShowClass

FIRST_YEAR, LAST_YEAR = 1600, 2199
LONGEST_NOTE = 600  # letters
MOST_JUDGES = 50
QUERY_MINUTES = 60
LONGEST_QUERY = 7 * 24 * 60  # minutes
LARGEST_PURSE = 100_000_000_00  # cents


@transaction.atomic
def declare_class(
    *,
    show_class: ShowClass,
    scorecard: Scorecard,
    sections: Sequence[str],
    method: str,
    judges_per_section: int,
    tie_ladder: Sequence[str] = (),
    announced_points: Decimal | None = None,
    not_inspected: str | None = None,
    policies: Policies | None = None,
    purse_cents: int = 0,
    purse_weights: Sequence[str] = (),
    query_minutes: int = QUERY_MINUTES,
    by: Person | None,
    at: datetime,
) -> ClassCard:
    """Declare which sections a class counts, how its result is made, and by what policies.

    `announced_points` is what the rules say one judge can give; the check holds the card to it.
    `not_inspected` alone stands for policies that say nothing else. The purse is shared out by
    weight, the first place first; after release there are so many minutes for a query.
    """
    show = Show.objects.select_for_update().get(pk=show_class.show_id)
    if judging_begun(show):
        raise Conflict("Judging has begun; how a class is judged is not changed any more.")
    if policies is None:
        policies = Policies(not_inspected=NotInspected(not_inspected or NotInspected.RESCALE))
    _demand_sense(show_class, scorecard, sections, method, judges_per_section, tie_ladder)
    _demand_method(scorecard, sections, method, judges_per_section)
    _demand_years(policies)
    shares = _demand_purse(purse_cents, purse_weights)
    _demand_query_time(query_minutes)
    _demand_one_number(show_class, scorecard, sections, judges_per_section)
    _demand_own_places(show_class, scorecard, sections)
    before = ClassCard.objects.filter(show_class=show_class).first()
    card, _ = ClassCard.objects.update_or_create(
        show_class=show_class,
        defaults={
            "method": method,
            "judges_per_section": judges_per_section,
            "tie_ladder": list(tie_ladder),
            "announced_points": announced_points,
            "purse_cents": purse_cents,
            "purse_weights": shares,
            "query_minutes": query_minutes,
            **_columns(policies),
        },
    )
    known = {section.code: section for section in scorecard.sections.all()}
    kept = _said(before) if before else None
    card.sections.set(known[code] for code in sections)
    record_change(
        show=show,
        actor=by,
        at=at,
        verb="declared",
        subject=f"class {show_class.name}",
        before=kept,
        after=_said(card),
    )
    return card


def _columns(policies: Policies) -> dict[str, Any]:
    return {
        "not_inspected": policies.not_inspected.value,
        "gear_credit": policies.gear_credit.value,
        "marking": policies.marking.value,
        "modern_items": policies.modern_items.value,
        "period_from": policies.period_from,
        "period_to": policies.period_to,
        "policy_note": policies.note.strip(),
    }


def _said(card: ClassCard) -> dict[str, Any]:
    """Return what is declared, for the record."""
    return {
        "method": card.method,
        "sections": sorted(section.code for section in card.sections.all()),
        "judges_per_section": card.judges_per_section,
        "tie_ladder": list(card.tie_ladder),
        "purse_cents": card.purse_cents,
        "purse_weights": list(card.purse_weights),
        "query_minutes": card.query_minutes,
        "announced_points": None if card.announced_points is None else str(card.announced_points),
        **_columns(card.policies),
    }


def _demand_sense(
    show_class: ShowClass,
    scorecard: Scorecard,
    sections: Sequence[str],
    method: str,
    judges: int,
    tie_ladder: Sequence[str],
) -> None:
    if scorecard.show_id != show_class.show_id or not scorecard.in_use:
        raise InvalidInput("A class counts sections of the card its own show has in use.")
    known = {section.code for section in scorecard.sections.all()}
    for code in (*sections, *tie_ladder):
        if code not in known:
            raise InvalidInput(f"The scorecard has no section “{code}”.")
    if not sections:
        raise InvalidInput(
            f"{show_class.name} counts no section.", fields={"sections": "At least one, please."}
        )
    for code in tie_ladder:
        if code not in sections:
            raise InvalidInput(
                f"Ties are parted by “{code}”, which {show_class.name} does not count.",
                fields={"tie_ladder": "Only sections the class counts."},
            )
    if len({*tie_ladder}) < len(tie_ladder):
        raise InvalidInput(
            "A section stands twice in the tie ladder; the second time it decides nothing.",
            fields={"tie_ladder": "Each section once."},
        )
    if method not in METHODS:
        raise InvalidInput(f"There is no method “{method}”; there are {', '.join(METHODS)}.")
    if not 1 <= judges <= MOST_JUDGES:
        raise InvalidInput(
            f"From 1 to {MOST_JUDGES} judges see a section.",
            fields={"judges_per_section": f"From 1 to {MOST_JUDGES}."},
        )


def _demand_method(scorecard: Scorecard, sections: Sequence[str], method: str, judges: int) -> None:
    """Refuse what could give no result, whatever the judges mark."""
    fault = ""
    if method == "trimmed" and judges < LEAST_TO_TRIM:
        fault = f"The highest and the lowest judge can be dropped with {LEAST_TO_TRIM} or more."
    if method == "placings" and judges < LEAST_TO_PLACE:
        fault = f"Places need {LEAST_TO_PLACE} judges or more."
    if fault:
        raise InvalidInput(fault, fields={"method": fault})
    ranked = scorecard.sections.filter(code__in=sections, form=Form.PLACINGS.value).first()
    if ranked and method in ADJUSTING:
        fault = f"{ranked.name} is judged by places only, which tell nothing of a judge's scale."
        raise InvalidInput(fault, fields={"method": fault})


def _demand_purse(cents: int, weights: Sequence[str]) -> list[str]:
    """Return the shares in plain writing, or say what is wrong with the purse."""
    if not 0 <= cents <= LARGEST_PURSE:
        fault = f"A purse from {dollars(0)} to {dollars(LARGEST_PURSE)}."
        raise InvalidInput(fault, fields={"purse_cents": fault})
    try:
        shares = read_shares(" ".join(str(weight) for weight in weights))
    except ValueError as refused:
        raise InvalidInput(str(refused), fields={"purse_weights": str(refused)}) from refused
    if cents and not shares:
        fault = "Say how the purse is shared among the places."
        raise InvalidInput(fault, fields={"purse_weights": fault})
    return shares


def _demand_query_time(minutes: int) -> None:
    if not 0 <= minutes <= LONGEST_QUERY:
        fault = f"From 0 to {LONGEST_QUERY} minutes."
        raise InvalidInput(fault, fields={"query_minutes": fault})


def _demand_years(policies: Policies) -> None:
    first, last = policies.period_from, policies.period_to
    for name, year in (("period_from", first), ("period_to", last)):
        if year is not None and not FIRST_YEAR <= year <= LAST_YEAR:
            sentence = f"A year from {FIRST_YEAR} to {LAST_YEAR}."
            raise InvalidInput(f"The year {year} is not one we can use.", fields={name: sentence})
    if first is not None and last is not None and first > last:
        raise InvalidInput(
            f"The period ends in {last} before it begins in {first}.",
            fields={"period_to": f"Not before {first}, please."},
        )
    if len(policies.note) > LONGEST_NOTE:
        raise InvalidInput(
            f"The note is longer than {LONGEST_NOTE} letters.",
            fields={"note": f"At most {LONGEST_NOTE} letters."},
        )


def _demand_one_number(
    show_class: ShowClass, scorecard: Scorecard, sections: Sequence[str], judges: int
) -> None:
    """A look counts for every class that counts its section, so all ask for as many looks."""
    others = ClassCard.objects.filter(
        sections__scorecard=scorecard, sections__code__in=sections
    ).exclude(show_class=show_class)
    other = others.exclude(judges_per_section=judges).select_related("show_class").first()
    if other:
        raise InvalidInput(
            f"{other.show_class.name} counts one of these sections with "
            f"{other.judges_per_section} judges. A section is seen by one number of judges, "
            "whatever class counts it.",
            fields={"judges_per_section": f"{other.judges_per_section}, please."},
        )


def _demand_own_places(
    show_class: ShowClass, scorecard: Scorecard, sections: Sequence[str]
) -> None:
    """Places are given among the wagons of one class; two classes cannot share them."""
    placings = scorecard.sections.filter(code__in=sections, form=Form.PLACINGS.value)
    others = ClassCard.objects.filter(sections__in=placings).exclude(show_class=show_class)
    other = others.select_related("show_class").first()
    if other:
        raise InvalidInput(
            f"{other.show_class.name} counts a section that takes places only. Places are given "
            "among the wagons of one class, so one class alone may count them.",
            fields={"sections": "Leave that section to the other class."},
        )
