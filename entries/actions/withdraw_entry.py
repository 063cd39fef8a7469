"""The exhibitor takes an entry out of the show."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.actions.move_entry import lock_entry, move_entry
from entries.actions.promote import promote
from entries.models import Entry
from entries.rules.places import Status
from entries.rules.withdrawing import LONGEST_REASON, reason_against_withdrawing, withdrawn_words
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person


@transaction.atomic
def withdraw_entry(*, entry: Entry, by: Person, at: datetime, reason: str = "") -> Entry:
    """Take the entry out; its place goes to the next in line. Refunds are the office's."""
    if len(reason.strip()) > LONGEST_REASON:
        raise InvalidInput(
            _("The reason is longer than {most} letters.").format(most=LONGEST_REASON),
            fields={"reason": _("Shorter, please.")},
        )
    entry = lock_entry(entry)
    against = reason_against_withdrawing(
        status=Status(entry.status), now=at, judging_starts_at=entry.show.judging_starts_at
    )
    if against:
        raise NotYet(against)
    entry.spot = None
    entry = move_entry(entry, Status.SCRATCHED, by=by, at=at, reason=withdrawn_words(reason))
    promote(show=entry.show, at=at)
    return entry
