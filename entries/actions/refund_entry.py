"""Give money back: a share of the fee by the show's dates, the deposit, what stands in favor."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from entries.actions.charge_entry import demand_amount
from entries.actions.post import lock_ledger, post, posted_before
from entries.actions.take_payment import WAYS_SAID, demand_reference
from entries.models import Entry, Posting
from entries.queries.ledger import (
    account_of,
    balance_of,
    deposit_held,
    fee_credit_of,
    refund_by_dates,
)
from entries.rules.ledger import MONEY_OUT, Account, Line, Method, credit, keep_deposit, pay_back
from entries.rules.money_words import dollars
from entries.rules.places import Status
from showrun.errors import Conflict, InvalidInput, NotYet
from showrun.language import gettext as _
from showrun.shows.models import Person

LONGEST_REASON = 200  # letters


@transaction.atomic
def refund_entry(
    *,
    entry: Entry,
    key: UUID,
    by: Person,
    at: datetime,
    left_on: date | None = None,
    cents: int | None = None,
    reason: str = "",
) -> Posting:
    """Credit a part of the fee: by the show's dates, or what the office gives with a reason.

    It stands in the exhibitor's favor then, less what is owed; `pay_out` hands it over.
    """
    show = lock_ledger(entry.show_id)
    if there := posted_before(
        key=key, show=show, kind=Posting.Kind.CREDIT, entry=entry, cents=cents
    ):
        return there
    reason = _reason(reason, needed=cents is not None)
    if cents is None:
        cents, words = _by_dates(entry, left_on, at)
    else:
        demand_amount(cents)
        words = f"Fee given back: {reason}"
    left = -account_of(entry, Account.FEES)
    if cents > left:
        raise Conflict(
            _("{amount} is more than the fee still charged, {fee}.").format(
                amount=dollars(cents), fee=dollars(left)
            ),
            fields={"amount": _("At most {amount}, please.").format(amount=dollars(left))},
        )
    return post(
        show=show,
        key=key,
        kind=Posting.Kind.CREDIT,
        entry=entry,
        lines=credit(Account.FEES, cents),
        words=_cut(words),
        by=by,
        at=at,
        reason=reason,
    )


def _by_dates(entry: Entry, left_on: date | None, at: datetime) -> tuple[int, str]:
    status = Entry.objects.values_list("status", flat=True).get(pk=entry.pk)
    if status != Status.SCRATCHED:
        raise NotYet(
            _(
                "The dates are for a wagon that has left the show, and this one has not. "
                "Take it out first, or give an amount with a reason."
            )
        )
    today = at.astimezone(entry.show.tz).date()
    day = left_on or today
    if day > today:
        raise InvalidInput(
            _("The day of leaving has not come yet."),
            fields={"left_on": _("Today or before, please.")},
        )
    if given := fee_credit_of(entry):
        raise Conflict(
            _(
                "A part of the fee was given back by posting {number}. Reverse it first, or "
                "give a further amount with a reason."
            ).format(number=given.number)
        )
    found = refund_by_dates(entry, day)
    if found.cents == 0:
        raise NotYet(
            _("{words} An amount with a reason can be given all the same.").format(
                words=found.words
            )
        )
    return found.cents, f"{found.share_percent} percent of the fee, left {day:%B} {day.day}"


@transaction.atomic
def return_deposit(
    *, entry: Entry, key: UUID, by: Person, at: datetime, cents: int | None = None
) -> Posting:
    """Credit the deposit, or a part of it; it stands in the exhibitor's favor then."""
    return _end_deposit(Posting.Kind.CREDIT, entry, key, by, at, cents, "")


@transaction.atomic
def keep_deposit_of(
    *, entry: Entry, key: UUID, by: Person, at: datetime, reason: str, cents: int | None = None
) -> Posting:
    """Keep the deposit, or a part of it, with the reason the exhibitor reads."""
    said = _reason(reason, needed=True)
    return _end_deposit(Posting.Kind.CHARGE, entry, key, by, at, cents, said)


def _end_deposit(
    kind: Posting.Kind,
    entry: Entry,
    key: UUID,
    by: Person,
    at: datetime,
    cents: int | None,
    reason: str,
) -> Posting:
    show = lock_ledger(entry.show_id)
    if there := posted_before(key=key, show=show, kind=kind, entry=entry, cents=cents):
        return there
    held = deposit_held(entry)
    if held <= 0:
        raise NotYet(_("No deposit of this entry is held."))
    amount = held if cents is None else cents
    demand_amount(amount)
    if amount > held:
        raise Conflict(
            _("{amount} is more than the deposit held, {held}.").format(
                amount=dollars(amount), held=dollars(held)
            ),
            fields={"amount": _("At most {amount}, please.").format(amount=dollars(held))},
        )
    kept = kind is Posting.Kind.CHARGE
    lines: tuple[Line, ...] = keep_deposit(amount) if kept else credit(Account.DEPOSITS, amount)
    return post(
        show=show,
        key=key,
        kind=kind,
        entry=entry,
        lines=lines,
        words=_cut(f"Deposit kept: {reason}" if kept else "Deposit returned"),
        by=by,
        at=at,
        reason=reason,
    )


@transaction.atomic
def pay_out(
    *,
    entry: Entry,
    cents: int,
    method: Method,
    key: UUID,
    by: Person,
    at: datetime,
    reference: str = "",
) -> Posting:
    """Hand over what stands in the exhibitor's favor, or a part of it; never more."""
    show = lock_ledger(entry.show_id)
    if there := posted_before(
        key=key, show=show, kind=Posting.Kind.REFUND, entry=entry, cents=cents
    ):
        return there
    demand_amount(cents)
    demand_way_out(method)
    favor = -balance_of(entry)
    if cents > favor:
        raise Conflict(
            _("{amount} stands in the exhibitor's favor; more is not paid out.").format(
                amount=dollars(max(favor, 0))
            ),
            fields={"amount": _("At most {amount}, please.").format(amount=dollars(max(favor, 0)))},
        )
    return post(
        show=show,
        key=key,
        kind=Posting.Kind.REFUND,
        entry=entry,
        lines=pay_back(method, cents),
        words=f"{WAYS_SAID[method]} to {entry.wagon_name}",
        method=method.value,
        reference=demand_reference(reference),
        by=by,
        at=at,
    )


def demand_way_out(method: Method) -> None:
    """Refuse a way in which money only comes in."""
    if method not in MONEY_OUT:
        raise InvalidInput(
            _("Money is paid out in cash, by cheque or by transfer."),
            fields={"method": _("Cash, cheque or transfer, please.")},
        )


def _reason(typed: str, *, needed: bool) -> str:
    reason = typed.strip()
    if needed and not reason:
        raise InvalidInput(
            _("Say why; the exhibitor reads it."), fields={"reason": _("A reason, please.")}
        )
    if len(reason) > LONGEST_REASON:
        raise InvalidInput(
            _("The reason is too long."),
            fields={"reason": _("At most {most} letters, please.").format(most=LONGEST_REASON)},
        )
    return reason


def _cut(words: str, longest: int = 160) -> str:
    """Shorten what a posting is for; the whole reason stands in the record."""
    return words if len(words) <= longest else f"{words[: longest - 1]}…"
