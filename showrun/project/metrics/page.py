"""`/metrics`: all figures in the text format of Prometheus, for whoever has the token."""

from __future__ import annotations

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.values import ValueClass

from showrun.project.metrics.counted import COUNTED
from showrun.project.metrics.machine import Machine
from showrun.project.metrics.show_day import ShowDay


@never_cache
def metrics(request: HttpRequest) -> HttpResponse:
    """Answer with every figure; where no token is set there is no such address."""
    if not settings.METRICS_TOKEN:
        raise Http404
    if request.method not in {"GET", "HEAD"}:
        return HttpResponseNotAllowed(["GET", "HEAD"])
    given = request.headers.get("Authorization", "")
    if not constant_time_compare(given, f"Bearer {settings.METRICS_TOKEN}"):
        return HttpResponse(
            "A token is needed.\n",
            status=401,
            content_type="text/plain",
            headers={"WWW-Authenticate": "Bearer"},
        )
    registry = CollectorRegistry()
    if ValueClass._multiprocess:
        MultiProcessCollector(registry)  # type: ignore[no-untyped-call]
    else:
        for one in COUNTED:
            registry.register(one)
    registry.register(ShowDay(timezone.now()))
    registry.register(Machine())
    return HttpResponse(generate_latest(registry), content_type=CONTENT_TYPE_PLAIN_0_0_4)
