"""Ask for the papers of all released results; workers draw them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.models import Placing, Result
from reports.actions.print_anew import wanting
from reports.models import Paper
from reports.queries.papers import current_papers
from reports.rules.award import awards
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def want_papers(*, show: Show, by: Person | None, at: datetime) -> list[Paper]:
    """Want the sheets of every placed entry and award, and the papers of each class.

    A class has a record and an announcer's list, and a purse sheet where anybody is paid. What is
    there for the same version of a result is kept as it is; returns all papers of the released
    results.
    """
    # Asked twice at once, the second waits and finds everything there.
    Show.objects.select_for_update().values_list("pk").get(pk=show.pk)
    released = Result.objects.released().filter(show_class__show=show)
    results = list(released.select_related("show_class"))
    if not results:
        raise NotYet(_("No result of this show is released; papers are made of released results."))
    before = Paper.objects.filter(show=show).count()
    wanted = [paper for result in results for paper in _papers_of(result, show, by, at)]
    Paper.objects.bulk_create(wanted, ignore_conflicts=True)
    added = Paper.objects.filter(show=show).count() - before
    if added:
        record_change(
            show=show, actor=by, at=at, verb="wanted", subject="papers", after={"papers": added}
        )
    return list(current_papers(show).filter(result__isnull=False))


def _papers_of(result: Result, show: Show, by: Person | None, at: datetime) -> list[Paper]:
    placings = Placing.objects.filter(result=result).order_by("place", "entry__number")
    places = dict(placings.values_list("entry_id", "place"))
    sheets: list[tuple[Paper.Kind, int | None]]
    sheets = [(Paper.Kind.FEEDBACK, entry_id) for entry_id in places]
    sheets += [
        (Paper.Kind.AWARD, award.entry)
        for award in awards(places, result.show_class.places_awarded)
    ]
    sheets += [(Paper.Kind.RECORD, None), (Paper.Kind.CALLS, None)]
    if placings.filter(purse_cents__gt=0).exists():
        sheets.append((Paper.Kind.PURSE, None))
    return [
        Paper(
            show=show,
            kind=kind,
            show_class=result.show_class,
            entry_id=entry_id,
            result=result,
            version=result.version,
            **wanting(by=by, at=at),
        )
        for kind, entry_id in sheets
    ]
