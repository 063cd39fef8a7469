"""The temperature log: write a line, correct one, set the figures that hold at the show."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.food_temperatures import log_temperature, set_food_figures
from judging.queries.food import food_book, readings_of
from judging.rules.food.temperatures import LOCAL_FIRST
from judging.web.food_forms import FiguresForm, ReadingForm
from showrun.errors import InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Show
from showrun.shows.queries import allowed, demand, person_of, show_for
from showrun.shows.rules.access import Deed

PER_PAGE = 50


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def temperatures(request: HttpRequest, slug: str) -> HttpResponse:
    """Show the log and the figures; add to the one, change the others."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    book = food_book(show)
    do = request.POST.get("do")
    log = ReadingForm(request.POST if do == "log" else None, show=show, book=book)
    figures = FiguresForm(request.POST if do == "figures" else None, book=book)
    if request.method == "POST" and _done(request, show, log, figures):
        return redirect("judging:food-temperatures", slug)
    page = Paginator(readings_of(show), PER_PAGE).get_page(request.GET.get("page"))
    context = {
        "show": show,
        "here": "food",
        "book": book,
        "local_first": _(LOCAL_FIRST),
        "log": log,
        "figures": figures,
        "page": page,
        "may_run": allowed(request.user, Deed.RUN_FOOD, show),
        "may_log": allowed(request.user, Deed.TAKE_DISHES, show),
    }
    status = 422 if log.errors or figures.errors else 200
    return render(request, "judging/food_temperatures.html", context, status=status)


def _done(request: HttpRequest, show: Show, log: ReadingForm, figures: FiguresForm) -> bool:
    """Do what was asked and say so; False where a form says what is wrong."""
    if figures.is_bound:
        return _figures_set(request, show, figures)
    if not log.is_bound:
        raise InvalidInput(_("Write a line or set the figures: choose one of them."))
    demand(request.user, Deed.TAKE_DISHES, show)
    if not log.is_valid():
        return False
    given = log.cleaned_data
    try:
        line = log_temperature(
            show=show,
            figure=given["figure"],
            food=given["food"],
            reading_f=log.reading_f,
            entry=given["entry"],
            corrects=given["corrects"],
            reason=given["reason"],
            by=person_of(request.user),
            at=timezone.now(),
        )
    except ShowError as fault:
        log.take(fault)
        return False
    level = messages.WARNING if line.act_now else messages.SUCCESS
    messages.add_message(request, level, f"{line.food}: {line.said}")
    return True


def _figures_set(request: HttpRequest, show: Show, form: FiguresForm) -> bool:
    demand(request.user, Deed.RUN_FOOD, show)
    if not form.is_valid():
        return False
    try:
        set_food_figures(
            show=show,
            edition=form.cleaned_data["edition"],
            authority=form.cleaned_data["authority"],
            figures=form.figures,
            by=person_of(request.user),
            at=timezone.now(),
        )
    except ShowError as fault:
        form.take(fault)
        return False
    messages.success(request, _("The figures are set. Lines in the log stay as they are."))
    return True
