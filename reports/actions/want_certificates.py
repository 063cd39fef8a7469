"""Ask for certificates of every placed entry; workers draw them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from judging.models import Placing
from reports.actions.print_anew import wanting
from reports.models import Paper
from reports.queries.papers import current_papers
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


@transaction.atomic
def want_certificates(*, show: Show, by: Person | None, at: datetime) -> list[Paper]:
    """Want a certificate of every entry placed in a released result; what is there is kept."""
    Show.objects.select_for_update().values_list("pk").get(pk=show.pk)
    placings = Placing.objects.filter(
        result__released_at__isnull=False,
        result__replaced_at__isnull=True,
        result__show_class__show=show,
    ).select_related("result")
    placed = list(placings.order_by("result__show_class__position", "place", "entry__number"))
    if not placed:
        raise NotYet(
            _("No result of this show is released; certificates are made of released ones.")
        )
    before = Paper.objects.filter(show=show).count()
    Paper.objects.bulk_create(
        (
            Paper(
                show=show,
                kind=Paper.Kind.CERTIFICATE,
                show_class_id=placing.result.show_class_id,
                entry_id=placing.entry_id,
                result=placing.result,
                version=placing.result.version,
                **wanting(by=by, at=at),
            )
            for placing in placed
        ),
        ignore_conflicts=True,
    )
    added = Paper.objects.filter(show=show).count() - before
    if added:
        record_change(
            show=show,
            actor=by,
            at=at,
            verb="wanted",
            subject="certificates",
            after={"papers": added},
        )
    return list(current_papers(show).filter(kind=Paper.Kind.CERTIFICATE))
