"""Pair a phone with a judge by a code that works once; shut a phone out."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from django.db import transaction

from judging.models import Device, Judge, PairingCode
from judging.queries.devices import hash_of
from showrun.errors import Gone, NotFound
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

# No letters or digits that are mistaken for one another when read aloud.
ALPHABET = "ABCDEFGHJKMNPQRTUVWXY346789"
CODE_LENGTH = 8
VALID_FOR = timedelta(minutes=60)


def _plain(code: str) -> str:
    return "".join(c for c in code.upper() if c.isalnum())


@transaction.atomic
def make_pairing_code(
    *, judge: Judge, by: Person | None, at: datetime, valid_for: timedelta = VALID_FOR
) -> tuple[PairingCode, str]:
    """Make a new code; it is shown once and kept only as a hash."""
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    kept = PairingCode.objects.create(
        judge=judge, code_hash=hash_of(code), made_by=by, made_at=at, expires_at=at + valid_for
    )
    record_change(
        show=judge.show, actor=by, at=at, verb="made", subject=f"a pairing code for {judge}"
    )
    return kept, f"{code[:4]}-{code[4:]}"


@transaction.atomic
def pair_device(*, code: str, label: str, at: datetime) -> tuple[Device, str]:
    """Use up the code; return the phone and the token it will show from now on."""
    kept = (
        PairingCode.objects.select_for_update()
        .filter(code_hash=hash_of(_plain(code)))
        .select_related("judge__show", "judge__person")
        .first()
    )
    if kept is None:
        raise NotFound(
            "This code is not known. Check the letters, or ask the office for a new one.",
            code="pairing-unknown",
        )
    if kept.used_at:
        raise Gone("This code was used already. Ask the office for a new one.", code="pairing-used")
    if kept.expires_at < at:
        raise Gone("This code has run out. Ask the office for a new one.", code="pairing-expired")
    kept.used_at = at
    kept.save(update_fields=["used_at"])
    token = secrets.token_urlsafe(32)
    device = Device.objects.create(
        judge=kept.judge,
        token_hash=hash_of(token),
        label=label.strip()[:80],
        paired_at=at,
        last_seen_at=at,
    )
    record_change(
        show=kept.judge.show,
        actor=kept.judge.person,
        at=at,
        verb="paired",
        subject=f"{device} with {kept.judge}",
        device=str(device),
    )
    return device, token


@transaction.atomic
def shut_out_device(*, device: Device, by: Person | None, at: datetime, reason: str) -> Device:
    """Stop taking anything from the phone; what it sent before stays."""
    if device.revoked_at is None:
        device.revoked_at = at
        device.save(update_fields=["revoked_at"])
        record_change(
            show=device.judge.show,
            actor=by,
            at=at,
            verb="shut out",
            subject=f"{device} of {device.judge}",
            reason=reason,
        )
    return device
