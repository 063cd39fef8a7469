"""What workers do: draw one paper, and look for papers left behind.

Papers wait in the queue their kind says; the sweep goes to the default one, so that it never
waits behind the papers it looks after.
"""

from __future__ import annotations

from collections.abc import Iterable

from celery import shared_task
from django.db import transaction
from django.utils.timezone import now

from reports.actions.draw_paper import PASSING_FAULTS, draw_paper
from reports.actions.mark_queued import mark_queued
from reports.models import Paper
from reports.rules.queues import queue_of


@shared_task(
    name="reports.tasks.draw_paper_task",
    acks_late=True,
    autoretry_for=PASSING_FAULTS,
    retry_backoff=2,
    retry_backoff_max=60,
    retry_jitter=True,
    max_retries=4,
)
def draw_paper_task(*, paper_id: int) -> None:
    """Draw a paper; told twice or late, it does nothing."""
    draw_paper(paper_id=paper_id, at=now())


@shared_task(name="reports.tasks.sweep_papers")
def sweep_papers() -> int:
    """Ask the queue again for wanted papers and for those whose worker vanished."""
    waiting = mark_queued(at=now())
    for paper in waiting:
        ask_for(paper)
    return len(waiting)


def ask_for(paper: Paper) -> None:
    """Put one paper into its queue."""
    draw_paper_task.apply_async(kwargs={"paper_id": paper.pk}, queue=queue_of(paper.kind))


def queue_papers(papers: Iterable[Paper]) -> None:
    """Nudge the queue for the wanted ones once the rows are committed.

    The sweep asks again for whatever gets lost here, so a broker that cannot be reached
    does not undo the office's wish.
    """
    wanted = [paper for paper in papers if paper.state == Paper.State.WANTED]

    def nudge() -> None:
        for paper in wanted:
            ask_for(paper)

    transaction.on_commit(nudge, robust=True)
