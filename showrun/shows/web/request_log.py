"""Logs each request by its path alone: a sign-in link carries its secret behind the “?”."""

from __future__ import annotations

from django.http import HttpRequest
from django_structlog.middlewares import RequestMiddleware


class PathLogMiddleware(RequestMiddleware):
    """Writes one line when a request starts and one when it ends, without its query."""

    @staticmethod
    def format_request(request: HttpRequest) -> str:
        """Return method and path."""
        return f"{request.method} {request.path}"
