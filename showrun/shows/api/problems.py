"""Errors of the API as RFC 9457 problem details, with stable types."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.views import defaults
from django.views.decorators.csrf import csrf_exempt
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.settings import api_settings
from rest_framework.views import exception_handler, set_rollback

from showrun.errors import ShowError
from showrun.language import gettext as _
from showrun.language import gettext_noop as N_
from showrun.shows.api.parsers import BodyTooLarge
from showrun.shows.api.problem_types import TYPES

MEDIA_TYPE = "application/problem+json"
# The database is gone, or its disk is full: it comes again, and nobody has to mend the service.
PASSING = (OperationalError, InterfaceError)
CANNOT_KEEP = N_(
    "Our records cannot be reached or written at the moment. Whatever was shown "
    "as saved is saved, and marks stay on the judges' phones until they are."
)
COME_AGAIN_S = 10


def body_of(*, status: int, code: str, detail: str, **more: Any) -> dict[str, Any]:
    """Return the members of a problem; its title is always that of its type."""
    kind = TYPES.get(code, TYPES["refused"])
    body = {"type": kind.uri(code), "title": _(kind.title), "status": status, "detail": detail}
    return {**body, "code": code, **more}


def problem(
    *, status: int, code: str, detail: str, headers: Mapping[str, str] | None = None, **more: Any
) -> Response:
    """Build the answer; `code` is the last part of the type's address."""
    body = body_of(status=status, code=code, detail=detail, **more)
    return Response(body, status=status, headers=headers, content_type=MEDIA_TYPE)


def problem_details(fault: Exception, context: dict[str, Any]) -> Response | None:
    """Answer every fault of an API view in one shape."""
    if isinstance(fault, RequestDataTooBig):
        fault = BodyTooLarge(_("That is more than anything we take needs."))
    if isinstance(fault, ShowError):
        set_rollback()
        more: dict[str, Any] = dict(fault.facts)
        if fault.fields:
            # the same shape as that of the serializers: sentences by field
            more["errors"] = {field: [sentence] for field, sentence in fault.fields.items()}
        headers = {"Retry-After": str(more["retry_after_s"])} if "retry_after_s" in more else None
        return problem(
            status=fault.status, code=fault.code, detail=fault.detail, headers=headers, **more
        )
    if isinstance(fault, SuspiciousOperation):
        fault = exceptions.ParseError(_("This request cannot be read: {fault}").format(fault=fault))
    if isinstance(fault, Http404):
        fault = exceptions.NotFound()
    elif isinstance(fault, PermissionDenied):
        fault = exceptions.PermissionDenied()
    plain = exception_handler(fault, context)
    if plain is None or not isinstance(fault, exceptions.APIException):
        return None
    headers = {k: v for k, v in plain.headers.items() if k in ("WWW-Authenticate", "Retry-After")}
    if isinstance(fault, exceptions.ValidationError):
        return problem(
            status=422,
            code="invalid-input",
            detail=_("See the fields named."),
            headers=headers,
            errors=_by_path(fault.detail),
        )
    if isinstance(fault, exceptions.MethodNotAllowed):
        headers["Allow"] = ", ".join(context["view"].allowed_methods)
    codes = fault.get_codes()
    return problem(
        status=plain.status_code,
        code=str(codes if isinstance(codes, str) else fault.default_code).replace("_", "-"),
        detail=str(fault.detail),
        headers=headers,
    )


def _by_path(detail: Any, path: str = "") -> dict[str, list[str]]:
    """Return sentences by the place in what was sent, such as `crew.1.name`; flat at any depth."""
    if isinstance(detail, list) and not any(isinstance(one, dict | list) for one in detail):
        return {path: [str(one) for one in detail]} if detail else {}
    inner = detail if isinstance(detail, dict) else dict(enumerate(detail))
    found: dict[str, list[str]] = {}
    for name, below in inner.items():
        if name == api_settings.NON_FIELD_ERRORS_KEY:
            found |= _by_path(below, path or "body")
        else:
            found |= _by_path(below, f"{path}.{name}" if path else str(name))
    return found


def _plain(status: int, code: str, detail: str) -> JsonResponse:
    body = body_of(status=status, code=code, detail=detail)
    return JsonResponse(body, status=status, content_type=MEDIA_TYPE)


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer a fault of ours: programs in the API's shape, people with a page."""
    if isinstance(sys.exc_info()[1], PASSING):
        return _unavailable(request)
    if not request.path.startswith("/api/"):
        return defaults.server_error(request)
    sentence = _("Something broke here. Nothing you sent before is lost; send this again later.")
    return _plain(500, "server-error", sentence)


def _unavailable(request: HttpRequest) -> HttpResponse:
    """Say that it passes, with no word to the database that is gone."""
    if request.path.startswith("/api/"):
        answer: HttpResponse = _plain(
            503, "unavailable", _(CANNOT_KEEP) + " " + _("Send this again later.")
        )
    else:
        page = render_to_string("503.html", {"detail": _(CANNOT_KEEP)})
        answer = HttpResponse(page, status=503)
    answer["Retry-After"] = str(COME_AGAIN_S)
    return answer


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer what Django itself cannot read."""
    if not request.path.startswith("/api/"):
        return defaults.bad_request(request, exception)
    return _plain(400, "parse-error", _("This request cannot be read."))


@csrf_exempt  # nothing is done here; a program reads the same refusal with a token or without
def not_found(request: Any, exception: Exception | None = None) -> JsonResponse:
    """Answer an unknown address under /api/ in the same shape."""
    return _plain(404, "not-found", _("There is nothing at this address."))
