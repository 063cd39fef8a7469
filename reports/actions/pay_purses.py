"""Pay the purses of a released result, each entry's once."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.actions.pay_exhibitor import pay_purse
from entries.actions.post import lock_ledger
from entries.models import Posting
from entries.rules.ledger import Method
from judging.models import Result
from judging.rules.results.said import place_said
from reports.queries.purses import purses_of
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person


@transaction.atomic
def pay_purses(*, result: Result, method: Method | None, by: Person, at: datetime) -> list[Posting]:
    """Post what the result's placings have to get and have not; asked again, it posts nothing.

    What an earlier version of the result paid counts; what it paid too much is not taken back.
    """
    lock_ledger(result.show_class.show_id)
    if not Result.objects.released().filter(pk=result.pk).exists():
        raise NotYet(_("Purses are paid of released results that count; this one does not."))
    return [
        pay_purse(
            entry=line.entry,
            cents=line.left,
            words=f"{place_said(line.placing.place)}, {result.show_class.name}"[:120],
            key=line.next_key,
            method=method,
            by=by,
            at=at,
        )
        for line in purses_of(result)
        if line.placing and line.left > 0
    ]
