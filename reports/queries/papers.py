"""Which papers there are, and how far they are."""

from __future__ import annotations

from typing import NamedTuple

from django.db.models import Count, Q, QuerySet

from entries.models import Entry, Posting
from judging.models import Result
from judging.queries.timetables import times_as_of
from judging.queries.window import window_of
from reports.models import Paper
from reports.models.paper import BY_PRINTING
from showrun.shows.models import Show, ShowClass


class Progress(NamedTuple):
    """How far the papers of the released results and of the announced times are."""

    done: int
    total: int
    failed: int
    cancelled: int
    unfinished: int


def papers_of(show: Show) -> QuerySet[Paper]:
    """Return all papers of the show, of replaced results too; cards and receipts are kept apart."""
    apart = (Paper.Kind.CARD, Paper.Kind.RECEIPT)
    papers = Paper.objects.filter(show=show).exclude(kind__in=apart)
    return papers.select_related("show", "show_class", "entry", "result", "judge__person")


def current_papers(show: Show) -> QuerySet[Paper]:
    """Return the papers of the show's released results and of its announced times."""
    return papers_of(show).filter(pk__in=Paper.objects.current())


def papers_for_entry(entry: Entry) -> list[Paper]:
    """Return the finished papers an exhibitor may fetch: of released results only."""
    ready = Paper.objects.current().filter(entry=entry, state=Paper.State.DONE)
    return list(ready.select_related("show", "show_class", "entry", "result"))


def progress(show: Show) -> Progress:
    """Count the papers of the released results by how far they are."""
    state = Paper.State
    counts = current_papers(show).aggregate(
        done=Count("pk", filter=Q(state=state.DONE)),
        total=Count("pk"),
        failed=Count("pk", filter=Q(state=state.FAILED)),
        cancelled=Count("pk", filter=Q(state=state.CANCELLED)),
        unfinished=Count("pk", filter=Q(state__in=Paper.UNFINISHED)),
    )
    return Progress(**counts)


def results_lacking_papers(show: Show) -> list[Result]:
    """Return the released results nobody has wanted papers of."""
    lacking = Result.objects.released().filter(show_class__show=show).select_related("show_class")
    return list(lacking.exclude(pk__in=Paper.objects.filter(show=show).values("result")))


def released_results_of(entry: Entry) -> list[Result]:
    """Return the released results of the entry's classes, in the show's order."""
    released = Result.objects.released().filter(placings__entry=entry)
    return list(released.select_related("show_class").order_by("show_class__position"))


def unreleased_classes(entry: Entry) -> list[ShowClass]:
    """Return the entry's classes that have no released result."""
    released = Result.objects.released().values("show_class")
    mine = entry.classes.values("show_class")
    return list(ShowClass.objects.filter(pk__in=mine).exclude(pk__in=released))


def paper_by_code(code: str) -> Paper | None:
    """Return the paper with this verification code."""
    papers = Paper.objects.select_related("show", "result", "show_class")
    return papers.exclude(kind=Paper.Kind.CARD).filter(code=code).first()


def is_replaced(paper: Paper) -> bool:
    """Whether the paper's version counts no more."""
    if paper.result is not None:
        return paper.result.replaced_at is not None
    if paper.posting_id is not None:
        return Posting.objects.filter(reverses=paper.posting_id).exists()
    if paper.scorecard is not None:
        return not paper.scorecard.in_use
    if paper.kind in BY_PRINTING:
        return not Paper.objects.current().filter(pk=paper.pk).exists()
    return paper.version != version_in_force(paper)


def version_in_force(paper: Paper) -> int | None:
    """Return what counts now: the class's released version, or the newest announcement's number."""
    if paper.is_wall:
        as_of = times_as_of(paper.show, window_of(paper.show))
        return as_of.number if as_of else None
    released = Result.objects.released().filter(show_class=paper.show_class_id)
    return released.values_list("version", flat=True).first()
