"""Is the process alive, and can it work?"""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from showrun.shows.web.standing import faults


@never_cache
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """The process answers; nothing else is asked."""
    return JsonResponse({"status": "ok"})


@never_cache
@require_safe
def ready(request: HttpRequest) -> JsonResponse:
    """Say what is wrong; refuse work only where it could not be done."""
    found = faults()
    if not found:
        return JsonResponse({"status": "ok"})
    stopped = any(fault.stops for fault in found)
    told = {
        "status": "not ready" if stopped else "degraded",
        "wrong": [fault.words for fault in found],
    }
    return JsonResponse(told, status=503 if stopped else 200)
