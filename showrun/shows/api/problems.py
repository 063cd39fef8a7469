"""Errors of the API as RFC 9457 problem details, with stable types."""

from __future__ import annotations

from typing import Any

import structlog
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.views import defaults
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler, set_rollback

from showrun.errors import ShowError

log = structlog.get_logger(__name__)
MEDIA_TYPE = "application/problem+json"


def problem(
    *, status: int, code: str, title: str, detail: str, headers: dict[str, str], **more: Any
) -> Response:
    """Build the answer; `code` is the last part of the type's address."""
    body = {"type": f"/problems/{code}", "title": title, "status": status, "detail": detail}
    return Response(
        {**body, "code": code, **more}, status=status, headers=headers, content_type=MEDIA_TYPE
    )


def problem_details(fault: Exception, context: dict[str, Any]) -> Response | None:
    """Answer every fault of an API view in one shape."""
    if isinstance(fault, ShowError):
        set_rollback()
        more: dict[str, Any] = dict(fault.facts)
        if fault.fields:
            # the same shape as that of the serializers: sentences by field
            more["errors"] = {field: [sentence] for field, sentence in fault.fields.items()}
        return problem(
            status=fault.status,
            code=fault.code,
            title=fault.title,
            detail=fault.detail,
            headers={},
            **more,
        )
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
            title="Something in the request needs mending",
            detail="See the fields named.",
            headers=headers,
            errors=fault.detail,
        )
    code = str(getattr(fault, "default_code", "error")).replace("_", "-")
    codes = fault.get_codes()
    if isinstance(codes, str):
        code = codes.replace("_", "-")
    return problem(
        status=plain.status_code,
        code=code,
        title=code.replace("-", " ").capitalize(),
        detail=str(fault.detail),
        headers=headers,
    )


def server_error(request: HttpRequest) -> HttpResponse:
    """Answer a fault of ours: programs in the API's shape, people with a page."""
    if not request.path.startswith("/api/"):
        return defaults.server_error(request)
    body = {
        "type": "/problems/server-error",
        "title": "A fault on our side",
        "status": 500,
        "detail": "Something broke here. Nothing you sent before is lost; send this again later.",
        "code": "server-error",
    }
    return JsonResponse(body, status=500, content_type=MEDIA_TYPE)


def not_found(request: Any, exception: Exception | None = None) -> JsonResponse:
    """Answer an unknown address under /api/ in the same shape."""
    body = {
        "type": "/problems/not-found",
        "title": "Not found",
        "status": 404,
        "detail": "There is nothing at this address.",
        "code": "not-found",
    }
    return JsonResponse(body, status=404, content_type=MEDIA_TYPE)
