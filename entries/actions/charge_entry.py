"""Charge an entry: its fee and deposit once, and whatever else the office names."""

from __future__ import annotations

from datetime import datetime
from uuid import NAMESPACE_URL, UUID, uuid5

from django.db import transaction

from entries.actions.post import lock_ledger, post
from entries.models import Entry, Posting
from entries.queries.terms import terms_of
from entries.rules.ledger import Account, charge
from entries.rules.money_words import LARGEST_CENTS, dollars
from entries.rules.places import Status
from showrun.errors import InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person, Show

LONGEST_WORDS = 120  # letters; the posting keeps 160
# Whoever waits or was only offered a place owes nothing yet; whoever left owes nothing more.
CHARGED = frozenset({Status.ENTERED, Status.CONFIRMED})


def entry_key(entry: Entry, purpose: str) -> UUID:
    """Return the one key of what is posted once for each entry."""
    return uuid5(NAMESPACE_URL, f"showrun:entry:{entry.pk}:{purpose}")


@transaction.atomic
def charge_entry(*, entry: Entry, by: Person | None, at: datetime) -> Posting | None:
    """Charge the show's fee and deposit, each once; nothing without a place, nothing for zero.

    Returns the fee's posting, else the deposit's. A charge the office has reversed is not made
    again by this.
    """
    show = lock_ledger(entry.show_id)
    if Entry.objects.values_list("status", flat=True).get(pk=entry.pk) not in CHARGED:
        return None
    asked = [
        ("fee", Account.FEES, show.entry_fee_cents, "Entry fee"),
        ("deposit", Account.DEPOSITS, terms_of(show).deposit_cents, "Deposit"),
    ]
    made = []
    for purpose, account, cents, words in asked:
        key = entry_key(entry, purpose)
        there = Posting.objects.filter(key=key).first()
        if there is None and cents:
            there = post(
                show=show,
                key=key,
                kind=Posting.Kind.CHARGE,
                entry=entry,
                lines=charge(account, cents),
                words=f"{words}, {entry.wagon_name}",
                by=by,
                at=at,
            )
        if there is not None:
            made.append(there)
    return made[0] if made else None


@transaction.atomic
def charge_other(
    *,
    entry: Entry,
    account: Account,
    cents: int,
    words: str,
    key: UUID,
    by: Person,
    at: datetime,
) -> Posting:
    """Charge what the office names, such as a late fee or a broken post."""
    words = words.strip()
    if not words or len(words) > LONGEST_WORDS:
        raise InvalidInput(
            _("Say what is charged; it stands on the exhibitor's page."),
            fields={
                "words": _("What it is for, in {most} letters at most.").format(most=LONGEST_WORDS)
            },
        )
    if entry.status == Status.PRACTICE:
        raise NotYet(_("The practice wagon is charged nothing."))
    demand_amount(cents)
    show = lock_ledger(entry.show_id)
    return post(
        show=show,
        key=key,
        kind=Posting.Kind.CHARGE,
        entry=entry,
        lines=charge(account, cents),
        words=words,
        by=by,
        at=at,
    )


def demand_amount(cents: int) -> None:
    """Refuse an amount that is nothing, below it, or beyond what one posting may be."""
    if not 0 < cents <= LARGEST_CENTS:
        raise InvalidInput(
            _("The amount is above nothing and at most {amount}.").format(
                amount=dollars(LARGEST_CENTS)
            ),
            fields={
                "amount": _("From {least} to {most}, please.").format(
                    least=dollars(1), most=dollars(LARGEST_CENTS)
                )
            },
        )


def charge_everybody(*, show: Show, by: Person, at: datetime) -> int:
    """Charge every entry with a place what it was not charged yet; returns how many were."""
    before = Posting.objects.filter(show=show).count()
    for entry in Entry.objects.filter(show=show, status__in=list(CHARGED)).order_by("pk"):
        charge_entry(entry=entry, by=by, at=at)
    return Posting.objects.filter(show=show).count() - before
