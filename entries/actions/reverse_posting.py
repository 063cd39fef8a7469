"""Undo a posting: whole, once, with a reason; both stay in the book."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction

from entries.actions.post import lock_ledger, post, posted_before
from entries.models import Posting
from entries.rules.ledger import Account, Line, reverse
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person

LONGEST_REASON = 110  # letters; number and words stand before it in the posting's 160


@transaction.atomic
def reverse_posting(
    *, posting: Posting, key: UUID, reason: str, by: Person, at: datetime
) -> Posting:
    """Add the counter-posting; a reversal itself is not reversed, it is posted anew."""
    reason = reason.strip()
    if not reason or len(reason) > LONGEST_REASON:
        raise InvalidInput(
            _("Say why the posting is undone; it stands in the book."),
            fields={
                "reason": _("A reason of at most {most} letters, please.").format(
                    most=LONGEST_REASON
                )
            },
        )
    show = lock_ledger(posting.show_id)
    there = posted_before(key=key, show=show, kind=Posting.Kind.REVERSAL, entry=posting.entry)
    if there is not None:
        if there.reverses_id != posting.pk:
            raise Conflict(_("This form was used for another posting; open the page again."))
        return there
    if posting.kind == Posting.Kind.REVERSAL:
        raise NotYet(_("A reversal is not undone; post what was right anew."))
    if done := Posting.objects.filter(reverses=posting).first():
        raise Conflict(
            _("Posting {number} was reversed already, by {reversal}.").format(
                number=posting.number, reversal=done.number
            )
        )
    lines = [Line(Account(line.account), line.amount_cents) for line in posting.lines.all()]
    return post(
        show=show,
        key=key,
        kind=Posting.Kind.REVERSAL,
        entry=posting.entry,
        lines=reverse(lines),
        words=f"Reverses posting {posting.number}: {reason}",
        method=posting.method,
        reference=posting.reference,
        reverses=posting,
        by=by,
        at=at,
        reason=reason,
    )
