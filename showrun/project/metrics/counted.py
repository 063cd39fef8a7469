"""What each web process counts by itself; the files it counts in are summed when asked.

prometheus-client keeps one file a process in PROMETHEUS_MULTIPROC_DIR, so that the sum is right
however many processes there are, and counters outlive a process that is replaced.
"""

from __future__ import annotations

from collections.abc import Callable
from time import perf_counter

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.http import HttpRequest, HttpResponse
from prometheus_client import Counter, Histogram

REQUESTS = Counter(
    "showrun_http_requests",
    "Requests answered, by method, by what they asked for and by status.",
    ["method", "asked_for", "status"],
)
SECONDS = Histogram(
    "showrun_http_request_seconds",
    "Seconds from a request's arrival in the process to its answer.",
    ["asked_for"],
    buckets=(0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30),
)
MAILS_FAILED = Counter(
    "showrun_mails_failed", "Mails a web process could not hand to the mail server.", ["mail"]
)
COUNTED = (REQUESTS, SECONDS, MAILS_FAILED)

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")


class CountingMiddleware:
    """Counts every answer; without METRICS_TOKEN, when nobody can ask, it is not there."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        if not settings.METRICS_TOKEN:
            raise MiddlewareNotUsed
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        began = perf_counter()
        response = self.get_response(request)
        what = asked_for(request)
        method = request.method if request.method in METHODS else "other"
        REQUESTS.labels(method, what, str(response.status_code)).inc()
        SECONDS.labels(what).observe(perf_counter() - began)
        return response


def asked_for(request: HttpRequest) -> str:
    """Put an address into one of a dozen groups: an address itself may name somebody."""
    path = request.path_info
    for start, what in (
        (settings.STATIC_URL, "static"),
        ("/api/v1/device/", "device"),
        ("/api/", "api"),
        ("/round/", "round"),
        ("/healthz", "health"),
        ("/readyz", "health"),
        ("/metrics", "metrics"),
    ):
        if path.startswith(start):
            return what
    match = request.resolver_match
    return (match.app_names[0] if match.app_names else "other") if match else "unknown"
