"""The office's door to the panel: what is asked of it, drawn and mended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.mend_panel import mend_panel
from judging.actions.seat_panel import seat_panel
from judging.queries.panel_task import explain_panel, pins_of
from judging.queries.practice import judging_begun
from judging.queries.window import window_of
from judging.rules.panels.collide import Collision
from judging.rules.panels.shortage import PanelImpossible
from judging.web.panel_view import panel_view
from judging.web.panel_wishes import WISHES, WishForms, do_wish, last_mend, wish_forms
from judging.web.setup_forms import DrawForm, MendForm
from showrun.errors import Conflict, InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.queries import allowed, demand, show_for
from showrun.shows.rules.access import Deed

FIRST_SEED = 1


# --- Panel ---------------------------------------------------------------------------------


@dataclass
class PanelForms:
    """The page's forms, and what came of the one that was sent."""

    draw: DrawForm
    mend: MendForm
    wishes: WishForms
    status: int = 200
    refusals: Sequence[str] = ()
    headline: str = field(default_factory=lambda: _("The panel cannot be drawn like this"))
    short: bool = False  # of judges
    collision: Collision | None = None


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def panel(request: HttpRequest, slug: str) -> HttpResponse:
    """Show who looks at what, draw it, mend it; what cannot be drawn says what collides."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    draws = AuditEntry.objects.filter(show=show, verb="drew", subject="the panel")
    drawn = draws.select_related("actor").first()
    seed = drawn.after["seed"] if drawn else FIRST_SEED
    data, do = request.POST if request.method == "POST" else None, request.POST.get("do")
    forms = PanelForms(
        draw=DrawForm(data if do == "draw" else None, initial={"seed": seed}),
        mend=MendForm(data if do == "mend" else None),
        wishes=wish_forms(show, data, do),
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
        "mended": last_mend(show, drawn),
        "pins": pins_of(show),
        "closed": _why_not_drawn(show),
        "may_run": allowed(request.user, Deed.RUN_JUDGES, show),
    }
    return render(request, "judging/panel.html", context, status=forms.status)


def _why_not_drawn(show: Show) -> str:
    """Say why the panel is not drawn any more, or nothing while it can be."""
    if judging_begun(show):
        return _("Judging has begun; the panel is not drawn again over cards in work.")
    window = window_of(show)
    if window and window.published_at:
        return _("The times are published; another panel would break them.")
    return ""


def _change_panel(request: HttpRequest, show: Show, forms: PanelForms) -> str:
    """Draw or mend and say what was done; nothing when the forms say what is wrong."""
    assert isinstance(request.user, Person)
    by, at = request.user, timezone.now()
    if request.POST.get("do") in WISHES:
        return _wish(request, show, forms, at)
    sent = next((form for form in (forms.draw, forms.mend) if form.is_bound), None)
    if sent is None:
        raise InvalidInput(_("Draw or mend: choose one of them."))
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
            forms.refusals = fault.__cause__.sentences
            forms.short = fault.__cause__.short > 0
            forms.collision = explain_panel(show)
        return ""


def _wish(request: HttpRequest, show: Show, forms: PanelForms, at: datetime) -> str:
    assert isinstance(request.user, Person)
    try:
        said = do_wish(request, show, forms.wishes, request.user, at)
    except Conflict as fault:
        forms.refusals, forms.status = [fault.detail], fault.status
        forms.headline = _("That is not set")
        return ""
    if said is None:
        forms.status = 422
    return said or ""


def _draw(show: Show, seed: int, by: Person, at: datetime) -> str:
    drawn = seat_panel(show=show, seed=seed, by=by, at=at)
    low, high = min(drawn.loads.values()), max(drawn.loads.values())
    each = f"{low}" if low == high else _("{low} to {high}").format(low=low, high=high)
    return _(
        "The panel is drawn: {seats} seats, {each} for each judge. Size the window to it next."
    ).format(seats=drawn.seats, each=each)


def _mend(show: Show, reason: str, by: Person, at: datetime) -> str:
    mended = mend_panel(show=show, by=by, at=at, reason=reason)
    late = (
        " "
        + _("Visits put after the others: {late_visits}; tell those judges.").format(
            late_visits=mended.late_visits
        )
        if mended.late_visits
        else ""
    )
    handed = (
        " "
        + _("Seats handed on to make room: {handed_on}, the fewest there can be.").format(
            handed_on=mended.handed_on
        )
        if mended.handed_on
        else ""
    )
    said = _("The panel is mended: seats dropped {dropped}, added {added}.").format(
        dropped=mended.dropped, added=mended.added
    )
    return f"{said}{handed}{late}"
