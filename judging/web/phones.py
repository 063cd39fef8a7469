"""The office's doors to judges' phones: pair, shut out, replace a lost one, name who keys."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

import segno
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.pair_device import (
    VALID_FOR,
    change_scribe,
    make_pairing_code,
    replace_phone,
    shut_out_device,
)
from judging.models import Device, Judge, PairingCode
from judging.queries.devices import in_use, judges_at_work, kept_aside, wagons_of_namesakes
from judging.queries.panel import judges_of
from judging.rules.round.phones import Told, call_for_office, long_words
from showrun.errors import NotFound, ShowError
from showrun.language import gettext as _
from showrun.shows.models import Person, Show
from showrun.shows.queries import person_of, show_for
from showrun.shows.rules.access import Deed
from showrun.shows.web.number_sent import number_sent

LONGEST_REASON = 200  # letters
QR_SCALE = 7  # so that a phone reads it from the far side of a table


# --- The list ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class PhoneLine:
    """A phone, when it was heard of last, and what it wants of the office."""

    device: Device
    judge: Judge
    last_contact: str
    battery: str
    call: str
    kept_aside: int

    @property
    def state(self) -> tuple[str, str]:
        """The state's word, and how it looks."""
        if self.device.is_shut_out:
            return _("shut out"), "state-bad"
        if self.call:
            return _("look after it"), "state-bad"
        return (
            (_("not all sent"), "state-wait")
            if self.device.unsent
            else (_("all sent"), "state-good")
        )


def ago(then: datetime | None, at: datetime) -> str:
    """Say how long ago something was, in the coarsest words that help."""
    if then is None:
        return "never"
    span = at - then
    return (
        _("just now")
        if span < timedelta(minutes=1)
        else _("{span} ago").format(span=long_words(span))
    )


def phone_lines(show: Show, judges: Iterable[Judge], *, at: datetime) -> list[PhoneLine]:
    """List the judges' phones, those in use first."""
    begun = show.judging_starts_at <= at
    at_work = judges_at_work(show) if begun else set()
    aside = kept_aside(show)
    lines = [
        PhoneLine(
            device=device,
            judge=judge,
            last_contact=ago(device.last_seen_at, at),
            battery=_battery(device),
            call=_call(device, at, at_work=judge.pk in at_work),
            kept_aside=aside.get(device.pk, 0),
        )
        for judge in judges
        for device in judge.devices.all()
    ]
    return sorted(lines, key=lambda line: line.device.revoked_at is not None)


def _battery(device: Device) -> str:
    return _("not told") if device.battery_percent is None else f"{device.battery_percent} %"


def _call(device: Device, at: datetime, *, at_work: bool) -> str:
    if device.is_shut_out:
        return ""
    silent_for = at - device.last_seen_at if device.last_seen_at else None
    return call_for_office(Told(silent_for, device.battery_percent, device.unsent, at_work))


# --- What the list's buttons do ---------------------------------------------------------------


def _phone(show: Show, wanted: str) -> Device:
    phones = Device.objects.phones().select_related("judge__show", "judge__person")
    device = phones.filter(judge__show=show, pk=number_sent(wanted)).first()
    if device is None:
        raise NotFound(_("This show has no such phone."))
    return device


def shut_out(request: HttpRequest, show: Show, by: Person, at: datetime) -> None:
    """Shut the phone named in the form out, and say what became of it."""
    device = _phone(show, request.POST.get("device", ""))
    reason = request.POST.get("reason", "").strip()
    if not reason or len(reason) > LONGEST_REASON:
        messages.error(
            request,
            _("{device} is not shut out yet: say why, in one sentence.").format(device=device),
        )
        return
    shut_out_device(device=device, by=by, at=at, reason=reason)
    messages.success(
        request,
        _(
            "{device} is shut out. What it sent before stays; make a code to pair another phone "
            "with {judge}."
        ).format(device=device, judge=device.judge),
    )


def name_scribe(request: HttpRequest, show: Show, by: Person, at: datetime) -> None:
    """Say who keys on the phone named in the form, and warn where that may look partial."""
    device = _phone(show, request.POST.get("device", ""))
    try:
        device = change_scribe(device=device, scribe=request.POST.get("scribe", ""), by=by, at=at)
    except ShowError as fault:
        messages.error(request, fault.detail)
        return
    keys = device.scribe or _("The judge")
    messages.success(
        request,
        _("{keys} keys on {device} for {judge}, from the phone's next contact on.").format(
            keys=keys, device=device, judge=device.judge
        ),
    )
    if warning := namesake_warning(device.judge, device.scribe):
        messages.warning(request, warning)


