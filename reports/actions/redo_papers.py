"""Draw papers again: those that failed or were cancelled, or one in particular."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet

from reports.models import Paper
from reports.queries.papers import current_papers
from showrun.errors import Conflict
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def redo_papers(*, show: Show, by: Person, at: datetime) -> list[Paper]:
    """Want the show's failed and cancelled papers again."""
    states = [Paper.State.FAILED, Paper.State.CANCELLED]
    ids = list(current_papers(show).filter(state__in=states).values_list("pk", flat=True))
    want_again(Paper.objects.filter(pk__in=ids))
    if ids:
        record_change(
            show=show, actor=by, at=at, verb="redone", subject="papers", after={"papers": len(ids)}
        )
    return list(current_papers(show).filter(pk__in=ids))


@transaction.atomic
def redo_paper(*, paper: Paper, by: Person, at: datetime) -> Paper:
    """Want one finished, failed or cancelled paper again; unchanged content, same file."""
    here = Paper.objects.filter(pk=paper.pk)
    if not want_again(here.exclude(pk__in=here.unfinished())):
        raise Conflict(_("This paper is waiting or being drawn already."))
    record_change(
        show=paper.show, actor=by, at=at, verb="redone", subject=f"{paper}", after={"id": paper.pk}
    )
    return here.select_related("show", "show_class", "entry", "result").get()


def want_again(papers: QuerySet[Paper]) -> int:
    """The time it was first wanted stays, for it is printed into the file's data."""
    return papers.update(
        state=Paper.State.WANTED, attempts=0, error="", queued_at=None, claim_expires_at=None
    )
