"""How the judging stands, and what the office does about what judges sent it."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from judging.actions.settle import see_concern, settle_event
from judging.actions.settle_phone import (
    TakenIn,
    leave_out_phone,
    take_in_event,
    take_in_phone,
)
from judging.actions.settle_rig import adopt_rig, decline_rig
from judging.models import Device, RigReport, RoundEvent, SafetyConcern
from judging.queries.held import HeldEvent, HeldOfPhone, held_by_phone, in_plain_words
from judging.queries.panel import judges_with_phones
from judging.queries.progress import progress_of
from judging.queries.rig_effects import RigEffect, effects_of, found_in_words
from judging.queries.rigs import open_rig_reports, rig_reports
from judging.queries.stages import GRAVEST_FIRST
from judging.queries.window import visit_ends, window_of
from judging.web.progress_grid import grid, phones
from judging.web.typed import NOTHING_TYPED, Typed
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.models import Show
from showrun.shows.queries import allowed, demand, person_of, show_for
from showrun.shows.rules.access import Deed

REFRESH_S = 20


@dataclass(frozen=True)
class _HeldLine:
    held: HeldEvent
    typed: Typed


@dataclass(frozen=True)
class _PhoneLine:
    held: HeldOfPhone
    typed: Typed


@dataclass(frozen=True)
class _RigLine:
    effect: RigEffect
    typed: Typed


def _progress_page(
    request: HttpRequest, show: Show, *, typed: Typed = NOTHING_TYPED, status: int = 200
) -> HttpResponse:
    at = timezone.now()
    found = progress_of(show)
    window = window_of(show)
    published = window is not None and window.published_at is not None
    ends = visit_ends(window) if window is not None and published else {}
    context = {
        "show": show,
        "here": "progress",
        "at": at,
        "progress": found,
        "grid": grid(found.cards, ends, at=at, tz=show.tz),
        "held": [
            _HeldLine(line, typed.at(line.event.pk)) for line in in_plain_words(show, found.held)
        ],
        "held_by_phone": [
            _PhoneLine(line, typed.at(("phone", line.key))) for line in held_by_phone(found.held)
        ],
        "rigs": [
            _RigLine(effect, typed.at(("rig", effect.report.pk)))
            for effect in effects_of(open_rig_reports(show))
        ],
        "rigs_settled": [
            (report, found_in_words(report))
            for report in rig_reports(show)
            if report.state != RigReport.State.OPEN
        ],
        "concerns": sorted(found.concerns, key=_unseen_and_gravest_first),
        "unseen": sum(concern.seen_at is None for concern in found.concerns),
        "phones": phones(judges_with_phones(show), at=at),
        "may_settle": allowed(request.user, Deed.SETTLE, show),
        "refresh_s": REFRESH_S,
    }
    return render(request, "judging/progress.html", context, status=status)


def _unseen_and_gravest_first(concern: SafetyConcern) -> tuple[bool, int]:
    seen = concern.seen_at is not None
    return seen, 0 if seen else GRAVEST_FIRST[concern.degree]


@never_cache
@require_safe
def progress(request: HttpRequest, slug: str) -> HttpResponse:
    """Show how far every card is, what is held, rigs found different, and safety concerns."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    return _progress_page(request, show)


def _part(show: Show, name: str) -> str:
    return f"{reverse('judging:progress', args=[show.slug])}#{name}"


@require_POST
def settle_event_view(request: HttpRequest, event_id: UUID) -> HttpResponse:
    """Note what was done about a held event, or take it in where it only came too late."""
    events = RoundEvent.objects.select_related("show", "device__judge__person")
    event = events.filter(pk=event_id).first()
    if event is None:
        raise NotFound()
    demand(request.user, Deed.SETTLE, event.show)
    note, by, at = request.POST.get("note", ""), person_of(request.user), timezone.now()
    said = _("Settled. The event and your note stay in the record.")
    try:
        if request.POST.get("verdict") == "take_in":
            said = _taken_in(take_in_event(event=event, note=note, by=by, at=at))
        else:
            settle_event(event=event, note=note, by=by, at=at)
    except InvalidInput as fault:
        typed = Typed(event.pk, {"note": note}, fault.fields)
        return _progress_page(request, event.show, typed=typed, status=fault.status)
    except Conflict as fault:
        messages.error(request, fault.detail)
    else:
        messages.success(request, said)
    return redirect(_part(event.show, "held"))


