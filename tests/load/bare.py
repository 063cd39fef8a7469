"""The floor of the load: the same framework and server, answering with nothing but the rows.

No page, no right, no rule: a batch is written as it comes, a reader is told one name.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime

from django.db import transaction
from django.http import HttpRequest, JsonResponse
from django.urls import path
from django.views.decorators.csrf import csrf_exempt

from judging.models import RoundEvent
from showrun.shows.models import Show


@csrf_exempt
def write(request: HttpRequest) -> JsonResponse:
    """Write a row an event."""
    sent = json.loads(request.body)
    rows = [
        RoundEvent(
            id=event["id"],
            show_id=sent["show"],
            device_id=sent["device"],
            seq=event["seq"],
            kind=event["kind"],
            body=event,
            body_hash="0" * 64,
            phone_time=event["at"],
            received_at=datetime.now(UTC),
            applied=True,
        )
        for event in sent["events"]
    ]
    with transaction.atomic():
        RoundEvent.objects.bulk_create(rows)
    return JsonResponse({"written": len(rows)})


def read(request: HttpRequest) -> JsonResponse:
    """Read one row."""
    return JsonResponse({"show": Show.objects.only("name").earliest("pk").name})


urlpatterns = [path("write/", write), path("read/", read)]
