"""A person's passkeys: the page that lists them, and signing in by one."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from showrun.errors import InvalidInput, ShowError
from showrun.language import gettext as _
from showrun.shows.actions.passkeys import (
    add_passkey,
    name_passkey,
    passkeys_of,
    question_to_add,
    question_to_sign_in,
    remove_passkey,
    use_passkey,
)
from showrun.shows.models import Person
from showrun.shows.queries import person_of
from showrun.shows.rules.passkeys import NAME_MAX
from showrun.shows.web.ceremony import ADD, SIGN_IN, ask, asked, demand_place, place_of
from showrun.shows.web.let_in import let_in
from showrun.shows.web.limits import ASKS_PER_ADDRESS, SPAN_S, client_ip, count_asks, limited
from showrun.shows.web.number_sent import number_sent
from showrun.shows.web.sign_in import SignInForm, safe_next
from showrun.shows.web.way_back import signed_in

BACKEND = "django.contrib.auth.backends.ModelBackend"


def _do(request: HttpRequest, person: Person) -> str:
    did, name = request.POST.get("do", ""), request.POST.get("name", "")
    which = number_sent(request.POST.get("passkey"))
    if did == "add":
        at = timezone.now()
        challenge, place = asked(request, ADD, at), demand_place(request)
        answer = request.POST.get("credential", "")
        added = add_passkey(
            person=person, answer=answer, name=name, place=place, challenge=challenge, at=at
        )
        return _("{name} is added. It signs you in from now on.").format(name=added.name)
    if did == "name":
        passkey = name_passkey(person=person, passkey_id=which, name=name)
        return _("It is called {name} now.").format(name=passkey.name)
    if did == "remove":
        gone = remove_passkey(person=person, passkey_id=which)
        return _(
            "{name} is removed; it signs nobody in any more. Delete it on the device as well."
        ).format(name=gone)
    raise InvalidInput(_("Add, name or remove: choose one of them."))


@never_cache
@signed_in
@limited("passkeys", 30)
def passkeys(request: HttpRequest) -> HttpResponse:
    """List one's passkeys; add, name or remove one."""
    person, fault, status = person_of(request.user), "", 200
    if request.method == "POST":
        try:
            messages.success(request, _do(request, person))
        except ShowError as refused:
            if refused.status == 404:
                raise
            fault, status = refused.detail, refused.status
        else:
            return redirect("shows:passkeys")
    context = {
        "passkeys": passkeys_of(person),
        "passkeys_work": place_of(request) is not None,
        "fault": fault,
        "name_max": NAME_MAX,
    }
    return render(request, "shows/passkeys.html", context, status=status)


def _refusal(fault: ShowError) -> JsonResponse:
    return JsonResponse({"detail": fault.detail}, status=fault.status)


@never_cache
@require_POST
@signed_in
def question_for_new(request: HttpRequest) -> HttpResponse:
    """Give the browser what it needs to make a passkey."""
    try:
        place = demand_place(request)
    except ShowError as fault:
        return _refusal(fault)
    challenge = ask(request, ADD, timezone.now())
    person = person_of(request.user)
    return JsonResponse(question_to_add(person=person, place=place, challenge=challenge))


@never_cache
@require_POST
def question(request: HttpRequest) -> HttpResponse:
    """Give the browser what it needs to sign somebody in; who it is, it says by the passkey."""
    if count_asks(f"passkey {client_ip(request)}") > ASKS_PER_ADDRESS:
        return JsonResponse(
            {"detail": _("Too many tries. Wait ten minutes.")},
            status=429,
            headers={"Retry-After": str(SPAN_S)},
        )
    try:
        place = demand_place(request)
    except ShowError as fault:
        return _refusal(fault)
    challenge = ask(request, SIGN_IN, timezone.now())
    return JsonResponse(question_to_sign_in(place=place, challenge=challenge))


@never_cache
@require_POST
@limited("passkey-sign-in", ASKS_PER_ADDRESS)
def sign_in_by_passkey(request: HttpRequest) -> HttpResponse:
    """Sign in whoever's passkey signed the question; the session is a new one from then on."""
    following, at = safe_next(request), timezone.now()
    try:
        challenge, place = asked(request, SIGN_IN, at), demand_place(request)
        answer = request.POST.get("credential", "")
        person = use_passkey(answer=answer, place=place, challenge=challenge, at=at)
    except ShowError as refused:
        context = {
            "form": SignInForm(auto_id="%s"),
            "next": following,
            "hide_sign_in": True,
            "passkeys_work": place_of(request) is not None,
            "passkey_fault": refused.detail,
        }
        return render(request, "shows/sign_in.html", context, status=refused.status)
    let_in(request, person, backend=BACKEND)
    messages.success(request, _("Signed in as {person}.").format(person=person))
    return redirect(following)
