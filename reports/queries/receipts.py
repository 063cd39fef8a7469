"""What a receipt says: one payment, as the ledger has it."""

from __future__ import annotations

from typing import Any

from django.db.models import Sum

from entries.models import Posting, PostingLine
from entries.queries.entries import entry_for
from entries.queries.ledger import postings_of
from entries.queries.money_pages import amount_of, is_receipted
from entries.rules.ledger import Account
from judging.rules.results.said import money_said
from reports.models import Paper
from showrun.errors import Conflict, NotFound
from showrun.language import gettext as _
from showrun.shows.queries import Visitor
from showrun.shows.rules.access import Deed


def payment_for(person: Visitor, entry_id: int, number: int) -> Posting:
    """Return an entry's payment to its exhibitor or to who keeps the ledger."""
    entry = entry_for(person, entry_id, Deed.SEE_ENTRY_MONEY)
    posting = postings_of(entry).filter(number=number).first()
    if posting is None or not is_receipted(posting):
        raise NotFound(_("This entry has no payment of that number."))
    return posting


def receipt_of(posting: Posting) -> Paper | None:
    """Return the receipt of a payment, if one was asked for."""
    papers = Paper.objects.filter(kind=Paper.Kind.RECEIPT, posting=posting)
    return papers.select_related("show", "entry").first()


def reversal_of(posting: Posting) -> Posting | None:
    """Return the posting that undid this one."""
    return Posting.objects.filter(reverses=posting).first()


def receipt_content(paper: Paper) -> dict[str, Any]:
    """Return what the paper's receipt says; it depends on the ledger up to its payment alone.

    Raises `Conflict` for a payment that was undone: nothing is receipted any more.
    """
    posting = paper.posting
    assert posting is not None
    entry = posting.entry
    assert entry is not None
    if undone := reversal_of(posting):
        raise Conflict(
            _("Posting {number} undid this payment; there is no receipt of it any more.").format(
                number=undone.number
            )
        )
    until = PostingLine.objects.filter(
        posting__entry=entry,
        posting__number__lte=posting.number,
        account=Account.EXHIBITORS.value,
    )
    cents = amount_of(posting)
    said = money_said(cents)
    return {
        "paper": paper,
        "show": paper.show,
        "entry": entry,
        "posting": posting,
        "cents": cents,
        "said": f"{said[0].upper()}{said[1:]}",
        "owed": until.aggregate(total=Sum("amount_cents"))["total"] or 0,
    }