def namesake_warning(judge: Judge, scribe: str) -> str:
    """Warn where the scribe bears the name of somebody whose wagon the judge marks."""
    wagons = wagons_of_namesakes(judge, scribe) if scribe else []
    if not wagons:
        return ""
    names = ", ".join(str(wagon) for wagon in wagons)
    return _(
        "Somebody of wagon {names} is called {scribe} too, and {judge} marks it. If it is the "
        "same person, let another one key."
    ).format(names=names, scribe=scribe, judge=judge)


# --- Codes ------------------------------------------------------------------------------------


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def pairing_code(request: HttpRequest, slug: str, judge_id: int) -> HttpResponse:
    """Make a code for one phone and show it, this once: only its hash is kept."""
    show = show_for(request.user, slug, Deed.PAIR_DEVICES)
    if request.method != "POST":
        return redirect("judging:judges", slug=slug)
    found = Judge.objects.select_related("show", "person").filter(show=show, pk=judge_id)
    judge = found.first()
    if judge is None:
        raise NotFound(_("This show has no such judge."))
    asked = request.POST
    try:
        kept, code = make_pairing_code(
            judge=judge,
            scribe=asked.get("scribe", ""),
            takes_place=asked.get("takes_place") == "yes",
            by=person_of(request.user),
            at=timezone.now(),
        )
    except ShowError as fault:
        messages.error(request, _("No code is made yet. {detail}").format(detail=fault.detail))
        return redirect("judging:judges", slug=slug)
    return _code_page(request, kept, code)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def lost_phone(request: HttpRequest, slug: str, device_id: int) -> HttpResponse:
    """Shut a lost phone out and show at once the code for the judge's next one."""
    show = show_for(request.user, slug, Deed.PAIR_DEVICES)
    place = f"{reverse('judging:judges', args=[slug])}#phones"
    if request.method != "POST":
        return redirect(place)
    device = _phone(show, str(device_id))
    reason = request.POST.get("reason", "")[:LONGEST_REASON]
    try:
        kept, code = replace_phone(
            device=device, reason=reason, by=person_of(request.user), at=timezone.now()
        )
    except ShowError as fault:
        messages.error(request, fault.detail)
        return redirect(place)
    return _code_page(request, kept, code, lost=device)


def _code_page(
    request: HttpRequest, kept: PairingCode, code: str, lost: Device | None = None
) -> HttpResponse:
    round_address = request.build_absolute_uri(reverse("judging:round"))
    link = f"{round_address}#pair={code}"
    context = {
        "show": kept.judge.show,
        "here": "judges",
        "judge": kept.judge,
        "scribe": kept.scribe,
        "warning": namesake_warning(kept.judge, kept.scribe),
        "lost": lost,
        "replaced": in_use(kept.judge) if kept.takes_place else (),
        "code": code,
        "link": link,
        "round_address": round_address,
        "qr": _qr(link, _("Link that pairs a phone with {judge}").format(judge=kept.judge)),
        "expires_at": kept.expires_at,
        "next_judge": _next_without_phone(kept.judge),
        "minutes": VALID_FOR // timedelta(minutes=1),
    }
    return render(request, "judging/pairing_code.html", context)


def _next_without_phone(judge: Judge) -> Judge | None:
    """The judge after this one on the list who has no phone yet."""
    line = judges_of(judge.show)
    place = next((n for n, one in enumerate(line) if one.pk == judge.pk), len(line))
    paired = Device.objects.phones().filter(judge__show=judge.show, revoked_at=None)
    have = set(paired.values_list("judge_id", flat=True))
    after = (one for one in line[place + 1 :] if one.pk not in have and one.left_at is None)
    return next(after, None)


def _qr(link: str, title: str) -> SafeString:
    """Draw the link as an SVG that needs no style, black on white in dark mode too."""
    drawn = segno.make(link, error="m", micro=False).svg_inline(
        scale=QR_SCALE, dark="#000", light="#fff", svgclass=None, lineclass=None, title=title
    )
    # segno escapes the title; everything else in the picture is its own.
    return mark_safe(drawn.replace("<svg ", '<svg role="img" ', 1))  # noqa: S308
