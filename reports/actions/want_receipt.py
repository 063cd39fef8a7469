"""Ask for the receipt of a payment; a worker draws it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from entries.models import Posting
from entries.queries.money_pages import is_receipted
from reports.actions.print_anew import wanting
from reports.actions.redo_papers import want_again
from reports.models import Paper
from reports.queries.receipts import reversal_of
from showrun.errors import Conflict, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person


@transaction.atomic
def want_receipt(*, posting: Posting, by: Person | None, at: datetime) -> Paper:
    """Want the receipt once; what is there of it is kept, and a failed one is drawn again."""
    if not is_receipted(posting):
        raise NotYet(_("There are receipts of payments only."))
    if undone := reversal_of(posting):
        raise Conflict(
            _("Posting {number} undid this payment; there is no receipt of it.").format(
                number=undone.number
            )
        )
    paper, added = Paper.objects.get_or_create(
        kind=Paper.Kind.RECEIPT,
        posting=posting,
        defaults={
            "show": posting.show,
            "entry": posting.entry,
            "version": posting.number,
            **wanting(by=by, at=at),
        },
    )
    if added:
        record_change(
            show=posting.show,
            actor=by,
            at=at,
            verb="wanted",
            subject=f"the receipt of posting {posting.number}",
        )
    elif paper.state in (Paper.State.FAILED, Paper.State.CANCELLED):
        want_again(Paper.objects.filter(pk=paper.pk, state=paper.state))
        paper.refresh_from_db()
    return paper
