"""Signing in by a link sent to one's e-mail, once; and signing out."""

from __future__ import annotations

import logging
from urllib.parse import urlencode

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.core.mail import send_mail
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe
from sesame.utils import get_parameters, get_user

from showrun.language import gettext as _
from showrun.language import ngettext
from showrun.shows.actions.sign_out import sign_out_everywhere
from showrun.shows.models import Person
from showrun.shows.queries import person_of
from showrun.shows.web.ceremony import place_of
from showrun.shows.web.joining import joining_token
from showrun.shows.web.let_in import let_in
from showrun.shows.web.limits import ASKS_PER_ADDRESS, SPAN_S, client_ip, count_asks, limited
from showrun.shows.web.office_form import OfficeForm
from showrun.shows.web.way_back import is_ours, signed_in

log = logging.getLogger(__name__)

ASKS_ALLOWED = 5


class SignInForm(OfficeForm):
    """The e-mail the link goes to."""

    email = forms.EmailField(
        max_length=254,
        error_messages={
            "required": gettext_lazy("Your e-mail address, please."),
            "invalid": gettext_lazy(
                "That is not a whole e-mail address, such as cook@example.org."
            ),
        },
    )


def safe_next(request: HttpRequest, field: str = "next") -> str:
    """Return where to go after signing in: an address of this service, or the start."""
    wanted = request.POST.get(field) or request.GET.get(field) or ""
    return wanted if is_ours(request, wanted) else resolve_url(settings.LOGIN_REDIRECT_URL)


def link_lasts() -> str:
    """Say how long a link stays good."""
    minutes = settings.SESAME_MAX_AGE // 60
    if minutes < 120:
        return ngettext("{n} minute", "{n} minutes", minutes).format(n=minutes)
    return _("{n} hours").format(n=minutes // 60)


def _asked_too_often(request: HttpRequest, email: str) -> bool:
    address = client_ip(request)
    by_both, by_address = count_asks(f"{address} {email}"), count_asks(address)
    return by_both > ASKS_ALLOWED or by_address > ASKS_PER_ADDRESS


def _too_often(request: HttpRequest) -> HttpResponse:
    context = {
        "title": _("Too many requests"),
        "detail": _(
            "Links were asked for many times in a few minutes. Look through your mail, "
            "the folder for unwanted mail as well, and ask again in ten minutes."
        ),
        "status": 429,
    }
    answer = render(request, "refusal.html", context, status=429)
    answer["Retry-After"] = str(SPAN_S)
    return answer


def _mail_link(request: HttpRequest, email: str, following: str) -> None:
    person = Person.objects.filter(email__iexact=email).first()
    if person is not None and not person.is_active:
        return
    if person is not None:
        path, query = reverse("shows:sign-in-link"), get_parameters(person)
    else:
        path, query = reverse("shows:join"), {"token": joining_token(email)}
    query["next"] = following
    context = {
        "person": person,
        "link": request.build_absolute_uri(f"{path}?{urlencode(query)}"),
        "lasts": link_lasts(),
    }
    text = render_to_string("shows/sign_in_mail.txt", context)
    try:
        send_mail(_("Your sign-in link"), text, None, [email])
    except OSError:
        # The answer on the page is the same for everybody, so the failure is told here only.
        log.exception("sign-in link could not be mailed")


@never_cache
def sign_in(request: HttpRequest) -> HttpResponse:
    """Ask for an e-mail; send a link there; say the same whether it is known or not."""
    following = safe_next(request)
    if request.user.is_authenticated and request.method != "POST":
        return redirect(following)
    form = SignInForm(request.POST or None, auto_id="%s")
    status = 200
    if request.method == "POST":
        if form.is_valid():
            email = form.cleaned_data["email"].lower()
            if _asked_too_often(request, email):
                return _too_often(request)
            _mail_link(request, email, following)
            request.session["link_sent_to"] = email
            return redirect("shows:sign-in-sent")
        status = 422
    context = {
        "form": form,
        "next": following,
        "hide_sign_in": True,
        "passkeys_work": place_of(request) is not None,
    }
    return render(request, "shows/sign_in.html", context, status=status)


@never_cache
@require_safe
def sent(request: HttpRequest) -> HttpResponse:
    """Say that a link is on its way."""
    context = {
        "email": request.session.get("link_sent_to", ""),
        "lasts": link_lasts(),
        "hide_sign_in": True,
    }
    return render(request, "shows/sign_in_sent.html", context)


@never_cache
@limited("sign-in-link", ASKS_PER_ADDRESS)
def sign_in_link(request: HttpRequest) -> HttpResponse:
    """Show a button on GET, sign in on POST; a link works once."""
    following = safe_next(request)
    if request.method == "POST":
        token = request.POST.get("sesame", "")
    else:
        token = request.GET.get("sesame", "")
    # let_in() below renews the last sign-in itself, and that is what uses the link up; so a
    # mail program that opens the link only to look at it leaves it good.
    person = get_user(token, update_last_login=False)
    if not isinstance(person, Person):
        context = {"next": following, "hide_sign_in": True}
        return render(request, "shows/link_gone.html", context, status=410)
    if request.method != "POST":
        context = {"person": person, "token": token, "next": following, "hide_sign_in": True}
        return render(request, "shows/sign_in_link.html", context)
    let_in(request, person)
    messages.success(request, _("Signed in as {person}.").format(person=person))
    return redirect(following)


@require_POST
@signed_in
def everywhere(request: HttpRequest) -> HttpResponse:
    """End this session and every other of the person, on whatever device."""
    sign_out_everywhere(person_of(request.user))
    logout(request)
    messages.success(request, _("Signed out everywhere."))
    return redirect(settings.LOGOUT_REDIRECT_URL)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the session."""
    logout(request)
    messages.success(request, _("Signed out."))
    return redirect(settings.LOGOUT_REDIRECT_URL)
