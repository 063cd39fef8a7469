"""Where somebody comes back to after signing in, or after choosing a language."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import resolve_url
from django.utils.http import url_has_allowed_host_and_scheme

from showrun.language import gettext as _

View = TypeVar("View", bound=Callable[..., HttpResponse])


def is_ours(request: HttpRequest, address: str) -> bool:
    """Say whether an address is one of this service."""
    return url_has_allowed_host_and_scheme(
        address, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )


def way_back(request: HttpRequest) -> str:
    """Return the address of the page somebody is on, which a link can open.

    What a form is sent to may take nothing else; the page it stands on is named by the browser.
    """
    if request.method in ("GET", "HEAD"):
        return request.get_full_path()
    page = request.headers.get("Referer", "")
    if not is_ours(request, page):
        return resolve_url(settings.LOGIN_REDIRECT_URL)
    return urlsplit(page)._replace(scheme="", netloc="", fragment="").geturl()


def with_way_back(request: HttpRequest) -> dict[str, Any]:
    """Let every page's links to sign in, and its choice of a language, know the way back."""
    return {"way_back": way_back(request)}


def signed_in(view: View) -> View:
    """Let in who is signed in; send others to sign in, and tell a page's script that they must."""

    @wraps(view)
    def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.user.is_authenticated:
            return view(request, *args, **kwargs)
        if "application/json" in request.headers.get("Accept", ""):
            told = _("Load this page again; you may have to sign in.")
            return JsonResponse({"detail": told}, status=401)
        return redirect_to_login(way_back(request))

    return cast("View", guarded)
