"""Take money from an exhibitor: cash, a cheque, a transfer, or what a provider has collected."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction

from entries.actions.charge_entry import demand_amount
from entries.actions.post import lock_ledger, post
from entries.models import Entry, Posting
from entries.rules.ledger import Method, payment
from entries.rules.places import Status
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.models import Person

LONGEST_REFERENCE = 80  # letters, as kept
WAYS_SAID = {
    Method.CASH: N_("Cash"),
    Method.CHEQUE: N_("Cheque"),
    Method.TRANSFER: N_("Bank transfer"),
    Method.ONLINE: N_("Online payment"),
}


@transaction.atomic
def take_payment(
    *,
    entry: Entry,
    cents: int,
    method: Method,
    key: UUID,
    by: Person | None,
    at: datetime,
    reference: str = "",
) -> Posting:
    """Note the payment, once for a key; more than is owed stands in the exhibitor's favor."""
    demand_amount(cents)
    reference = demand_reference(reference)
    if method is Method.CHEQUE and not reference:
        raise InvalidInput(
            _("A cheque has a number; it finds the cheque again."),
            fields={"reference": _("The number of the cheque, please.")},
        )
    if entry.status == Status.PRACTICE:
        raise NotYet(_("The practice wagon pays nothing."))
    return post(
        show=lock_ledger(entry.show_id),
        key=key,
        kind=Posting.Kind.PAYMENT,
        entry=entry,
        lines=payment(method, cents),
        words=f"{WAYS_SAID[method]}, {entry.wagon_name}",
        method=method.value,
        reference=reference,
        by=by,
        at=at,
    )


def demand_reference(typed: str) -> str:
    """Return the reference as it is kept, or refuse one too long."""
    reference = typed.strip()
    if len(reference) > LONGEST_REFERENCE:
        raise InvalidInput(
            _("The reference is too long."),
            fields={
                "reference": _("At most {most} letters, please.").format(most=LONGEST_REFERENCE)
            },
        )
    return reference
