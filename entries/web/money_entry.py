"""An entry's money: the exhibitor reads it and may pay online, the office posts."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.actions.charge_entry import CHARGED, charge_entry, charge_other
from entries.actions.online_payment import chosen_provider, demand_provider, start_online_payment
from entries.actions.pay_exhibitor import pay_purse, pay_travel
from entries.actions.refund_entry import keep_deposit_of, pay_out, refund_entry, return_deposit
from entries.actions.reverse_posting import reverse_posting
from entries.actions.take_payment import take_payment
from entries.models import Entry, Posting
from entries.queries.entries import entry_for
from entries.queries.ledger import (
    balance_of,
    deposit_held,
    fee_credit_of,
    refund_by_dates,
    travel_of,
)
from entries.queries.money_pages import StatementLine, amount_of, left_on, statement_of
from entries.queries.terms import terms_of
from entries.rules.ledger import Account, Method
from entries.rules.money_words import balance_words, dollars
from entries.rules.places import Status
from entries.web import money_forms as forms
from showrun.errors import NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.queries import allowed, demand, person_of
from showrun.shows.rules.access import Deed

FORMS: dict[str, type[forms.PostingForm]] = {
    form.do: form
    for form in (
        forms.PaymentForm,
        forms.FeesForm,
        forms.ChargeForm,
        forms.RefundForm,
        forms.ReturnDepositForm,
        forms.KeepDepositForm,
        forms.PayOutForm,
        forms.TravelForm,
        forms.PurseForm,
        forms.ReverseForm,
    )
}


def _way(asked: dict[str, Any]) -> dict[str, Any]:
    return {**asked, "method": Method(asked["method"]) if asked["method"] else None}


def _reverse(*, entry: Entry, number: int, **asked: Any) -> Posting:
    posting = Posting.objects.filter(show=entry.show_id, entry=entry, number=number).first()
    if posting is None:
        raise NotFound(
            _("This entry has no posting {number}.").format(number=number),
            fields={"number": _("None of these.")},
        )
    return reverse_posting(posting=posting, **asked)


def _fees(*, entry: Entry, key: object, **who: Any) -> Posting | None:
    """Charge what is due; the keys are the entry's own, not the form's."""
    return charge_entry(entry=entry, **who)


POSTS: dict[str, Callable[..., Posting | None]] = {
    "payment": lambda **asked: take_payment(**_way(asked)),
    "fees": _fees,
    "charge": lambda **asked: charge_other(**{**asked, "account": Account(asked["account"])}),
    "refund": refund_entry,
    "return": return_deposit,
    "keep": keep_deposit_of,
    "pay-out": lambda **asked: pay_out(**_way(asked)),
    "travel": lambda **asked: pay_travel(**_way(asked)),
    "purse": lambda **asked: pay_purse(**_way(asked)),
    "reverse": _reverse,
}


@never_cache
@require_http_methods(["GET", "POST"])
def money_entry(request: HttpRequest, entry_id: int) -> HttpResponse:
    """Show an entry's statement to its exhibitor and to the office; take what the office posts."""
    entry = entry_for(request.user, entry_id, Deed.SEE_ENTRY_MONEY)
    own = entry.exhibitor_id == request.user.pk
    refused = None
    if request.method == "POST":
        if request.POST.get("do") == "pay-online" and own:
            return _pay_online(request, entry)
        demand(request.user, Deed.RUN_MONEY, entry.show)
        refused = _posted(request, entry)
        if refused is None:
            return redirect("entries:money-entry", entry.pk)
    office = allowed(request.user, Deed.RUN_MONEY, entry.show)
    lines, owed, at = statement_of(entry), balance_of(entry), timezone.now()
    context = {
        "show": entry.show,
        "entry": entry,
        "here": "money",
        "office": office,
        "own": own,
        "lines": lines,
        "owed": owed,
        "held": deposit_held(entry),
        "refund": _refund_words(entry, at),
        "left": left_on(entry),
        "forms": _forms_for(entry, lines, owed, at, refused) if office else [],
        "pays_online": own and owed > 0 and chosen_provider() is not None,
    }
    return render(request, "entries/money_entry.html", context, status=422 if refused else 200)


