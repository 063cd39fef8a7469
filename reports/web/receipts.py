"""The receipt of a payment: made for its exhibitor or the office, and handed out."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.queries.money_pages import amount_of
from reports import tasks
from reports.actions.want_receipt import want_receipt
from reports.queries.receipts import payment_for, receipt_of, reversal_of
from showrun.errors import ShowError
from showrun.shows.queries import allowed, person_of
from showrun.shows.rules.access import Deed


@never_cache
@require_http_methods(["GET", "POST"])
def receipt(request: HttpRequest, entry_id: int, number: int) -> HttpResponse:
    """Show how far the receipt of a payment is; want it."""
    posting = payment_for(request.user, entry_id, number)
    if request.method == "POST":
        try:
            paper = want_receipt(posting=posting, by=person_of(request.user), at=now())
        except ShowError as fault:
            messages.error(request, fault.detail)
        else:
            tasks.queue_papers([paper])
        return redirect("reports:receipt", entry_id, number)
    made = receipt_of(posting)
    context = {
        "show": posting.show,
        "entry": posting.entry,
        "posting": posting,
        "cents": amount_of(posting),
        "paper": made,
        "on_the_way": made is not None and not made.is_finished,
        "undone": reversal_of(posting),
        "here": "money",
        "office": allowed(request.user, Deed.RUN_MONEY, posting.show),
    }
    return render(request, "reports/receipt.html", context)
