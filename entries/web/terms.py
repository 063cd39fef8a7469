"""The office sets the show's terms of entering."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.actions.set_terms import set_terms
from entries.models import Entry
from entries.queries.terms import agreed_to_waiver, terms_of
from entries.web.terms_forms import TermsForm
from showrun.errors import InvalidInput
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed


def _said(offered: list[Entry]) -> str:
    if not offered:
        return _("The terms are set.")
    names = ", ".join(entry.wagon_name for entry in offered)
    return _("The terms are set. A place is offered to {names}.").format(names=names)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def terms(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the terms; set what was changed, or show the form again with what is wrong."""
    show = show_for(request.user, slug, Deed.RUN_TERMS)
    if request.method != "POST":
        return _page(request, show, TermsForm(show, terms_of(show), None))
    form = TermsForm(show, terms_of(show), request.POST.dict())
    wanted = form.read()
    if wanted is not None:
        by = person_of(request.user)
        try:
            offered = set_terms(show=show, terms=wanted, by=by, at=timezone.now())
        except InvalidInput as fault:
            form.refuse(fault.fields)
        else:
            messages.success(request, _said(offered))
            return redirect("entries:terms", show.slug)
    return _page(request, show, form)


def _page(request: HttpRequest, show: Show, form: TermsForm) -> HttpResponse:
    kept = terms_of(show)
    context = {
        "show": show,
        "here": "terms",
        "form": form,
        "fields": form.fields,
        "waiver_version": kept.waiver_version,
        "agreed": agreed_to_waiver(show, kept),
    }
    return render(request, "entries/terms.html", context, status=422 if form.faults else 200)
