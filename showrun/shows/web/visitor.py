"""Whose address a request comes from, where a proxy stands before the web server."""

from __future__ import annotations

import ipaddress
from collections.abc import Callable

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.http import HttpRequest, HttpResponse


class VisitorMiddleware:
    """Takes the address that our outermost proxy wrote down for the one that connects.

    Each proxy adds whom it heard from at the end of `X-Forwarded-For`; what stands before those
    entries anybody may have written. Without proxies the header is not read.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        self.proxies: int = settings.PROXIES_BEFORE
        if self.proxies < 1:
            raise MiddlewareNotUsed

    def __call__(self, request: HttpRequest) -> HttpResponse:
        hops = request.headers.get("X-Forwarded-For", "").split(",")
        if len(hops) >= self.proxies:
            try:
                visitor = ipaddress.ip_address(hops[-self.proxies].strip())
            except ValueError:
                pass  # no proxy of ours writes such a thing
            else:
                request.META["REMOTE_ADDR"] = str(visitor)
        return self.get_response(request)
