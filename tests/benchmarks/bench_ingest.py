"""A batch of 40 marks through the phone's door, beside a bare view writing the same rows.

The bare view is one of the same framework that looks the token up and writes; it checks
nothing. A view with neither framework nor token is told beside it.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.test import Client, override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import include, path
from django.views.decorators.csrf import csrf_exempt
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from entries.models import Entry
from judging.api.authentication import DeviceAuthentication
from judging.models import Card, CardMark, Criterion, Device, RoundEvent
from judging.rules.round.events import BATCH_MAX
from tests.benchmarks.big_show import seated_show
from tests.benchmarks.measure import Bound, Row, paired
from tests.judged_show import AT, card_events, judge_of, mark, pair, rows_of, send

NAME = "ingest"
WAGONS = 40
REPEATS = 25
AT_MOST = 2.0


@dataclass(frozen=True)
class Known:
    """What the bare views know without asking."""

    device: Device
    show_id: int
    cards: dict[int, int]
    rows: dict[str, int]


_bare: list[Known] = []


def _write(events: list[dict[str, Any]]) -> list[str]:
    """Write the rows and ask nothing: whose they are, what stands, whether they came before."""
    known = _bare[0]
    kept = [
        RoundEvent(
            id=event["id"],
            show_id=known.show_id,
            device=known.device,
            seq=event["seq"],
            kind=event["kind"],
            body=event,
            body_hash="0" * 64,
            phone_time=event["at"],
            received_at=AT,
            applied=True,
        )
        for event in events
    ]
    marks = [
        CardMark(
            card_id=known.cards[event["entry"]],
            criterion_id=known.rows[event["criterion"]],
            state=event["state"],
            value=Decimal(event["value"]),
            device=known.device,
            seq=event["seq"],
            event=row,
        )
        for event, row in zip(events, kept, strict=True)
    ]
    with transaction.atomic():
        RoundEvent.objects.bulk_create(kept)
        CardMark.objects.bulk_create(marks)
    return [event["id"] for event in events]


class Bare(APIView):
    """The framework, the token looked up, the rows written."""

    authentication_classes = (DeviceAuthentication,)
    permission_classes = (AllowAny,)

    def post(self, request: Request) -> Response:
        sent: Any = request.data
        return Response({"results": _write(sent["events"])})


@csrf_exempt
def barest(request: HttpRequest) -> HttpResponse:
    """Not even the framework: anybody may write."""
    return JsonResponse({"results": _write(json.loads(request.body)["events"])})


OURS, BARE, BAREST = "/api/v1/device/events", "/bare/", "/barest/"
urlpatterns = [
    path(BARE[1:], Bare.as_view()),
    path(BAREST[1:], barest),
    path("", include("showrun.project.urls")),
]


class Phone:
    """A phone half-way through the show, with 40 more marks to send, over and over."""

    def __init__(self) -> None:
        show = seated_show("ingest", WAGONS)
        judge = judge_of(show, "J1")
        device, token = pair(judge)
        seats = judge.seats.order_by().values("entry")
        wagons = list(Entry.objects.filter(pk__in=seats).order_by("number"))
        half = len(wagons) // 2
        send(device, [event for entry in wagons[:half] for event in card_events(judge, entry)])
        self.marks = [
            mark(entry, row.code, 7) for entry in wagons[half:] for row in rows_of(judge, entry)
        ][:BATCH_MAX]
        self.seq = 1_000_000
        self.client = Client(HTTP_AUTHORIZATION=f"Bearer {token}")
        self.stored = CardMark.objects.count()
        another = judge_of(show, "J2")
        entries = {told["entry"] for told in self.marks}
        cards = {pk: Card.objects.create(judge=another, entry_id=pk).pk for pk in entries}
        _bare[:] = [
            Known(device, show.pk, cards, dict(Criterion.objects.values_list("code", "pk")))
        ]
        self.events = set(RoundEvent.objects.values_list("pk", flat=True))
        self.cards = set(Card.objects.values_list("pk", flat=True))

    def post(self, address: str) -> None:
        """Send the marks as a fresh batch: new ids and counts."""
        events = []
        for told in self.marks:
            self.seq += 1
            own = {"id": str(uuid.uuid4()), "seq": self.seq, "at": AT.isoformat()}
            events.append({**own, **told})
        body = json.dumps({"unsent": 0, "events": events})
        answer = self.client.post(address, body, content_type="application/json")
        assert answer.status_code == 200, answer.content

    def put_back(self) -> None:
        """See that the batch wrote one row a mark, then take away what it has written."""
        assert CardMark.objects.count() == self.stored + len(self.marks)
        new = RoundEvent.objects.exclude(pk__in=self.events)
        CardMark.objects.filter(event__in=new).delete()
        assert new.delete()[0] == len(self.marks)
        Card.objects.exclude(pk__in=self.cards).delete()


def rows() -> Iterator[Row]:
    """Measure the batch."""
    with override_settings(ROOT_URLCONF=__name__):
        phone = Phone()
        with CaptureQueriesContext(connection) as asked:
            phone.post(OURS)
            queries = len(asked)
        phone.put_back()
        found, without = (
            paired(
                lambda: phone.post(OURS),
                lambda floor=floor: phone.post(floor),  # type: ignore[misc]
                repeats=REPEATS,
                after_ours=phone.put_back,
                after_floor=phone.put_back,
            )
            for floor in (BARE, BAREST)
        )
    yield Row(
        NAME,
        f"take a batch of {BATCH_MAX} marks; bare view doing the same inserts",
        found.ours_ms,
        found.floor_ms,
        found.ratio,
        (Bound("ratio", found.ratio, AT_MOST),),
        f"{queries} queries; {phone.stored} marks of this judge there before; "
        f"{without.ratio:.2f} times a view with no framework and no token",
    )
