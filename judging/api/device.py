"""What a judge's phone calls: pair, fetch the round, send events."""

from __future__ import annotations

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.throttling import ScopedRateThrottle

from judging.actions.pair_device import judge_of_code, pair_device
from judging.actions.record_events import record_events
from judging.api.authentication import (
    AnyDeviceAuthentication,
    DeviceAuthentication,
    IsDevice,
    phone_of,
)
from judging.api.round_shapes import CodeOut, PairedOut, RoundOut
from judging.api.serializers import BatchIn, BatchOut, CodeIn, PairIn
from judging.models import Device, Judge
from judging.queries.round import round_bundle
from judging.rules.round.clock import read_moment
from judging.rules.round.events import BATCH_MAX
from showrun.errors import ShowError
from showrun.language import in_english
from showrun.shows.api.body import read_body
from showrun.shows.api.described import refuses
from showrun.shows.api.throttles import ByAddress
from showrun.shows.api.view import View, etag_of


class BatchTooLarge(ShowError):
    """More events than one batch may carry."""

    status = 413
    code = "batch-too-large"
    title = "Too many events at once"


class PairingThrottle(ByAddress, ScopedRateThrottle):
    """Counts strangers by their address, as often as the view's scope allows."""


class Pair(View):
    """Use up a code; the token comes back once."""

    authentication_classes = ()
    permission_classes = (AllowAny,)
    throttle_classes = (PairingThrottle,)
    throttle_scope = "pairing"

    @extend_schema(request=PairIn, responses={201: PairedOut}, auth=[])
    @refuses("pairing-unknown", "pairing-used", "pairing-expired")
    def post(self, request: Request) -> Response:
        given = read_body(PairIn, request)
        device, token = pair_device(at=timezone.now(), **given)
        body = {
            "token": token,
            "device": {"id": device.pk, "label": device.label, "scribe": device.scribe},
            **_whose(device.judge),
        }
        return Response(body, status=201)


class Code(View):
    """Say whose phone a code would make, so that a judge's phone asks before it is another's.

    The code stays unused.
    """

    authentication_classes = ()
    permission_classes = (AllowAny,)
    throttle_classes = (PairingThrottle,)
    throttle_scope = "pairing"

    @extend_schema(request=CodeIn, responses={200: CodeOut}, auth=[])
    @refuses("pairing-unknown", "pairing-used", "pairing-expired")
    def post(self, request: Request) -> Response:
        given = read_body(CodeIn, request)
        return Response(_whose(judge_of_code(at=timezone.now(), **given)))


def _whose(judge: Judge) -> dict[str, dict[str, str]]:
    return {
        "judge": {"code": judge.code, "name": judge.person.name},
        "show": {"slug": judge.show.slug, "name": judge.show.name},
    }


class Round(View):
    """All a judge needs on the phone: visits, card, own marks, questions."""

    authentication_classes = (DeviceAuthentication,)
    permission_classes = (IsDevice,)
    throttle_classes = ()  # a phone that has its signal back asks as often as it must

    @extend_schema(responses=RoundOut)
    @refuses("not-yet")
    def get(self, request: Request) -> Response:
        device = phone_of(request)
        now = timezone.now()
        Device.objects.filter(pk=device.pk).update(last_seen_at=now)
        bundle = round_bundle(device, at=now)
        lasting = {key: value for key, value in bundle.items() if key != "server_time"}
        return Response(bundle, headers={"ETag": etag_of(lasting)})


class Events(View):
    """Take a batch of events; each is answered on its own.

    Of a phone that was shut out all are kept for the office.
    """

    authentication_classes = (AnyDeviceAuthentication,)
    permission_classes = (IsDevice,)
    throttle_classes = ()  # no mark waits because many came at once

    @extend_schema(
        request=BatchIn,
        responses=BatchOut,
        auth=[{"device": []}],  # type: ignore[list-item]
    )
    @refuses("batch-too-large")
    def post(self, request: Request) -> Response:
        given = read_body(BatchIn, request)
        events = given["events"]
        if len(events) > BATCH_MAX:
            raise BatchTooLarge(f"At most {BATCH_MAX} events at once; {len(events)} were sent.")
        now, phone = timezone.now(), phone_of(request)
        # Why a touch waits is kept with it, for every reader: the phone has its own words by code.
        with in_english():
            outcomes, desk = record_events(
                device=phone,
                events=events,
                unsent=given["unsent"],
                battery_percent=given["battery_percent"],
                sent_at=read_moment(given["sent_at"]),
                at=now,
            )
        # Also where it was shut out after it was let in.
        shut_out = phone.is_shut_out
        told = {} if shut_out else desk.open
        cards = {
            str(entry_id): {
                "hash": here.hash(),
                "marks": len(here.values()),
                "handed_in": here.card.handed_in_at is not None,
            }
            for entry_id, here in told.items()
        }
        results = [
            {"id": o.id, "status": o.status, "code": o.code, "reason": o.reason} for o in outcomes
        ]
        body = {"server_time": now.isoformat(), "shut_out": shut_out}
        return Response({**body, "results": results, "cards": cards})
