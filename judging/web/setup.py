"""The office's doors to what is set up before judging: panel and window."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.mend_panel import mend_panel
from judging.actions.open_window import publish_window, set_hours, size_window, withdraw_window
from judging.actions.seat_panel import seat_panel
from judging.queries.practice import judging_begun
from judging.queries.window import window_of
from judging.rules.panels.shortage import PanelImpossible
from judging.web.panel_view import panel_view
from judging.web.setup_forms import DrawForm, HoursForm, MendForm
from judging.web.window_view import window_view
from showrun.errors import InvalidInput, ShowError
from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.queries import demand, roles_of, show_by_slug
from showrun.shows.rules.access import Deed, may

FIRST_SEED = 1


# --- Panel ---------------------------------------------------------------------------------


@dataclass
class PanelForms:
    """The page's two forms, and what came of the one that was sent."""

    draw: DrawForm
    mend: MendForm
    status: int = 200
    refusals: Sequence[str] = ()
    short: bool = False  # of judges


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def panel(request: HttpRequest, slug: str) -> HttpResponse:
    """Show who looks at what, draw it, mend it; what cannot be drawn says what collides."""
    show = show_by_slug(slug)
    demand(request.user, Deed.SEE_OFFICE, show)
    drawn = AuditEntry.objects.filter(show=show, verb="drew").select_related("actor").first()
    seed = drawn.after["seed"] if drawn else FIRST_SEED
    data, do = request.POST if request.method == "POST" else None, request.POST.get("do")
    forms = PanelForms(
        draw=DrawForm(data if do == "draw" else None, initial={"seed": seed}),
        mend=MendForm(data if do == "mend" else None),
    )
    if data is not None:
        demand(request.user, Deed.RUN_JUDGES, show)
        said = _change_panel(request, show, forms)
        if said:
            messages.success(request, said)
            return redirect("judging:panel", slug=slug)
    context = {
        "show": show,
        "here": "panel",
        "panel": panel_view(show),
        "drawn": drawn,
        "seed": seed,
        "forms": forms,
        "closed": _why_not_drawn(show),
        "may_run": may(roles_of(request.user, show), Deed.RUN_JUDGES),
    }
    return render(request, "judging/panel.html", context, status=forms.status)


def _why_not_drawn(show: Show) -> str:
    """Say why the panel is not drawn any more, or nothing while it can be."""
    if judging_begun(show):
        return "Judging has begun; the panel is not drawn again over cards in work."
    window = window_of(show)
    if window and window.published_at:
        return "The times are published; another panel would break them."
    return ""


def _change_panel(request: HttpRequest, show: Show, forms: PanelForms) -> str:
    """Draw or mend and say what was done; nothing when the forms say what is wrong."""
    assert isinstance(request.user, Person)
    by, at = request.user, timezone.now()
    sent = next((form for form in (forms.draw, forms.mend) if form.is_bound), None)
    if sent is None:
        raise InvalidInput("Draw or mend: choose one of them.")
    if not sent.is_valid():
        forms.status = 422
        return ""
    try:
        if sent is forms.draw:
            return _draw(show, sent.cleaned_data["seed"], by, at)
        return _mend(show, sent.cleaned_data["reason"], by, at)
    except ShowError as fault:
        forms.refusals, forms.status = [fault.detail], fault.status
        if isinstance(fault.__cause__, PanelImpossible):
            forms.refusals = [shortage.sentence for shortage in fault.__cause__.shortages]
            forms.short = True
        return ""


def _draw(show: Show, seed: int, by: Person, at: datetime) -> str:
    drawn = seat_panel(show=show, seed=seed, by=by, at=at)
    low, high = min(drawn.loads.values()), max(drawn.loads.values())
    each = f"{low}" if low == high else f"{low} to {high}"
    return (
        f"The panel is drawn: {drawn.seats} seats, {each} for each judge. "
        "Size the window to it next."
    )


def _mend(show: Show, reason: str, by: Person, at: datetime) -> str:
    mended = mend_panel(show=show, by=by, at=at, reason=reason)
    late = (
        f" Visits put after the others: {mended.late_visits}; tell those judges."
        if mended.late_visits
        else ""
    )
    return f"The panel is mended: seats dropped {mended.dropped}, added {mended.added}.{late}"


# --- Window --------------------------------------------------------------------------------


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def window(request: HttpRequest, slug: str) -> HttpResponse:
    """Show whether the visits fit, the ways out, and the timetable; size and publish it."""
    show = show_by_slug(slug)
    demand(request.user, Deed.SEE_OFFICE, show)
    if request.method == "POST":
        demand(request.user, Deed.RUN_WINDOW, show)
        try:
            level, said = _run_window(request, show)
            messages.add_message(request, level, said)
        except ShowError as fault:
            messages.error(request, fault.detail)
        return redirect("judging:window", slug=slug)
    context = {
        "show": show,
        "here": "window",
        "view": window_view(show),
        "hours": HoursForm(
            initial={
                "opens": show.judging_starts_at.astimezone(show.tz).time(),
                "minutes": show.judging_minutes,
            }
        ),
        "begun": judging_begun(show),
        "may_run": may(roles_of(request.user, show), Deed.RUN_WINDOW),
    }
    return render(request, "judging/window.html", context)


def _run_window(request: HttpRequest, show: Show) -> tuple[int, str]:
    """Do what was asked; return what to say of it, and whether it is good news."""
    assert isinstance(request.user, Person)
    by, at, do = request.user, timezone.now(), request.POST.get("do", "")
    if do == "size":
        sized = size_window(show=show, by=by, at=at)
        verdict = "It fits." if sized.fits else "It does not fit yet; see the ways out."
        level = messages.SUCCESS if sized.fits else messages.WARNING
        return level, f"The window is sized: {sized.needed_minutes} minutes needed. {verdict}"
    if do == "publish":
        publish_window(show=show, by=by, at=at)
        said = "The times are published. Exhibitors see theirs on their entry's page."
        return messages.SUCCESS, said
    if do == "hours":
        return messages.SUCCESS, _set_hours(request, show, by, at)
    if do == "withdraw":
        withdraw_window(show=show, reason=request.POST.get("reason", ""), by=by, at=at)
        return messages.SUCCESS, "The times are taken back. Draw the panel or size the window anew."
    raise InvalidInput("Size, publish or withdraw: choose one of them.")


def _set_hours(request: HttpRequest, show: Show, by: Person, at: datetime) -> str:
    form = HoursForm(request.POST)
    if not form.is_valid():
        raise InvalidInput(" ".join(sentence for _, sentence in form.fault_list))
    day = show.judging_starts_at.astimezone(show.tz).date()
    set_hours(
        show=show,
        opens_at=datetime.combine(day, form.cleaned_data["opens"], tzinfo=show.tz),
        minutes=form.cleaned_data["minutes"],
        by=by,
        at=at,
    )
    return "The hours are set. Size the window to them."
