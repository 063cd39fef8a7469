"""What is read of judges' phones."""

from __future__ import annotations

import hashlib

from judging.models import Device


def hash_of(secret: str) -> str:
    """Return what is kept of a pairing code or a token; the secret itself is not."""
    return hashlib.sha256(secret.encode()).hexdigest()


def device_by_token(token: str) -> Device | None:
    """Return the phone that was given this token."""
    found = Device.objects.select_related("judge__person")
    return found.filter(token_hash=hash_of(token)).first()
