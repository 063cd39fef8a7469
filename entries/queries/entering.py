"""Whether a show takes entries now, and what a person has there to enter with."""

from __future__ import annotations

from datetime import datetime

from entries.models import EntryDraft, Outfit
from entries.queries.terms import terms_of
from entries.rules.eligibility import reason_against_entering, same_name
from showrun.shows.models import Person, Show


def closed_for(show: Show, at: datetime) -> str | None:
    """Say why the show takes no entries at that moment, or None while it does."""
    terms, here = terms_of(show), at.astimezone(show.tz)
    return reason_against_entering(
        starts_on=show.starts_on,
        ends_on=show.ends_on,
        today=here.date(),
        opens_at=terms.opens_at and terms.opens_at.astimezone(show.tz),
        closes_at=terms.closes_at and terms.closes_at.astimezone(show.tz),
        now=here,
    )


def outfits_of(person: Person) -> list[Outfit]:
    """Return the wagons the person has brought before and still offers, by name."""
    return list(Outfit.objects.filter(exhibitor=person, put_away_at=None))


def outfit_named(person: Person, wagon_name: str) -> Outfit | None:
    """Return the person's kept outfit of this wagon, however its name is written."""
    wanted = same_name(wagon_name)
    mine = Outfit.objects.filter(exhibitor=person)
    return next((one for one in mine if same_name(one.wagon_name) == wanted), None)


def draft_of(person: Person, show: Show) -> EntryDraft | None:
    """Return what the person has typed for this show and not sent off."""
    return EntryDraft.objects.filter(show=show, exhibitor=person).first()
