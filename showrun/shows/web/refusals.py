"""Turns a refusal raised by a page into a page that says so plainly."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from showrun.errors import ShowError, TooOften
from showrun.language import gettext as _


class RefusalMiddleware:
    """Pages raise `ShowError`; people read its sentence under its status."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, fault: Exception) -> HttpResponse | None:
        """Answer a `ShowError`; leave everything else to Django."""
        if not isinstance(fault, ShowError):
            return None
        context = {"title": _(fault.title), "detail": fault.detail, "status": fault.status}
        answer = render(request, "refusal.html", context, status=fault.status)
        if isinstance(fault, TooOften):
            answer["Retry-After"] = str(fault.retry_after_s)
        return answer
