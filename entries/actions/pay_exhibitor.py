"""Pay an exhibitor travel money or a purse, at once or set against what is owed."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction

from entries.actions.charge_entry import CHARGED, LONGEST_WORDS, demand_amount
from entries.actions.post import lock_ledger, post, posted_before
from entries.actions.refund_entry import demand_way_out
from entries.actions.take_payment import demand_reference
from entries.models import Entry, Posting
from entries.queries.ledger import travel_of
from entries.queries.terms import terms_of
from entries.rules.ledger import Account, Method, pay_for
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person


@transaction.atomic
def pay_travel(
    *,
    entry: Entry,
    key: UUID,
    by: Person,
    at: datetime,
    method: Method | None,
    cents: int | None = None,
    reference: str = "",
) -> Posting:
    """Pay travel money once to a wagon of the show: what the terms say, or the amount given."""
    show = lock_ledger(entry.show_id)
    if there := posted_before(
        key=key, show=show, kind=Posting.Kind.TRAVEL, entry=entry, cents=cents
    ):
        return there
    if Entry.objects.values_list("status", flat=True).get(pk=entry.pk) not in CHARGED:
        raise NotYet(_("Travel money is for wagons that came; this one has no place in the show."))
    if paid := travel_of(entry):
        raise Conflict(
            _("Travel money was paid by posting {number}; reverse that one first.").format(
                number=paid.number
            )
        )
    amount = terms_of(show).travel_cents if cents is None else cents
    if amount == 0:
        raise NotYet(_("The show's terms promise no travel money; give an amount."))
    return _pay(
        Posting.Kind.TRAVEL, Account.TRAVEL, entry, amount, "Travel money", method, reference,
        key, by, at,
    )  # fmt: skip


@transaction.atomic
def pay_purse(
    *,
    entry: Entry,
    cents: int,
    words: str,
    key: UUID,
    by: Person,
    at: datetime,
    method: Method | None,
    reference: str = "",
) -> Posting:
    """Pay a purse of the amount given; `words` say for what place in which class."""
    words = words.strip()
    if not words or len(words) > LONGEST_WORDS:
        raise InvalidInput(
            _("Say what the purse is for."),
            fields={
                "words": _("Place and class, in {most} letters at most.").format(most=LONGEST_WORDS)
            },
        )
    lock_ledger(entry.show_id)
    return _pay(
        Posting.Kind.PURSE, Account.PURSE, entry, cents, words, method, reference, key, by, at
    )


def _pay(
    kind: Posting.Kind,
    account: Account,
    entry: Entry,
    cents: int,
    words: str,
    method: Method | None,
    reference: str,
    key: UUID,
    by: Person,
    at: datetime,
) -> Posting:
    demand_amount(cents)
    if method is not None:
        demand_way_out(method)
    return post(
        show=entry.show,
        key=key,
        kind=kind,
        entry=entry,
        lines=pay_for(account, cents, method),
        words=words,
        method=method.value if method else "",
        reference=demand_reference(reference),
        by=by,
        at=at,
    )