def _refund_words(entry: Entry, at: datetime) -> str:
    if entry.status not in (*CHARGED, Status.SCRATCHED):
        return ""
    if not terms_of(entry.show).refund_steps or fee_credit_of(entry):
        return ""
    return refund_by_dates(entry, left_on(entry) or at.astimezone(entry.show.tz).date()).words


def _posted(request: HttpRequest, entry: Entry) -> forms.PostingForm | None:
    """Post what the form says; returns the form where it was refused."""
    made = FORMS.get(request.POST.get("do", ""))
    if made is None:
        raise NotFound()
    form = made(request.POST, entry=entry)
    if not form.is_valid():
        return form
    by, at = person_of(request.user), timezone.now()
    try:
        posting = POSTS[form.do](entry=entry, by=by, at=at, **form.asked())
    except ShowError as fault:
        form.take(fault)
        return form
    messages.success(request, _done_words(entry, posting))
    return None


def _done_words(entry: Entry, posting: Posting | None) -> str:
    owed = balance_of(entry)
    now = _("{wagon}: {owed}.").format(wagon=entry.wagon_name, owed=balance_words(owed))
    if posting is None:
        return _("Nothing is due. {now}").format(now=now)
    said = _("Posting {posting}, {amount}: {words}. {now}").format(
        posting=posting.number, amount=dollars(amount_of(posting)), words=posting.words, now=now
    )
    if posting.kind == Posting.Kind.PAYMENT and owed < 0:
        said += " " + _("More was paid than was owed.")
    return said


def _forms_for(
    entry: Entry,
    lines: list[StatementLine],
    owed: int,
    at: datetime,
    refused: forms.PostingForm | None,
) -> list[forms.PostingForm]:
    """Return the forms that can do something now, the refused one as it was sent."""
    today = at.astimezone(entry.show.tz).date()
    terms = terms_of(entry.show)
    held = deposit_held(entry)
    placed = entry.status in CHARGED
    standing = [
        line
        for line in lines
        if line.undone_by is None and line.posting.kind != Posting.Kind.REVERSAL
    ]
    due = placed and (entry.show.entry_fee_cents or terms.deposit_cents)
    charged = any(line.posting.kind == Posting.Kind.CHARGE for line in lines)
    offered: list[tuple[type[forms.PostingForm], bool, dict[str, Any]]] = [
        (forms.PaymentForm, True, {"amount": forms.plain(owed)}),
        (forms.FeesForm, bool(due) and not charged, {}),
        (forms.PayOutForm, owed < 0, {"amount": forms.plain(-owed)}),
        (forms.RefundForm, charged, {"left_on": left_on(entry) or today}),
        (forms.ReturnDepositForm, held > 0, {}),
        (forms.KeepDepositForm, held > 0, {}),
        (
            forms.TravelForm,
            placed and travel_of(entry) is None,
            {"amount": forms.plain(terms.travel_cents)},
        ),
        (forms.PurseForm, placed, {}),
        (forms.ChargeForm, True, {}),
        (forms.ReverseForm, bool(standing), {}),
    ]
    shown: list[forms.PostingForm] = []
    for form, can, initial in offered:
        if refused is not None and isinstance(refused, form):
            shown.append(refused)
        elif can:
            shown.append(form(initial=initial, entry=entry))
    return shown


def _pay_online(request: HttpRequest, entry: Entry) -> HttpResponse:
    demand_provider()
    by = person_of(request.user)
    here = reverse("entries:money-entry", args=[entry.pk])
    try:
        payment, address = start_online_payment(
            entry=entry,
            by=by,
            at=timezone.now(),
            return_to=request.build_absolute_uri(here),
            notify_at=request.build_absolute_uri(reverse("entries:payment-notice")),
        )
    except ShowError as fault:
        messages.error(request, fault.detail)
        return redirect("entries:money-entry", entry.pk)
    # A link, not a redirect: the content policy lets no form of ours end at another site.
    context = {"show": entry.show, "entry": entry, "payment": payment, "address": address}
    return render(request, "entries/pay_online.html", context)
