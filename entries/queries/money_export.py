"""The ledger as a list for a spreadsheet: one row a line, debits and credits apart."""

from __future__ import annotations

from collections.abc import Iterator

from entries.models import Posting
from entries.queries.ledger import day_book
from entries.rules.money_words import plain_amount
from showrun.shows.models import Show

HEAD = (
    "posting", "at", "kind", "entry", "wagon", "exhibitor", "for", "method", "reference",
    "account", "debit", "credit", "reverses", "by",
)  # fmt: skip


def ledger_rows(show: Show) -> Iterator[tuple[str, ...]]:
    """Return the head and every line of the show's ledger, in the order of the book.

    Instants are on the show's clock with its offset; amounts are plain decimals, never below 0.
    """
    yield HEAD
    for posting in day_book(show).select_related("entry__exhibitor", "by", "reverses"):
        before, after = _around(show, posting)
        for line in posting.lines.all():
            debit, credit = max(line.amount_cents, 0), max(-line.amount_cents, 0)
            sides = (line.account, _plain(debit), _plain(credit))
            yield (*before, *sides, *after)


def _around(show: Show, posting: Posting) -> tuple[tuple[str, ...], tuple[str, ...]]:
    entry, reverses = posting.entry, posting.reverses
    before = (
        str(posting.number),
        posting.at.astimezone(show.tz).isoformat(timespec="seconds"),
        posting.kind,
        str(entry.number or "") if entry else "",
        entry.wagon_name if entry else "",
        entry.exhibitor.name if entry else "",
        posting.words,
        posting.method,
        posting.reference,
    )
    after = (
        str(reverses.number) if reverses else "",
        posting.by.name if posting.by else "",
    )
    return before, after


def _plain(cents: int) -> str:
    return plain_amount(cents) if cents else ""
