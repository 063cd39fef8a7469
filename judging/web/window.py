"""The office's door to the window: its hours and rules, whether it holds, and its publication."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from entries.queries.camp import confirmed_entries
from judging.actions.open_window import publish_window, set_hours, size_window, withdraw_window
from judging.actions.set_day import KEPT, add_pause, drop_pause, set_day
from judging.models import Window
from judging.queries.plan import day_rules
from judging.queries.practice import judging_begun
from judging.rules.windows.cases import Hold
from judging.rules.windows.planner import chance_words
from judging.web.plan import asked_plan, change_plan, plan_view
from judging.web.setup_forms import HoursForm
from judging.web.window_forms import AskForm, DayForm, HoldForm, PauseForm
from judging.web.window_view import pauses_view, window_view
from showrun.errors import InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Person, Show
from showrun.shows.queries import allowed, demand, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent
from showrun.shows.web.office_form import OfficeForm

SAID = tuple[int, str]


@dataclass
class WindowForms:
    """The page's forms; the one that was sent holds what was typed and what is wrong with it."""

    hours: HoursForm
    day: DayForm
    pause: PauseForm
    hold: HoldForm
    ask: AskForm
    status: int = 200


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def window(request: HttpRequest, slug: str) -> HttpResponse:
    """Show whether the visits fit, the ways out, and the timetable; size and publish it."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    forms = _forms(request, show)
    if request.method == "POST":
        demand(request.user, Deed.RUN_WINDOW, show)
        try:
            said = _run_window(request, show, forms)
        except ShowError as fault:
            messages.error(request, fault.detail)
            return redirect("judging:window", slug=slug)
        if said is not None:
            messages.add_message(request, *said)
            return redirect("judging:window", slug=slug)
        forms.status = 422
    view = window_view(show)
    context = {
        "show": show,
        "here": "window",
        "view": view,
        "forms": forms,
        "pauses": pauses_view(show),
        "plan": plan_view(show, view.window),
        "homeless": confirmed_entries(show).filter(spot=None).count(),
        "begun": judging_begun(show),
        "may_run": allowed(request.user, Deed.RUN_WINDOW, show),
    }
    return render(request, "judging/window.html", context, status=forms.status)


def _forms(request: HttpRequest, show: Show) -> WindowForms:
    do = request.POST.get("do", "")

    def data(wish: str) -> Any:
        return request.POST if request.method == "POST" and do == wish else None

    hours = {
        "opens": show.judging_starts_at.astimezone(show.tz).time(),
        "minutes": show.judging_minutes,
    }
    return WindowForms(
        hours=HoursForm(data("hours"), initial=hours),
        day=DayForm(data("day"), initial=DayForm.first(day_rules(show))),
        pause=PauseForm(data("pause"), show=show),
        hold=HoldForm(data("size") if "hold" in request.POST else None),
        ask=AskForm(data("look")),
    )


def _run_window(request: HttpRequest, show: Show, forms: WindowForms) -> SAID | None:
    """Do what was asked; return what to say of it, or nothing when a form says what is wrong."""
    assert isinstance(request.user, Person)
    by, at, do = request.user, timezone.now(), request.POST.get("do", "")
    doings: dict[str, Callable[[], SAID | None]] = {
        "size": lambda: _size(show, forms.hold, by, at),
        "publish": lambda: _publish(request, show, by, at),
        "hours": lambda: _sent(forms.hours, lambda: _set_hours(show, forms.hours, by, at)),
        "withdraw": lambda: _withdraw(request, show, by, at),
        "day": lambda: _sent(forms.day, lambda: _set_day(show, forms.day, by, at)),
        "pause": lambda: _sent(forms.pause, lambda: _add_pause(show, forms.pause, by, at)),
        "drop": lambda: _drop_pause(request, show, by, at),
        "look": lambda: _sent(
            forms.ask, lambda: asked_plan(show, forms.ask.cleaned_data["limit_s"], by, at)
        ),
    }
    if do in doings:
        return doings[do]()
    if do in ("stop", "use", "leave"):
        return change_plan(show, do, request.POST.get("job", ""), by, at)
    raise InvalidInput(_("Size, publish or withdraw: choose one of them."))


def _sent(form: OfficeForm, act: Callable[[], SAID]) -> SAID | None:
    """Act on a form that is filled in; a refusal that names its fields stands beside them."""
    if not form.is_valid():
        return None
    try:
        return act()
    except ShowError as fault:
        if not fault.fields:
            raise
        form.take(fault)
        return None


def _size(show: Show, form: HoldForm, by: Person, at: datetime) -> SAID:
    chosen = form.cleaned_data["hold"] if form.is_bound and form.is_valid() else "likely"
    hold: Hold = "plan" if chosen == "plan" else "likely"
    sized = size_window(show=show, by=by, at=at, hold=hold)
    likely = (
        ", " + _("{minutes} in nine days of ten").format(minutes=sized.likely_minutes)
        if sized.likely_minutes
        else ""
    )
    held = sized.likely_minutes if hold == "likely" else sized.needed_minutes
    fits = (held or sized.needed_minutes) <= sized.available_minutes
    verdict = _("It fits.") if fits else _("It does not fit yet; see the ways out.")
    level = messages.SUCCESS if fits else messages.WARNING
    return level, _("The window is sized: {minutes} minutes needed{likely}. {verdict}").format(
        minutes=sized.needed_minutes, likely=likely, verdict=verdict
    )


def _publish(request: HttpRequest, show: Show, by: Person, at: datetime) -> SAID:
    accept = request.POST.get("accept_chance") == "on"
    published: Window = publish_window(show=show, by=by, at=at, accept_chance=accept)
    said = _("The times are published. Exhibitors see theirs on their entry's page.")
    if published.chance is not None:
        said += " " + _("{chance} inside the window.").format(
            chance=chance_words(published.chance).capitalize()
        )
    return messages.SUCCESS, said


def _withdraw(request: HttpRequest, show: Show, by: Person, at: datetime) -> SAID:
    withdraw_window(show=show, reason=request.POST.get("reason", ""), by=by, at=at)
    return messages.SUCCESS, _("The times are taken back. Draw the panel or size the window anew.")


def _set_hours(show: Show, form: HoursForm, by: Person, at: datetime) -> SAID:
    day = show.judging_starts_at.astimezone(show.tz).date()
    try:
        set_hours(
            show=show,
            opens_at=datetime.combine(day, form.cleaned_data["opens"], tzinfo=show.tz),
            minutes=form.cleaned_data["minutes"],
            by=by,
            at=at,
        )
    except ShowError as fault:
        fault.fields = {
            "opens" if name == "opens_at" else name: words for name, words in fault.fields.items()
        }
        raise
    return messages.SUCCESS, _("The hours are set. Size the window to them.")


def _set_day(show: Show, form: DayForm, by: Person, at: datetime) -> SAID:
    _unused, published = set_day(show=show, rules=form.cleaned_data, by=by, at=at)
    return _of_rules(_("The rules of the day are set."), published)


def _add_pause(show: Show, form: PauseForm, by: Person, at: datetime) -> SAID:
    starts_at, ends_at = form.span
    who = form.cleaned_data["who"]
    _unused, published = add_pause(
        show=show,
        starts_at=starts_at,
        ends_at=ends_at,
        why=form.cleaned_data["why"],
        judge=form.judges.get(who),
        entry=form.entries.get(who),
        by=by,
        at=at,
    )
    return _of_rules(_("The pause is noted."), published)


def _drop_pause(request: HttpRequest, show: Show, by: Person, at: datetime) -> SAID:
    number = number_sent(request.POST.get("pause"))
    published = drop_pause(show=show, pause_id=number, by=by, at=at)
    return _of_rules(_("The pause is taken back."), published)


def _of_rules(said: str, published: bool) -> SAID:
    if published:
        return messages.WARNING, " ".join((said, _(KEPT)))
    return messages.SUCCESS, _("{said} Size the window to it.").format(said=said)
