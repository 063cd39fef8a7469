"""Headers every answer carries beside those of Django and of the content policy."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

# A photo is taken by the phone's own camera program: no page of ours asks for the camera.
PERMISSIONS = ", ".join(
    (
        *(f"{name}=()" for name in ("camera", "microphone", "geolocation", "payment", "usb")),
        *(f"{name}=()" for name in ("serial", "display-capture")),
        *(f"publickey-credentials-{name}=(self)" for name in ("get", "create")),
    )
)


class HeadersMiddleware:
    """Says what a page may use of the device, and that no other site may load our answers."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        answer = self.get_response(request)
        answer.headers.setdefault("Permissions-Policy", PERMISSIONS)
        answer.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return answer
