"""Ask for the wall sheet of the announced times; a worker draws it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.queries.timetables import times_as_of
from judging.queries.window import window_of
from reports.actions.print_anew import wanting
from reports.models import Paper
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def want_wall_sheet(*, show: Show, by: Person | None, at: datetime) -> Paper:
    """Want the sheet of the newest announcement, once; what is there of it is kept as it is."""
    as_of = times_as_of(show, window_of(show))
    if as_of is None:
        raise NotYet(
            _("The times are not published; the wall sheet is made of published times only.")
        )
    paper, added = Paper.objects.get_or_create(
        show=show,
        kind=Paper.Kind.WALL,
        version=as_of.number,
        defaults={
            **wanting(by=by, at=at),
        },
    )
    if added:
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="wanted",
            subject="the wall sheet",
            after={"announcement": as_of.number},
        )
    return paper
