"""What the doors of passkeys share: the address, and a question kept until it is answered once."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.http import HttpRequest
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url, generate_challenge

from showrun.errors import Conflict, Gone
from showrun.language import gettext as _
from showrun.shows.rules.passkeys import Place, passkey_place, still_good

KEPT = "passkey_question"
ADD, SIGN_IN = "add", "sign in"


def place_of(request: HttpRequest) -> Place | None:
    """Return where passkeys work, None at an address where they cannot.

    `get_host` holds what was asked for against `ALLOWED_HOSTS`.
    """
    return passkey_place(
        public_url=str(settings.PUBLIC_URL),
        scheme=request.scheme or "",
        host=request.get_host(),
    )


def demand_place(request: HttpRequest) -> Place:
    """Return where passkeys work, or say that they do not here."""
    place = place_of(request)
    if place is None:
        raise Conflict(_("Passkeys do not work at this address. Use a link by e-mail."))
    return place


def ask(request: HttpRequest, purpose: str, at: datetime) -> bytes:
    """Return a new question; only the last one asked in a session counts."""
    challenge = generate_challenge()
    request.session[KEPT] = {
        "for": purpose,
        "challenge": bytes_to_base64url(challenge),
        "at": at.isoformat(),
    }
    return challenge


def asked(request: HttpRequest, purpose: str, at: datetime) -> bytes:
    """Return the question that was asked, which is used up by it, or say that there is none."""
    kept = request.session.pop(KEPT, None)
    if kept:
        # Saved at once: an answer that is refused has used its question up all the same.
        request.session.save()
    if not kept or kept["for"] != purpose:
        raise Gone(_("This was answered already, or never asked. Try again."))
    if not still_good(asked_at=datetime.fromisoformat(kept["at"]), at=at):
        raise Gone(_("This took longer than five minutes. Try again."))
    return base64url_to_bytes(kept["challenge"])
