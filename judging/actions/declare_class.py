"""Declare how a class is judged, before judging."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from entries.rules.money_words import dollars
from judging.actions.mend_panel import mend_panel
from judging.models import ClassCard, Scorecard
from judging.queries.panel import miscounts
from judging.queries.practice import judging_begun
from judging.queries.window import window_of
from judging.rules.cards.policies import Policies
from judging.rules.cards.scorecard import Form, NotInspected
from judging.rules.results.crossed_totals import LEAST_TO_CROSS
from judging.rules.results.declared import read_shares
from judging.rules.results.method_figures import ADJUSTING
from judging.rules.results.methods import METHODS
from judging.rules.results.totals_more import LEAST_TO_PLACE, LEAST_TO_TRIM
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
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
        raise Conflict(_("Judging has begun; how a class is judged is not changed any more."))
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
    card, _unused = ClassCard.objects.update_or_create(
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
    _fit_panel(show, by=by, at=at)
    return card


def _fit_panel(show: Show, *, by: Person | None, at: datetime) -> None:
    """Take seats out of a panel drawn with more judges: no result could count them all."""
    more = next((place for place in miscounts(show) if place.seated > place.needed), None)
    if more is None:
        return
    window = window_of(show)
    if window and window.published_at:
        raise Conflict(
            _(
                "{seated} judges are announced at wagon {number} for {section}. Withdraw the "
                "window first, then declare fewer."
            ).format(**more._asdict())
        )
    mend_panel(show=show, by=by, at=at, reason="A class was declared with fewer judges.")


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
        raise InvalidInput(_("A class counts sections of the card its own show has in use."))
    known = {section.code for section in scorecard.sections.all()}
    for code in (*sections, *tie_ladder):
        if code not in known:
            raise InvalidInput(_("The scorecard has no section “{code}”.").format(code=code))
    if not sections:
        raise InvalidInput(
            _("{show_class} counts no section.").format(show_class=show_class.name),
            fields={"sections": _("At least one, please.")},
        )
    for code in tie_ladder:
        if code not in sections:
            raise InvalidInput(
                _("Ties are parted by “{code}”, which {show_class} does not count.").format(
                    code=code, show_class=show_class.name
                ),
                fields={"tie_ladder": _("Only sections the class counts.")},
            )
    if len({*tie_ladder}) < len(tie_ladder):
        raise InvalidInput(
            _("A section stands twice in the tie ladder; the second time it decides nothing."),
            fields={"tie_ladder": _("Each section once.")},
        )
    if method not in METHODS:
        raise InvalidInput(
            _("There is no method “{method}”; there are {methods}.").format(
                method=method, methods=", ".join(METHODS)
            )
        )
    if not 1 <= judges <= MOST_JUDGES:
        raise InvalidInput(
            _("From 1 to {most} judges see a section.").format(most=MOST_JUDGES),
            fields={"judges_per_section": _("From 1 to {most}.").format(most=MOST_JUDGES)},
        )


def _demand_method(scorecard: Scorecard, sections: Sequence[str], method: str, judges: int) -> None:
    """Refuse what could give no result, whatever the judges mark."""
    fault = ""
    if method == "trimmed" and judges < LEAST_TO_TRIM:
        fault = _("The highest and the lowest judge can be dropped with {least} or more.").format(
            least=LEAST_TO_TRIM
        )
    if method == "placings" and judges < LEAST_TO_PLACE:
        fault = _("Places need {least} judges or more.").format(least=LEAST_TO_PLACE)
    if method == "crossed" and judges < LEAST_TO_CROSS:
        fault = _("Crossed effects need {least} judges or more.").format(least=LEAST_TO_CROSS)
    if fault:
        raise InvalidInput(fault, fields={"method": fault})
    ranked = scorecard.sections.filter(code__in=sections, form=Form.PLACINGS.value).first()
    if ranked and method in ADJUSTING:
        fault = _(
            "{ranked} is judged by places only, which tell nothing of a judge's scale."
        ).format(ranked=ranked.name)
        raise InvalidInput(fault, fields={"method": fault})


def _demand_purse(cents: int, weights: Sequence[str]) -> list[str]:
    """Return the shares in plain writing, or say what is wrong with the purse."""
    if not 0 <= cents <= LARGEST_PURSE:
        fault = _("A purse from {least} to {most}.").format(
            least=dollars(0), most=dollars(LARGEST_PURSE)
        )
        raise InvalidInput(fault, fields={"purse_cents": fault})
    try:
        shares = read_shares(" ".join(str(weight) for weight in weights))
    except ValueError as refused:
        raise InvalidInput(str(refused), fields={"purse_weights": str(refused)}) from refused
    if cents and not shares:
        fault = _("Say how the purse is shared among the places.")
        raise InvalidInput(fault, fields={"purse_weights": fault})
    return shares


def _demand_query_time(minutes: int) -> None:
    if not 0 <= minutes <= LONGEST_QUERY:
        fault = _("From 0 to {longest} minutes.").format(longest=LONGEST_QUERY)
        raise InvalidInput(fault, fields={"query_minutes": fault})


def _demand_years(policies: Policies) -> None:
    first, last = policies.period_from, policies.period_to
    for name, year in (("period_from", first), ("period_to", last)):
        if year is not None and not FIRST_YEAR <= year <= LAST_YEAR:
            sentence = _("A year from {first} to {last}.").format(first=FIRST_YEAR, last=LAST_YEAR)
            raise InvalidInput(
                _("The year {year} is not one we can use.").format(year=year),
                fields={name: sentence},
            )
    if first is not None and last is not None and first > last:
        raise InvalidInput(
            _("The period ends in {last} before it begins in {first}.").format(
                last=last, first=first
            ),
            fields={"period_to": _("Not before {first}, please.").format(first=first)},
        )
    if len(policies.note) > LONGEST_NOTE:
        raise InvalidInput(
            _("The note is longer than {longest} letters.").format(longest=LONGEST_NOTE),
            fields={"note": _("At most {longest} letters.").format(longest=LONGEST_NOTE)},
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
            _(
                "{show_class} counts one of these sections with {number} judges. A section is "
                "seen by one number of judges, whatever class counts it."
            ).format(show_class=other.show_class.name, number=other.judges_per_section),
            fields={
                "judges_per_section": _("{number}, please.").format(number=other.judges_per_section)
            },
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
            _(
                "{show_class} counts a section that takes places only. Places are given among the "
                "wagons of one class, so one class alone may count them."
            ).format(show_class=other.show_class.name),
            fields={"sections": _("Leave that section to the other class.")},
        )
