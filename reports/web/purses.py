"""The office pays the purses of released results."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.timezone import now
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.actions.take_payment import WAYS_SAID
from entries.queries.money_pages import amount_of
from entries.rules.ledger import MONEY_OUT, Method
from entries.rules.money_words import dollars
from judging.models import Result
from reports.actions.pay_purses import pay_purses
from reports.queries.purses import purses_released
from showrun.errors import InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Show
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent


@never_cache
@require_http_methods(["GET", "POST"])
def purses(request: HttpRequest, slug: str) -> HttpResponse:
    """Show what each placing gets and what was paid; pay the rest of one result."""
    show = show_for(request.user, slug, Deed.RUN_MONEY)
    if request.method == "POST":
        try:
            messages.success(request, _pay(request, show))
        except (InvalidInput, ShowError) as fault:
            messages.error(request, fault.detail)
        return redirect("reports:purses", slug)
    context = {
        "show": show,
        "here": "money",
        "results": purses_released(show),
        "ways": [(way.value, _(WAYS_SAID[way])) for way in MONEY_OUT],
    }
    return render(request, "reports/purses.html", context)


def _pay(request: HttpRequest, show: Show) -> str:
    number = number_sent(request.POST.get("result"))
    result = Result.objects.filter(show_class__show=show, pk=number).first()
    if result is None:
        raise NotFound(_("This show has no such result."))
    way = request.POST.get("method", "")
    if way and way not in {one.value for one in MONEY_OUT}:
        raise InvalidInput(_("Cash, cheque, transfer, or set against what is owed: choose one."))
    made = pay_purses(
        result=result, method=Method(way) if way else None, by=person_of(request.user), at=now()
    )
    if not made:
        told = _("The purses of {show_class} were paid already.")
        return told.format(show_class=result.show_class.name)
    total = dollars(sum(amount_of(one) for one in made))
    told = ngettext(
        "{n} purse of {show_class}: {total}.", "{n} purses of {show_class}: {total}.", len(made)
    )
    return told.format(n=len(made), show_class=result.show_class.name, total=total)
