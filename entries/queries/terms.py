"""A show's terms of entering."""

from __future__ import annotations

from entries.models import Entry, EntryTerms
from entries.rules.places import Status
from showrun.shows.models import Show


def terms_of(show: Show) -> EntryTerms:
    """Return the show's terms; a show that has set none asks nothing, and the row is not saved."""
    return EntryTerms.objects.filter(show=show).first() or EntryTerms(show=show)


def agreed_to_waiver(show: Show, terms: EntryTerms) -> int:
    """Count the entries in the show that have agreed to the waiver as it stands."""
    here = Entry.objects.filter(show=show, waiver_version=terms.waiver_version)
    return here.exclude(status__in=[Status.SCRATCHED.value, Status.PRACTICE.value]).count()
