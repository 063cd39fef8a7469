"""What is read of the ledger: balances, postings, the day book."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, QuerySet, Sum

from entries.models import Entry, Posting, PostingLine
from entries.queries.terms import terms_of
from entries.rules.ledger import Account
from entries.rules.money_words import dollars
from entries.rules.refunds import read_steps, refund, share_on
from showrun.language import gettext as _
from showrun.shows.models import Show


def balance_of(entry: Entry) -> int:
    """Return what the entry owes [cents]; below nothing it stands in the exhibitor's favor."""
    return account_of(entry, Account.EXHIBITORS)


def deposit_held(entry: Entry) -> int:
    """Return what is held as the entry's deposit [cents], paid or charged."""
    return -account_of(entry, Account.DEPOSITS)


def account_of(entry: Entry, account: Account) -> int:
    """Return an account's balance over the entry's postings [cents]; above nothing a debit."""
    lines = PostingLine.objects.filter(posting__entry=entry, account=account.value)
    return lines.aggregate(total=Sum("amount_cents"))["total"] or 0


def postings_of(entry: Entry) -> QuerySet[Posting]:
    """Return the entry's postings with their lines, oldest first."""
    return _with_lines(Posting.objects.filter(entry=entry))


def day_book(show: Show) -> QuerySet[Posting]:
    """Return all postings of the show with their lines, oldest first."""
    return _with_lines(Posting.objects.filter(show=show))


def _with_lines(postings: QuerySet[Posting]) -> QuerySet[Posting]:
    lines = Prefetch("lines", queryset=PostingLine.objects.order_by("id"))
    postings = postings.select_related("entry", "by", "reverses", "reversed_by")
    return postings.prefetch_related(lines).order_by("number")


def balances_of(show: Show) -> dict[int, int]:
    """Return what each entry of the show with a posting owes [cents], by the entry's id."""
    lines = PostingLine.objects.filter(
        posting__show=show, posting__entry__isnull=False, account=Account.EXHIBITORS.value
    )
    sums = lines.order_by().values_list("posting__entry").annotate(total=Sum("amount_cents"))
    return {entry: total for entry, total in sums if entry is not None}


def accounts_of(show: Show) -> dict[Account, int]:
    """Return the balance of every account of the show [cents], in the order of the books."""
    lines = PostingLine.objects.filter(posting__show=show).order_by()
    sums = dict(lines.values_list("account").annotate(total=Sum("amount_cents")))
    return {account: sums.get(account.value, 0) for account in Account}


def fee_credit_of(entry: Entry) -> Posting | None:
    """Return the last posting that gave back a part of the fee and still stands."""
    standing = Posting.objects.filter(
        entry=entry, kind=Posting.Kind.CREDIT, lines__account=Account.FEES.value
    )
    return standing.filter(reversed_by__isnull=True).order_by("number").last()


def travel_of(entry: Entry) -> Posting | None:
    """Return the travel money paid to the entry that still stands."""
    paid = Posting.objects.filter(entry=entry, kind=Posting.Kind.TRAVEL)
    return paid.filter(reversed_by__isnull=True).order_by("number").last()


@dataclass(frozen=True)
class ByDates:
    """What of the fee comes back by the show's dates."""

    share_percent: int
    cents: int
    words: str


def refund_by_dates(entry: Entry, left_on: date) -> ByDates:
    """Say what comes back of the fee charged, for leaving on that day."""
    steps = read_steps(terms_of(entry.show).refund_steps)
    share = share_on(left_on, steps)
    fee = max(0, -account_of(entry, Account.FEES))
    cents = refund(fee, share)
    if not steps:
        words = _("The show has set no dates by which a part of the fee comes back.")
    elif not cents:
        words = _("By the show's dates nothing of the fee comes back.")
    else:
        words = _("By the show's dates {amount} comes back: {share} percent of the fee.").format(
            amount=dollars(cents), share=share
        )
    return ByDates(share, cents, words)
