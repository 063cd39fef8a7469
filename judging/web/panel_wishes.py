"""What the office asks of the panel on its page: rules, seats set by hand, and what collides."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.http import HttpRequest, QueryDict

from judging.actions.panel_rules import pin, set_panel_rules, unpin
from judging.models import Pin
from judging.queries.panel_task import panel_rules
from judging.web.panel_forms import PinForm, RulesForm
from showrun.errors import InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.web.number_sent import number_sent
from showrun.shows.web.office_form import OfficeForm

WISHES = ("rules", "pin", "unpin")


@dataclass(frozen=True)
class WishForms:
    """The page's two forms of wishes."""

    rules: RulesForm
    pin: PinForm


def wish_forms(show: Show, data: QueryDict | None, do: str | None) -> WishForms:
    """Return the forms, the one that was sent with what was typed."""
    rules = panel_rules(show)
    return WishForms(
        rules=RulesForm(
            data if do == "rules" else None,
            initial={
                "novices_beside_seniors": rules.novices_beside_seniors,
                "balance_by": rules.balance_by,
                "max_seats": rules.max_seats,
            },
        ),
        pin=PinForm(data if do == "pin" else None, show=show),
    )


def do_wish(
    request: HttpRequest, show: Show, forms: WishForms, by: Person, at: datetime
) -> str | None:
    """Set what was sent and say so; ``None`` when the form says what is wrong.

    What is closed by now, or set already, is a `Conflict` of the whole page.
    """
    if request.POST.get("do") == "unpin":
        return _free(request, show, by, at)
    sent: OfficeForm = forms.rules if forms.rules.is_bound else forms.pin
    if not sent.is_valid():
        return None
    try:
        if sent is forms.rules:
            set_panel_rules(show=show, **sent.cleaned_data, by=by, at=at)
            return _("The rules are set. They count from the next draw on.")
        typed = sent.cleaned_data
        row = pin(show=show, **{**typed, "must": typed["must"] == "yes"}, by=by, at=at)
    except InvalidInput as fault:
        sent.take(fault)
        return None
    return _("Set: {row}. It counts from the next draw on.").format(row=row)


def _free(request: HttpRequest, show: Show, by: Person, at: datetime) -> str:
    rows = Pin.objects.filter(show=show).select_related("judge__person", "entry", "section")
    row = rows.filter(pk=number_sent(request.POST.get("pin"))).first()
    if row is None:
        raise NotFound(_("This show has no such seat set by hand."))
    said = str(row)
    unpin(pin=row, by=by, at=at)
    return _("Free again: {said}.").format(said=said)


def last_mend(show: Show, drawn: AuditEntry | None) -> AuditEntry | None:
    """Return the last mending since the panel was drawn, with its differences."""
    mended = AuditEntry.objects.filter(show=show, verb="mended", subject="the panel")
    if drawn is not None:
        mended = mended.filter(pk__gt=drawn.pk)
    found = mended.select_related("actor").first()
    return found if found is not None and found.after.get("changes") else None
