"""Pick the papers the queue should be asked for again."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from reports.models import Paper

# How long a wanted paper may wait before the queue is asked once more.
PATIENCE = timedelta(seconds=30)


@transaction.atomic
def mark_queued(*, at: datetime) -> list[Paper]:
    """Return the papers nobody draws and the queue was not asked for lately; note the time.

    A paper is drawn once whatever the queue repeats: the claim sees to that.
    """
    waiting = Paper.objects.to_queue(at, PATIENCE).order_by("wanted_at", "pk")
    papers = list(waiting.only("pk", "kind"))
    Paper.objects.filter(pk__in=[paper.pk for paper in papers]).update(queued_at=at)
    return papers