@require_POST
def settle_phone_view(request: HttpRequest, slug: str, device_id: int) -> HttpResponse:
    """Take in or leave out all touches of a phone that wait for one reason."""
    show = show_for(request.user, slug, Deed.SETTLE)
    phones = Device.objects.filter(judge__show=show)
    device = phones.select_related("judge__show", "judge__person").filter(pk=device_id).first()
    if device is None:
        raise NotFound()
    values = {name: request.POST.get(name, "") for name in ("code", "verdict", "note")}
    try:
        said = _settle_phone(device, values, request)
    except InvalidInput as fault:
        place = ("phone", f"{device.pk}-{values['code']}")
        typed = Typed(place, values, fault.fields or {"note": fault.detail})
        return _progress_page(request, show, typed=typed, status=fault.status)
    except Conflict as fault:
        messages.error(request, fault.detail)
    else:
        messages.success(request, said)
    return redirect(_part(show, "held"))


def _settle_phone(device: Device, values: dict[str, str], request: HttpRequest) -> str:
    by, at, code, note = person_of(request.user), timezone.now(), values["code"], values["note"]
    if values["verdict"] == "take_in":
        return _taken_in(take_in_phone(device=device, code=code, note=note, by=by, at=at))
    if values["verdict"] == "leave_out":
        n = leave_out_phone(device=device, code=code, note=note, by=by, at=at)
        return ngettext(
            "Left out: {n} touch. They and your note stay in the record.",
            "Left out: {n} touches. They and your note stay in the record.",
            n,
        ).format(n=n)
    raise InvalidInput(_("Take them in, or leave them out."))


def _taken_in(taken: TakenIn) -> str:
    """Say what became of touches taken in; one that still waits names its reason in the list."""
    n, still = taken.applied, len(taken.held)
    said = ngettext("Taken in: {n} touch.", "Taken in: {n} touches.", n).format(n=n)
    if still == 1 and not n:
        return _("It cannot take effect and stays held: {reason}").format(
            reason=taken.held[0].reason
        )
    return (
        _("{said} {still} still held, with the reason below.").format(said=said, still=still)
        if still
        else said
    )


@require_POST
def settle_rig_view(request: HttpRequest, report_id: int) -> HttpResponse:
    """Take a rig as a judge found it, or leave it as it was entered."""
    reports = RigReport.objects.select_related("judge__show", "judge__person", "entry__show")
    report = reports.filter(pk=report_id).first()
    if report is None:
        raise NotFound()
    show = report.judge.show
    demand(request.user, Deed.SETTLE, show)
    values = {name: request.POST.get(name, "") for name in ("verdict", "note")}
    try:
        said = _settle_rig(report, values, request)
    except InvalidInput as fault:
        typed = Typed(("rig", report.pk), values, fault.fields or {"verdict": fault.detail})
        return _progress_page(request, show, typed=typed, status=fault.status)
    except Conflict as fault:
        messages.error(request, fault.detail)
    else:
        messages.success(request, said)
    return redirect(_part(show, "rigs"))


def _settle_rig(report: RigReport, values: dict[str, str], request: HttpRequest) -> str:
    by, at, note = person_of(request.user), timezone.now(), values["note"]
    if values["verdict"] == "adopt":
        adopt_rig(report=report, note=note, by=by, at=at)
        return _(
            "Adopted: the rig of wagon {entry} is now as it was found. Cards that lack rows "
            "on it are open again."
        ).format(entry=report.entry.called)
    if values["verdict"] == "decline":
        decline_rig(report=report, note=note, by=by, at=at)
        return _("Declined: the rig of wagon {entry} stays as it was entered.").format(
            entry=report.entry.called
        )
    raise InvalidInput(
        _("Adopt or decline it."), fields={"verdict": _("Adopt the rig as found, or decline it.")}
    )


@require_POST
def see_concern_view(request: HttpRequest, concern_id: int) -> HttpResponse:
    """Note that the office has seen a safety concern; then back to where the button stood."""
    concerns = SafetyConcern.objects.select_related("judge__show", "entry")
    concern = concerns.filter(pk=concern_id).first()
    if concern is None:
        raise NotFound()
    show = concern.judge.show
    demand(request.user, Deed.SETTLE, show)
    see_concern(concern=concern, by=person_of(request.user), at=timezone.now())
    messages.success(
        request,
        _("Seen: {degree}, wagon {entry}.").format(
            degree=concern.get_degree_display(), entry=concern.entry.called
        ),
    )
    back = request.POST.get("back", "")
    of_this_office = back.startswith(reverse("reports:office", args=[show.slug]))
    return redirect(back if of_this_office else _part(show, "concerns"))
