"""The office's page of judges: who judges what, what bars them, and their phones."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import count

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from judging.actions.engage_judge import (
    change_judge,
    declare_conflict,
    engage_judge,
    judge_leaves,
)
from judging.models import Conflict, Device, Judge, Scorecard, Seat
from judging.queries.cards import card_of
from judging.queries.panel import engaged_by_section, judges_needed, judges_of
from judging.web.phones import name_scribe, phone_lines, shut_out
from judging.web.setup_forms import ConflictForm, EngageForm
from showrun.errors import InvalidInput, NotFound, ShowError
from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.actions.plan_show import person_for
from showrun.shows.models import Person, Show
from showrun.shows.queries import demand, roles_of, show_for
from showrun.shows.rules.access import Deed, may
from showrun.shows.web.number_sent import number_sent

REFRESH_S = 20  # of the phones
LONGEST_LIMIT = 6  # digits of a limit of seats


@dataclass(frozen=True)
class ConflictLine:
    """A conflict, and whether the panel drawn breaks it."""

    conflict: Conflict
    seated: bool


@dataclass(frozen=True)
class JudgeLine:
    """One row of the list of judges."""

    judge: Judge
    sections: str
    conflicts: str
    phones: list[Device]  # in use
    choices: list[tuple[str, str, bool]]  # code and name of a section, and whether it is held


@dataclass
class Forms:
    """The forms of the page; the one that was sent keeps what was typed."""

    engage: EngageForm | None
    conflict: ConflictForm
    status: int = 200


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def judges(request: HttpRequest, slug: str) -> HttpResponse:
    """List judges, conflicts and phones; engage, declare and shut out."""
    show = show_for(request.user, slug, Deed.SEE_OFFICE)
    card = card_of(show)
    data = request.POST if request.method == "POST" else None
    do = request.POST.get("do", "")
    forms = Forms(
        engage=_engage_form(show, card, data if do == "engage" else None),
        conflict=ConflictForm(data if do == "conflict" else None, show=show),
    )
    if data is not None:
        done = _do(request, show, do, forms)
        if done is not None:
            return done
        forms.status = 422
    return _page(request, show, card, forms)


def _engage_form(show: Show, card: Scorecard | None, data: QueryDict | None) -> EngageForm | None:
    """Ask for the next judge, with a short name nobody has."""
    if card is None:
        return None
    taken = set(Judge.objects.filter(show=show).values_list("code", flat=True))
    free = next(code for n in count(len(taken) + 1) if (code := f"J{n}") not in taken)
    return EngageForm(data, card=card, code=free)


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
    elif do in ("shut-out", "scribe"):
        demand(by, Deed.PAIR_DEVICES, show)
        (shut_out if do == "shut-out" else name_scribe)(request, show, by, at)
        said, place = "", "phones"
    else:
        raise InvalidInput(_("The page was sent in a way this service does not know."))
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
    return _("{judge} is engaged. Draw the panel to seat them.").format(judge=judge)


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
    return _("Recorded: {judge} does not judge {entry}.").format(
        judge=judge, entry=entry.called
    ) + (" " + _("The panel seats them there; mend it or draw it again.") if seated else "")


def _judge_named(request: HttpRequest, show: Show) -> Judge:
    judges = Judge.objects.select_related("show", "person").filter(show=show)
    judge = judges.filter(pk=number_sent(request.POST.get("judge"))).first()
    if judge is None:
        raise NotFound(_("This show has no such judge."))
    return judge


def _change(request: HttpRequest, show: Show, by: Person, at: datetime) -> None:
    judge = _judge_named(request, show)
    most = request.POST.get("max_seats", "").strip()
    if most and not (most.isdecimal() and len(most) <= LONGEST_LIMIT):
        messages.error(
            request,
            _("{judge} is not changed: the most seats are a whole number.").format(judge=judge),
        )
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
        request,
        _("{judge} is changed. A panel drawn before is mended, or drawn again, to fit.").format(
            judge=judge
        ),
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
        _(
            "{judge} judges no more. Cards handed in still count; mend the panel so that others "
            "take the seats left."
        ).format(judge=judge),
    )


def _page(request: HttpRequest, show: Show, card: Scorecard | None, forms: Forms) -> HttpResponse:
    at = timezone.now()
    roles = roles_of(request.user, show)
    engaged = judges_of(show)
    seated = set(Seat.objects.filter(judge__show=show).values_list("judge_id", "entry_id"))
    conflicts = _conflicts(engaged, seated)
    phones = phone_lines(show, engaged, at=at)
    context = {
        "show": show,
        "here": "judges",
        "refresh_s": REFRESH_S,
        "lines": [_line(judge, card) for judge in engaged],
        "short": _short(show, card) if engaged and card else [],
        "conflicts": conflicts,
        "broken": [line for line in conflicts if line.seated],
        "phones": phones,
        "calling": [phone for phone in phones if phone.call],
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
        sections=_("every section") if every else ", ".join(sections),
        conflicts=", ".join(str(conflict.entry) for conflict in judge.conflicts.all()),
        phones=[device for device in judge.devices.all() if device.revoked_at is None],
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


def _short(show: Show, card: Scorecard) -> list[str]:
    """Say for which sections too few judges are engaged, before a draw fails on it."""
    there = engaged_by_section(show)
    needed = judges_needed(show)
    return [
        _engaged(there[section.code]).format(
            section=section.name, needed=needed[section.code], n=there[section.code]
        )
        for section in card.sections.all()
        if there[section.code] < needed.get(section.code, 0)
    ]


def _engaged(n: int) -> str:
    if not n:
        return _("{section}: each wagon is seen by {needed}, and no judge is engaged for it.")
    return ngettext(
        "{section}: each wagon is seen by {needed}, and {n} judge is engaged for it.",
        "{section}: each wagon is seen by {needed}, and {n} judges are engaged for it.",
        n,
    )
