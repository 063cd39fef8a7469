"""Write one posting into the show's ledger: numbered without a gap, once for each key."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Max

from entries.models import Entry, Posting, PostingLine
from entries.rules.ledger import Line, demand_balance
from entries.rules.money_words import dollars
from showrun.errors import Conflict
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person, Show


def lock_ledger(show_id: int) -> Show:
    """Hold the show's ledger till the transaction ends; what is read after this still counts."""
    return Show.objects.select_for_update().get(pk=show_id)


def posted_before(
    *, key: UUID, show: Show, kind: Posting.Kind, entry: Entry | None, cents: int | None = None
) -> Posting | None:
    """Return what this key has posted; refuse where it was something else.

    `cents` is the amount asked for, where whoever asks knows it.
    """
    there = Posting.objects.filter(key=key).first()
    if there is None:
        return None
    same = there.show_id == show.pk and there.kind == kind
    same = same and there.entry_id == (entry.pk if entry else None)
    if same and cents is not None:
        same = cents == sum(n for n in _amounts(there) if n > 0)
    if not same:
        raise Conflict(
            _(
                "This form was used for posting {number} already, which was something else. "
                "Open the page again for a new one."
            ).format(number=there.number),
            code="form-used",
        )
    return there


def _amounts(posting: Posting) -> list[int]:
    return list(posting.lines.values_list("amount_cents", flat=True))


@transaction.atomic
def post(
    *,
    show: Show,
    key: UUID,
    kind: Posting.Kind,
    lines: Sequence[Line],
    words: str,
    by: Person | None,
    at: datetime,
    entry: Entry | None = None,
    method: str = "",
    reference: str = "",
    reverses: Posting | None = None,
    reason: str = "",
) -> Posting:
    """Add the posting, or return the one this key made before."""
    lock_ledger(show.pk)
    debit = sum(line.cents for line in lines if line.cents > 0)
    if there := posted_before(key=key, show=show, kind=kind, entry=entry, cents=debit):
        return there
    demand_balance(lines)
    last = Posting.objects.filter(show=show).aggregate(last=Max("number"))["last"] or 0
    posting = Posting.objects.create(
        show=show,
        number=last + 1,
        key=key,
        kind=kind,
        entry=entry,
        words=words,
        method=method,
        reference=reference,
        at=at,
        by=by,
        reverses=reverses,
    )
    PostingLine.objects.bulk_create(
        PostingLine(posting=posting, account=line.account.value, amount_cents=line.cents)
        for line in lines
    )
    record_change(
        show=show,
        actor=by,
        at=at,
        verb=str(Posting.Kind(kind).label),
        subject=f"posting {posting.number}, {words}",
        after={
            "amount": dollars(debit),
            "lines": [[line.account.value, line.cents] for line in lines],
            **({"entry": entry.pk} if entry else {}),
            **({"method": method} if method else {}),
        },
        reason=reason,
    )
    return posting
