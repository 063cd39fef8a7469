"""The office's doors to judges: who judges what, what bars them, and their phones."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

import segno
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.engage_judge import (
    change_judge,
    declare_conflict,
    engage_judge,
    judge_leaves,
)
from judging.actions.pair_device import VALID_FOR, make_pairing_code, shut_out_device
from judging.models import Conflict, Device, Judge, Scorecard, Seat
from judging.queries.cards import card_of
from judging.queries.panel import judges_needed, judges_of
from judging.web.setup_forms import ConflictForm, EngageForm
from showrun.errors import InvalidInput, NotFound, ShowError
from showrun.shows.actions.plan_show import person_for
from showrun.shows.models import Person, Show
from showrun.shows.queries import demand, roles_of, show_by_slug
from showrun.shows.rules.access import Deed, may

LONGEST_REASON = 200  # letters
LONGEST_LIMIT = 6  # digits of a limit of seats
QR_SCALE = 7  # so that a phone reads it from the far side of a table


@dataclass(frozen=True)
class ConflictLine:
    """A conflict, and whether the panel drawn breaks it."""

    conflict: Conflict
    seated: bool


@dataclass(frozen=True)
class PhoneLine:
    """A phone, and when it was heard of last."""

    device: Device
    judge: Judge
    last_contact: str


@dataclass(frozen=True)
class JudgeLine:
    """One row of the list of judges."""

    judge: Judge
    sections: str
    conflicts: str
    phones: int
    choices: list[tuple[str, str, bool]]  # code and name of a section, and whether it is held


@dataclass
class Forms:
    """The forms of the page; the one that was sent keeps what was typed."""

    engage: EngageForm | None
    conflict: ConflictForm
    status: int = 200


def ago(then: datetime | None, at: datetime) -> str:
    """Say how long ago something was, in the coarsest words that help."""
    if then is None:
        return "never"
    minutes = int((at - then) / timedelta(minutes=1))
    if minutes < 1:
        return "just now"
    if minutes < 120:
        return f"{minutes} minute{'' if minutes == 1 else 's'} ago"
    if minutes < 48 * 60:
        return f"{minutes // 60} hours ago"
    return f"{minutes // (24 * 60)} days ago"


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def judges(request: HttpRequest, slug: str) -> HttpResponse:
    """List judges, conflicts and phones; engage, declare and shut out."""
    show = show_by_slug(slug)
    demand(request.user, Deed.SEE_OFFICE, show)
    card = card_of(show)
    data = request.POST if request.method == "POST" else None
    do = request.POST.get("do", "")
    forms = Forms(
        engage=EngageForm(data if do == "engage" else None, card=card) if card else None,
        conflict=ConflictForm(data if do == "conflict" else None, show=show),
    )
    if data is not None:
        done = _do(request, show, do, forms)
        if done is not None:
            return done
        forms.status = 422
    return _page(request, show, card, forms)


def _do(request: HttpRequest, show: Show, do: str, forms: Forms) -> HttpResponse | None:
    """Do what was sent and return where to go, or None to show the form again."""
    assert isinstance(request.user, Person)
    by, at = request.user, timezone.now()
    if do == "engage" and forms.engage is not None:
        demand(by, Deed.RUN_JUDGES, show)
        said, place = _engage(show, forms.engage, by, at), "judges"
    elif do == "conflict":
        demand(by, Deed.RUN_JUDGES, show)
        said, place = _declare(forms.conflict, by, at), "conflicts"
    elif do == "change":
        demand(by, Deed.RUN_JUDGES, show)
        _change(request, show, by, at)
        said, place = "", "judges"
    elif do == "leave":
        demand(by, Deed.RUN_JUDGES, show)
        _leave(request, show, by, at)
        said, place = "", "judges"
    elif do == "shut-out":
        demand(by, Deed.PAIR_DEVICES, show)
        _shut_out(request, show, by, at)
        said, place = "", "phones"
    else:
        raise InvalidInput("The page was sent in a way this service does not know.")
    if said is None:
        return None
    if said:
        messages.success(request, said)
    return redirect(f"{reverse('judging:judges', args=[show.slug])}#{place}")


def _engage(show: Show, form: EngageForm, by: Person, at: datetime) -> str | None:
    if not form.is_valid():
        return None
    typed = form.cleaned_data
    try:
        with transaction.atomic():  # a refused judge leaves no person behind
            judge = engage_judge(
                show=show,
                person=person_for(email=typed["email"], name=typed["name"]),
                code=typed["code"],
                sections=typed["sections"],
                seniority=typed["seniority"],
                by=by,
                at=at,
            )
    except ShowError as fault:
        form.take(fault)
        return None
    return f"{judge} is engaged. Draw the panel to seat them."


def _declare(form: ConflictForm, by: Person, at: datetime) -> str | None:
    if not form.is_valid():
        return None
    judge, entry = form.cleaned_data["judge"], form.cleaned_data["entry"]
    try:
        declare_conflict(
            judge=judge,
            entry=entry,
            kind=form.cleaned_data["kind"],
            reason=form.cleaned_data["reason"],
            by=by,
            at=at,
        )
    except ShowError as fault:
        form.take(fault)
        return None
    seated = Seat.objects.filter(judge=judge, entry=entry).exists()
    return f"Recorded: {judge} does not judge {entry}." + (
        " The panel seats them there; mend it or draw it again." if seated else ""
    )


def _judge_named(request: HttpRequest, show: Show) -> Judge:
    wanted = request.POST.get("judge", "")
    judges = Judge.objects.select_related("show", "person").filter(show=show)
    judge = judges.filter(pk=int(wanted) if wanted.isdecimal() else 0).first()
    if judge is None:
        raise NotFound("This show has no such judge.")
    return judge


def _change(request: HttpRequest, show: Show, by: Person, at: datetime) -> None:
    judge = _judge_named(request, show)
    most = request.POST.get("max_seats", "").strip()
    if most and not (most.isdecimal() and len(most) <= LONGEST_LIMIT):
        messages.error(request, f"{judge} is not changed: the most seats are a whole number.")
        return
    try:
        change_judge(
            judge=judge,
            sections=request.POST.getlist("sections"),
            seniority=request.POST.get("seniority", ""),
            max_seats=int(most) if most else None,
            by=by,
            at=at,
        )
    except ShowError as fault:
        messages.error(request, fault.detail)
        return
    messages.success(
        request, f"{judge} is changed. A panel drawn before is mended, or drawn again, to fit."
    )


def _leave(request: HttpRequest, show: Show, by: Person, at: datetime) -> None:
    judge = _judge_named(request, show)
    try:
        judge_leaves(judge=judge, reason=request.POST.get("reason", ""), by=by, at=at)
    except ShowError as fault:
        messages.error(request, fault.detail)
        return
    messages.success(
        request,
        f"{judge} judges no more. Cards handed in still count; mend the panel so that others "
        "take the seats left.",
    )


def _shut_out(request: HttpRequest, show: Show, by: Person, at: datetime) -> None:
    wanted = request.POST.get("device", "")
    device = (
        Device.objects.phones()
        .filter(judge__show=show, pk=int(wanted) if wanted.isdecimal() else 0)
        .select_related("judge__show", "judge__person")
        .first()
    )
    if device is None:
        raise NotFound("This show has no such phone.")
    reason = request.POST.get("reason", "").strip()
    if not reason or len(reason) > LONGEST_REASON:
        messages.error(request, f"{device} is not shut out yet: say why, in one sentence.")
        return
    shut_out_device(device=device, by=by, at=at, reason=reason)
    messages.success(
        request,
        f"{device} is shut out. What it sent before stays; "
        f"make a code to pair another phone with {device.judge}.",
    )


def _page(request: HttpRequest, show: Show, card: Scorecard | None, forms: Forms) -> HttpResponse:
    at = timezone.now()
    roles = roles_of(request.user, show)
    engaged = judges_of(show)
    seated = set(Seat.objects.filter(judge__show=show).values_list("judge_id", "entry_id"))
    conflicts = _conflicts(engaged, seated)
    phones = [
        PhoneLine(device, judge, ago(device.last_seen_at, at))
        for judge in engaged
        for device in judge.devices.all()
    ]
    context = {
        "show": show,
        "here": "judges",
        "lines": [_line(judge, card) for judge in engaged],
        "short": _short(show, card, engaged) if engaged and card else [],
        "conflicts": conflicts,
        "broken": [line for line in conflicts if line.seated],
        "phones": phones,
        "paired": sum(phone.device.revoked_at is None for phone in phones),
        "forms": forms,
        "may_run": may(roles, Deed.RUN_JUDGES),
        "may_pair": may(roles, Deed.PAIR_DEVICES),
    }
    return render(request, "judging/judges.html", context, status=forms.status)


def _line(judge: Judge, card: Scorecard | None) -> JudgeLine:
    sections = [section.name for section in judge.sections.all()]
    held = {section.pk for section in judge.sections.all()}
    every = card is not None and len(sections) == len(card.sections.all()) > 1
    return JudgeLine(
        judge=judge,
        sections="every section" if every else ", ".join(sections),
        conflicts=", ".join(str(conflict.entry) for conflict in judge.conflicts.all()),
        phones=sum(device.revoked_at is None for device in judge.devices.all()),
        choices=[
            (section.code, section.name, section.pk in held)
            for section in (card.sections.all() if card else ())
        ],
    )


def _conflicts(engaged: Iterable[Judge], seated: set[tuple[int, int]]) -> list[ConflictLine]:
    return [
        ConflictLine(conflict, (judge.pk, conflict.entry_id) in seated)
        for judge in engaged
        for conflict in judge.conflicts.all()
    ]


def _short(show: Show, card: Scorecard, engaged: Iterable[Judge]) -> list[str]:
    """Say for which sections too few judges are engaged, before a draw fails on it."""
    there: dict[str, int] = {}
    for judge in engaged:
        for section in judge.sections.all():
            there[section.code] = there.get(section.code, 0) + 1
    needed = judges_needed(show)
    return [
        f"{section.name}: each wagon is seen by {needed[section.code]}, "
        f"and {there.get(section.code, 0) or 'no'} judge"
        f"{' is' if there.get(section.code, 0) <= 1 else 's are'} engaged for it."
        for section in card.sections.all()
        if there.get(section.code, 0) < needed.get(section.code, 0)
    ]


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def pairing_code(request: HttpRequest, slug: str, judge_id: int) -> HttpResponse:
    """Make a code for one phone and show it, this once: only its hash is kept."""
    show = show_by_slug(slug)
    demand(request.user, Deed.PAIR_DEVICES, show)
    if request.method != "POST":
        return redirect("judging:judges", slug=slug)
    assert isinstance(request.user, Person)
    found = Judge.objects.select_related("show", "person").filter(show=show, pk=judge_id)
    judge = found.first()
    if judge is None:
        raise NotFound("This show has no such judge.")
    kept, code = make_pairing_code(judge=judge, by=request.user, at=timezone.now())
    round_address = request.build_absolute_uri(reverse("judging:round"))
    link = f"{round_address}#pair={code}"
    context = {
        "show": show,
        "here": "judges",
        "judge": judge,
        "code": code,
        "link": link,
        "round_address": round_address,
        "qr": _qr(link, f"Link that pairs a phone with {judge}"),
        "expires_at": kept.expires_at,
        "minutes": VALID_FOR // timedelta(minutes=1),
    }
    return render(request, "judging/pairing_code.html", context)


def _qr(link: str, title: str) -> SafeString:
    """Draw the link as an SVG that needs no style, black on white in dark mode too."""
    drawn = segno.make(link, error="m", micro=False).svg_inline(
        scale=QR_SCALE, dark="#000", light="#fff", svgclass=None, lineclass=None, title=title
    )
    # segno escapes the title; everything else in the picture is its own.
    return mark_safe(drawn.replace("<svg ", '<svg role="img" ', 1))  # noqa: S308
