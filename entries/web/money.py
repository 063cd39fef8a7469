"""The office's money: who owes what, the accounts, the day book, and the ledger as a list."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from entries.actions.charge_entry import charge_everybody
from entries.actions.export_ledger import export_ledger
from entries.actions.online_payment import take_notice
from entries.actions.take_to_bank import bank_money
from entries.models import Posting, PostingLine
from entries.queries.ledger import accounts_of
from entries.queries.money_pages import (
    EntryBalance,
    book_lines,
    entry_balances,
    filtered_book,
    online_to_look_at,
)
from entries.queries.terms import terms_of
from entries.rules.ledger import Account
from entries.rules.money_words import dollars
from entries.rules.sheet_writing import FORMS
from entries.web.money_forms import BankForm
from showrun.errors import NotFound, ShowError
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.language import ngettext
from showrun.shows.models import Show
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed

A_PAGE = 25  # postings of the day book
TABS = (
    ("", N_("All")),
    ("owing", N_("To pay")),
    ("favor", N_("In favor")),
    ("settled", N_("Settled")),
)


def _stands(line: EntryBalance) -> str:
    if line.owed == 0:
        return "settled"
    return "owing" if line.owed > 0 else "favor"


def _day(typed: str) -> date | None:
    try:
        return date.fromisoformat(typed)
    except ValueError:
        return None


@never_cache
@require_http_methods(["GET", "POST"])
def money(request: HttpRequest, slug: str) -> HttpResponse:
    """Show balances, accounts and day book; take money to the bank, charge everybody."""
    show = show_for(request.user, slug, Deed.RUN_MONEY)
    form = BankForm()
    if request.method == "POST":
        form = BankForm(request.POST)
        if _done(request, show, form):
            return redirect("entries:money", slug)
    return render(
        request,
        "entries/money.html",
        _page(request, show, form),
        status=422 if form.errors else 200,
    )


def _done(request: HttpRequest, show: Show, form: BankForm) -> bool:
    by, at, do = person_of(request.user), timezone.now(), request.POST.get("do")
    if do == "charge-all":
        made = charge_everybody(show=show, by=by, at=at)
        said = (
            ngettext("{n} charge was posted.", "{n} charges were posted.", made).format(n=made)
            if made
            else _("Everybody was charged already.")
        )
        messages.success(request, said)
        return True
    if do != form.do:
        raise NotFound(_("There is nothing at this address for you."))
    if not form.is_valid():
        return False
    asked = {**form.asked(), "account": Account(form.cleaned_data["account"])}
    try:
        posting = bank_money(show=show, by=by, at=at, **asked)
    except ShowError as fault:
        form.take(fault)
        return False
    messages.success(
        request,
        _("Posting {posting}: {words}.").format(posting=posting.number, words=posting.words),
    )
    return True


def _page(request: HttpRequest, show: Show, form: BankForm) -> dict[str, Any]:
    balances = entry_balances(show)
    wanted = request.GET.get("balance", "")
    kind = request.GET.get("kind", "")
    kind = kind if kind in Posting.Kind.values else ""
    day = _day(request.GET.get("day", ""))
    accounts = accounts_of(show)
    words = PostingLine.Account
    book = Paginator(filtered_book(show, kind=kind, day=day), A_PAGE)
    there = book.get_page(request.GET.get("page"))
    return {
        "show": show,
        "here": "money",
        "lines": [line for line in balances if not wanted or _stands(line) == wanted],
        "tabs": [
            (value, said, sum(not value or _stands(line) == value for line in balances))
            for value, said in TABS
        ],
        "wanted": wanted,
        "owing": sum(line.owed for line in balances if line.owed > 0),
        "favor": -sum(line.owed for line in balances if line.owed < 0),
        "held": -accounts[Account.DEPOSITS],
        "accounts": [
            (words(account.value).label, max(cents, 0), max(-cents, 0))
            for account, cents in accounts.items()
            if cents
        ],
        "debits": sum(cents for cents in accounts.values() if cents > 0),
        "book": book_lines(there.object_list),
        "page": there,
        "kinds": Posting.Kind.choices,
        "kind": kind,
        "day": day,
        "bank": form,
        "can_bank": any(
            accounts[one] > 0 for one in (Account.CASH, Account.CHEQUES, Account.ONLINE)
        )
        or form.is_bound,
        "fee": show.entry_fee_cents,
        "terms": terms_of(show),
        "differing": online_to_look_at(show),
        "fee_words": dollars(show.entry_fee_cents),
    }


@never_cache
@require_GET
def money_export(request: HttpRequest, slug: str) -> HttpResponse:
    """Hand out the whole ledger for a spreadsheet."""
    show = show_for(request.user, slug, Deed.RUN_MONEY)
    data = export_ledger(show=show, by=person_of(request.user), at=timezone.now())
    answer = HttpResponse(data, content_type=FORMS["csv"])
    answer["Content-Disposition"] = f'attachment; filename="ledger-{show.slug}.csv"'
    return answer


@csrf_exempt
@require_POST
def payment_notice(request: HttpRequest) -> HttpResponse:
    """Take what a payment provider tells; the provider's own signature is what is believed."""
    headers = {name.lower(): value for name, value in request.headers.items()}
    take_notice(body=request.body, headers=headers, at=timezone.now())
    return HttpResponse("noted", content_type="text/plain")
