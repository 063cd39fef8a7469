"""Stop drawing what is not drawn yet."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from reports.models import Paper
from reports.queries.papers import papers_of
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def cancel_papers(*, show: Show, by: Person, at: datetime) -> int:
    """Cancel the show's unfinished papers; what a worker is drawing comes to nothing."""
    unfinished = Paper.objects.filter(pk__in=papers_of(show)).unfinished()
    count = unfinished.update(state=Paper.State.CANCELLED, claim_expires_at=None)
    if count:
        record_change(
            show=show, actor=by, at=at, verb="cancelled", subject="papers", after={"papers": count}
        )
    return count
