"""Pay the cash box, the cheques or a provider's money in at the bank."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction

from entries.actions.charge_entry import demand_amount
from entries.actions.post import lock_ledger, post, posted_before
from entries.actions.take_payment import demand_reference
from entries.models import Posting
from entries.queries.ledger import accounts_of
from entries.rules.ledger import TO_BANK, Account, take_to_bank
from entries.rules.money_words import dollars
from showrun.errors import Conflict, InvalidInput
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.models import Person, Show

SAID = {
    Account.CASH: N_("Cash box"),
    Account.CHEQUES: N_("Cheques"),
    Account.ONLINE: N_("Online payments"),
}


@transaction.atomic
def bank_money(
    *,
    show: Show,
    account: Account,
    cents: int,
    key: UUID,
    by: Person,
    at: datetime,
    reference: str = "",
) -> Posting:
    """Move money to the bank; never more than there is."""
    if account not in TO_BANK:
        raise InvalidInput(
            _("Cash, cheques or online payments go to the bank."),
            fields={"account": _("Choose one of them.")},
        )
    demand_amount(cents)
    show = lock_ledger(show.pk)
    if there := posted_before(
        key=key, show=show, kind=Posting.Kind.PAYMENT, entry=None, cents=cents
    ):
        return there
    held = accounts_of(show)[account]
    if cents > held:
        raise Conflict(
            _("{account} hold {amount}; that is less.").format(
                account=_(SAID[account]), amount=dollars(max(held, 0))
            ),
            fields={"amount": _("At most {amount}, please.").format(amount=dollars(max(held, 0)))},
        )
    return post(
        show=show,
        key=key,
        kind=Posting.Kind.PAYMENT,
        lines=take_to_bank(account, cents),
        words=f"{SAID[account]} to the bank",
        reference=demand_reference(reference),
        by=by,
        at=at,
    )
