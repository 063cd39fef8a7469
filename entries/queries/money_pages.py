"""What the pages of money show: an entry's statement, who owes what, the day book."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from entries.models import Entry, Posting
from entries.queries.entries import entries_of
from entries.queries.ledger import balances_of, day_book, postings_of
from entries.rules.ledger import Account
from entries.rules.places import Status
from showrun.language import gettext as _
from showrun.shows.models import AuditEntry, Show

# The verb under which an online payment of another amount is put to the office.
DIFFERS = "did not post"


@dataclass(frozen=True)
class StatementLine:
    """One posting of an entry, as its exhibitor reads it [cents]."""

    posting: Posting
    change: int  # of what is owed
    owed: int  # after it
    amount: int  # of the posting as a whole
    undone_by: int | None  # the number of its reversal

    @property
    def is_payment(self) -> bool:
        """Whether there is a receipt of it."""
        return is_receipted(self.posting)

    @property
    def way(self) -> str:
        """Say how money was handed over."""
        return _(self.posting.get_method_display())


def is_receipted(posting: Posting) -> bool:
    """Whether a posting is money taken from an exhibitor, and so has a receipt."""
    return posting.kind == Posting.Kind.PAYMENT and posting.entry_id is not None


def amount_of(posting: Posting) -> int:
    """Return what a posting is of as a whole [cents]: the sum of its debits."""
    return sum(line.amount_cents for line in posting.lines.all() if line.amount_cents > 0)


def undone_by(posting: Posting) -> int | None:
    """Return the number of the posting that reversed this one."""
    reversal: Posting | None = getattr(posting, "reversed_by", None)
    return reversal.number if reversal else None


def statement_of(entry: Entry) -> list[StatementLine]:
    """Return the entry's postings, oldest first, with what is owed after each."""
    return list(_statement(postings_of(entry)))


def _statement(postings: Iterable[Posting]) -> Iterator[StatementLine]:
    owed = 0
    for posting in postings:
        change = sum(
            line.amount_cents for line in posting.lines.all() if line.account == Account.EXHIBITORS
        )
        owed += change
        yield StatementLine(posting, change, owed, amount_of(posting), undone_by(posting))


@dataclass(frozen=True)
class EntryBalance:
    """What one entry owes [cents]; below nothing it stands in the exhibitor's favor."""

    entry: Entry
    owed: int


def entry_balances(show: Show) -> list[EntryBalance]:
    """Return every entry of the show with what it owes, numbered ones first.

    Entries that wait are left out as long as nothing is posted for them.
    """
    owed = balances_of(show)
    waiting = (Status.WAITING, Status.OFFERED)
    entries = [one for one in entries_of(show) if one.pk in owed or one.status not in waiting]
    entries.sort(key=lambda one: (one.number or 10**9, one.pk))
    return [EntryBalance(entry, owed.get(entry.pk, 0)) for entry in entries]


@dataclass(frozen=True)
class BookLine:
    """One posting of the day book: each account it touched, with its debit or credit [cents]."""

    posting: Posting
    sides: list[tuple[str, int, int]]  # account in words, debit, credit
    undone_by: int | None


def book_lines(postings: Iterable[Posting]) -> list[BookLine]:
    """Write postings out with their accounts."""
    return [
        BookLine(
            posting,
            [
                (line.get_account_display(), max(line.amount_cents, 0), max(-line.amount_cents, 0))
                for line in posting.lines.all()
            ],
            undone_by(posting),
        )
        for posting in postings
    ]


def filtered_book(show: Show, *, kind: str = "", day: date | None = None) -> list[Posting]:
    """Return the postings of a kind and of a day on the show's clock, newest first."""
    found = day_book(show)
    if kind:
        found = found.filter(kind=kind)
    if day is not None:
        begins = datetime.combine(day, time(), tzinfo=show.tz)
        ends = datetime.combine(day + timedelta(days=1), time(), tzinfo=show.tz)
        found = found.filter(at__gte=begins, at__lt=ends)
    return list(found.order_by("-number"))


def online_to_look_at(show: Show) -> list[AuditEntry]:
    """Return the online payments of another amount that nobody has posted by hand since."""
    told = AuditEntry.objects.filter(show=show, verb=DIFFERS).order_by("id")
    posted = set(
        Posting.objects.filter(show=show, kind=Posting.Kind.PAYMENT, reversed_by__isnull=True)
        .exclude(reference="")
        .values_list("reference", flat=True)
    )
    return [one for one in told if str(one.after["reference"])[:80] not in posted]


def left_on(entry: Entry) -> date | None:
    """Return the day on which an entry left the show, on the show's clock."""
    return entry.left_at.astimezone(entry.show.tz).date() if entry.left_at else None
