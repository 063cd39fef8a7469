"""A paired phone shows its token; it needs no cookie and has no other right."""

from __future__ import annotations

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.views import APIView

from judging.models import Device
from judging.queries.devices import device_by_token
from showrun.shows.models import Person


class DeviceAuthentication(BaseAuthentication):
    """`Authorization: Bearer <token>`."""

    lets_shut_out_in = False

    def authenticate(self, request: Request) -> tuple[Person, Device] | None:
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != b"bearer":
            return None
        if len(words) != 2:
            raise AuthenticationFailed("The token is missing.", code="device-unknown")
        device = device_by_token(words[1].decode("ascii", "replace"))
        if device is None:
            raise AuthenticationFailed(
                "This phone is not paired. Ask the office for a code.", code="device-unknown"
            )
        if device.is_shut_out and not self.lets_shut_out_in:
            raise AuthenticationFailed(
                "This phone was shut out by the office. What it sends is kept for the office.",
                code="device-shut-out",
            )
        return device.judge.person, device

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="round"'


class AnyDeviceAuthentication(DeviceAuthentication):
    """The same for a phone that was shut out too: it may tell what it holds, and change nothing."""

    lets_shut_out_in = True


class IsDevice(BasePermission):
    """Only a paired phone."""

    def has_permission(self, request: Request, view: APIView) -> bool:
        return isinstance(request.auth, Device)


def phone_of(request: Request) -> Device:
    """Return the phone asking; `IsDevice` has let it in."""
    phone: object = request.auth
    if not isinstance(phone, Device):
        raise AuthenticationFailed("This phone is not paired.", code="device-unknown")
    return phone


class DeviceScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """Describes the token in the API's description."""

    target_class = DeviceAuthentication
    name = "device"

    def get_security_definition(self, auto_schema: object) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer", "description": "Given once, on pairing."}
