"""Pay online, by a provider the show has chosen; without one there is no such way.

A provider is an object with the methods of `PaymentProvider`, named by the setting
`PAYMENT_PROVIDER`. It alone knows the provider's addresses, keys and signatures.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol
from uuid import NAMESPACE_URL, uuid5

from django.conf import settings
from django.db import transaction
from django.utils.module_loading import import_string

from entries.actions.charge_entry import demand_amount
from entries.actions.post import lock_ledger
from entries.actions.take_payment import take_payment
from entries.models import Entry, OnlinePayment
from entries.queries.ledger import balance_of
from entries.queries.money_pages import DIFFERS
from entries.rules.ledger import Method
from entries.rules.money_words import dollars, plain_amount
from showrun.errors import Conflict, NotFound, NotYet
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import AuditEntry, Person


@dataclass(frozen=True)
class Begun:
    """Where the exhibitor goes on to pay, and what the provider calls this payment."""

    reference: str
    address: str


@dataclass(frozen=True)
class Notice:
    """What a provider says became of a payment; read from a message it has proved to be its own."""

    reference: str
    state: OnlinePayment.State
    cents: int = 0
    currency: str = "USD"


class NoticeRefused(Exception):
    """The message is not the provider's, or cannot be read."""


class PaymentProvider(Protocol):
    """What a provider has to do."""

    name: str

    def start(self, *, cents: int, words: str, return_to: str, notify_at: str) -> Begun:
        """Begin a payment with the provider: told where to send the exhibitor and the notice."""

    def read_notice(self, *, body: bytes, headers: Mapping[str, str]) -> Notice:
        """Prove that the message is the provider's own and read it, or raise `NoticeRefused`."""


def chosen_provider() -> PaymentProvider | None:
    """Return the provider of the settings, or None: then nobody can pay online."""
    path = str(settings.PAYMENT_PROVIDER)
    if not path:
        return None
    provider: PaymentProvider = import_string(path)()
    return provider


def demand_provider() -> PaymentProvider:
    """Return the provider, or say that there is nothing."""
    provider = chosen_provider()
    if provider is None:
        raise NotFound()
    return provider


def start_online_payment(
    *, entry: Entry, by: Person, at: datetime, return_to: str, notify_at: str
) -> tuple[OnlinePayment, str]:
    """Begin to pay what the entry owes; returns the payment and where the exhibitor goes on.

    Nothing is posted before the provider's own notice.
    """
    provider = demand_provider()
    cents = balance_of(entry)
    if cents <= 0:
        raise NotYet(_("Nothing is owed for this entry."))
    demand_amount(cents)
    # Outside a transaction: the provider may be slow, and the ledger must not wait for it.
    begun = provider.start(
        cents=cents,
        words=f"{entry.wagon_name}, {entry.show.name}",
        return_to=return_to,
        notify_at=notify_at,
    )
    if not begun.address.startswith("https://"):
        raise ValueError(f"{provider.name} sends the exhibitor to no address of https")
    with transaction.atomic():
        payment = OnlinePayment.objects.create(
            entry=entry,
            amount_cents=cents,
            provider=provider.name,
            reference=begun.reference,
            started_at=at,
            started_by=by,
        )
        record_change(
            show=entry.show,
            actor=by,
            at=at,
            verb="began to pay online",
            subject=f"entry {entry.wagon_name}",
            after={"amount": dollars(cents), "reference": begun.reference},
        )
    return payment, begun.address


def take_notice(*, body: bytes, headers: Mapping[str, str], at: datetime) -> OnlinePayment:
    """Settle the payment a provider tells of, once, however often it tells.

    Another amount than was asked for is not posted: the office finds it on its money page.
    """
    provider = demand_provider()
    try:
        notice = provider.read_notice(body=body, headers=headers)
    except NoticeRefused as fault:
        raise Conflict(
            _("This message is not the payment provider's own."), code="notice-refused"
        ) from fault
    return _settle(provider.name, notice, at)


@transaction.atomic
def _settle(provider: str, notice: Notice, at: datetime) -> OnlinePayment:
    named = OnlinePayment.objects.filter(provider=provider, reference=notice.reference)
    found = named.select_related("entry").first()
    if found is None:
        raise NotFound(_("No payment of this reference was begun here."))
    lock_ledger(found.entry.show_id)
    payment = named.select_related("entry__show").get()
    state = OnlinePayment.State
    if payment.state == state.PAID:
        return payment
    if notice.state != state.PAID:
        payment.state = notice.state
        payment.save()
        return payment
    if (notice.cents, notice.currency) != (payment.amount_cents, "USD"):
        _put_to_office(payment, notice, at)
        return payment
    payment.posting = take_payment(
        entry=payment.entry,
        cents=payment.amount_cents,
        method=Method.ONLINE,
        key=uuid5(NAMESPACE_URL, f"showrun:online:{provider}:{payment.reference}"),
        reference=payment.reference[:80],
        by=None,
        at=at,
    )
    payment.state = state.PAID
    payment.settled_at = at
    payment.save()
    return payment


def _put_to_office(payment: OnlinePayment, notice: Notice, at: datetime) -> None:
    payment.state = OnlinePayment.State.FAILED
    payment.save()
    show = payment.entry.show
    told = f"{plain_amount(notice.cents)} {notice.currency[:8]}"
    after = {"entry": payment.entry_id, "reference": payment.reference, "told": told}
    if AuditEntry.objects.filter(show=show, verb=DIFFERS, after=after).exists():
        return  # told again
    record_change(
        show=show,
        actor=None,
        at=at,
        verb=DIFFERS,
        subject=f"online payment {payment.reference}",
        before={"amount": dollars(payment.amount_cents)},
        after=after,
        reason="The provider told another amount than was asked for.",
    )
