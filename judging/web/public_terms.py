"""A show's terms of entering, laid out for whoever thinks of coming."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from entries.models import Entry
from entries.queries.entries import places_left
from entries.queries.lacking import waiver_of
from entries.queries.terms import terms_of
from entries.rules.money_words import dollars
from entries.rules.refunds import read_steps
from entries.rules.terms_words import (
    Asked,
    asked_words,
    entering_words,
    places_words,
    refund_words,
    said_at,
)
from showrun.shows.models import Show


@dataclass(frozen=True)
class TermsSaid:
    """What the show page says of entering; texts are empty where the show sets nothing."""

    entering: str
    places: str
    fee: str
    deposit: str
    travel: str
    promotion_hours: int | None
    refunds: tuple[str, ...]
    asked: tuple[str, ...]
    waiver: str
    names_judges: bool


def terms_said(show: Show) -> TermsSaid:
    """Return the show's terms in words, by its own clock."""
    terms = terms_of(show)
    asks_waiver = bool(waiver_of(terms))

    def here(at: datetime) -> str:
        return said_at(at.astimezone(show.tz))

    return TermsSaid(
        entering=entering_words(
            terms.opens_at, terms.closes_at, starts_on=show.starts_on, zone=show.tz
        ),
        places=places_words(
            cap=show.entry_cap,
            left=places_left(show),
            waiting=Entry.objects.filter(show=show).waiting().count(),
        ),
        fee=_money(show.entry_fee_cents),
        deposit=_money(terms.deposit_cents),
        travel=_money(terms.travel_cents),
        promotion_hours=terms.promotion_hours,
        refunds=refund_words(read_steps(terms.refund_steps)),
        asked=asked_words(
            Asked(
                waiver=asks_waiver,
                animals=terms.animals_asked,
                emergency=terms.emergency_asked,
                camp=terms.camp_asked,
                eia_max_age=terms.eia_max_age_days,
                certificate_max_age=terms.certificate_max_age_days,
                animal_note=terms.animal_note,
                crew_frozen=here(terms.crew_frozen_at or show.judging_starts_at),
            )
        ),
        waiver=terms.waiver_text if asks_waiver else "",
        names_judges=terms.names_judges,
    )


def _money(cents: int) -> str:
    return dollars(cents) if cents else ""
