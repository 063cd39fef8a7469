"""Pair a phone with a judge by a code that works once; shut a phone out, or replace it."""

from __future__ import annotations

import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Q, QuerySet

from judging.models import Device, Judge, PairingCode
from judging.queries.devices import hash_of, in_use
from showrun.errors import Conflict, Gone, InvalidInput, NotFound
from showrun.language import gettext as _
from showrun.shows.actions.record import record_change
from showrun.shows.models import Person

# No letters or digits that are mistaken for one another when read aloud.
ALPHABET = "ABCDEFGHJKMNPQRTUVWXY346789"
CODE_LENGTH = 8
VALID_FOR = timedelta(minutes=60)
LONGEST_SCRIBE = 80  # letters


def _plain(code: str) -> str:
    return "".join(c for c in code.upper() if c.isalnum())


def _scribe(judge: Judge, name: str) -> str:
    """Return the scribe's name as it is kept; empty, the judge keys."""
    name = " ".join(name.split())
    if len(name) > LONGEST_SCRIBE:
        raise InvalidInput(
            _("A scribe's name has at most {longest} letters.").format(longest=LONGEST_SCRIBE),
            fields={
                "scribe": _("At most {longest} letters, please.").format(longest=LONGEST_SCRIBE)
            },
        )
    if name.casefold() == " ".join(judge.person.name.split()).casefold():
        raise InvalidInput(
            _("{name} is the judge. Name a scribe only where another person keys.").format(
                name=name
            ),
            fields={"scribe": _("Leave it empty where the judge keys.")},
        )
    return name


@transaction.atomic
def make_pairing_code(
    *,
    judge: Judge,
    scribe: str = "",
    takes_place: bool = False,
    by: Person | None,
    at: datetime,
    valid_for: timedelta = VALID_FOR,
) -> tuple[PairingCode, str]:
    """Make a new code; it is shown once and kept only as a hash.

    `scribe` is who will key for the judge on that phone; empty, the judge does. With `takes_place`
    the phones the judge has now are shut out, once another is paired by the code.
    """
    scribe = _scribe(judge, scribe)
    before = [str(phone) for phone in in_use(judge)] if takes_place else []
    code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
    kept = PairingCode.objects.create(
        judge=judge,
        code_hash=hash_of(code),
        made_by=by,
        made_at=at,
        expires_at=at + valid_for,
        scribe=scribe,
        takes_place=bool(before),
    )
    noted = {"scribe": scribe, "takes_the_place_of": before}
    record_change(
        show=judge.show,
        actor=by,
        at=at,
        verb="made",
        subject=f"a pairing code for {judge}",
        after={name: said for name, said in noted.items() if said} or None,
    )
    return kept, f"{code[:4]}-{code[4:]}"


def judge_of_code(*, code: str, at: datetime) -> Judge:
    """Say whose phone the code would make; it stays unused."""
    return _good(PairingCode.objects.all(), code, at).judge


@transaction.atomic
def pair_device(
    *, code: str, label: str, earlier: Iterable[str] = (), at: datetime
) -> tuple[Device, str]:
    """Use up the code; return the phone and the token it will show from now on.

    Two phones of one judge cannot put each other's marks right, so the one paired takes the place
    of those the code says, and of itself: `earlier` are the tokens it was given before.
    """
    kept = _good(PairingCode.objects.select_for_update(), code, at)
    kept.used_at = at
    kept.save(update_fields=["used_at"])
    replaced = list(_replaced(kept, earlier))
    token = secrets.token_urlsafe(32)
    device = Device.objects.create(
        judge=kept.judge,
        token_hash=hash_of(token),
        label=label.strip()[:80],
        paired_at=at,
        last_seen_at=at,
        scribe=kept.scribe,
    )
    record_change(
        show=kept.judge.show,
        actor=kept.judge.person,
        at=at,
        verb="paired",
        subject=f"{device} with {kept.judge}",
        after={"scribe": device.scribe} if device.scribe else None,
        device=str(device),
    )
    for old in replaced:
        shut_out_device(device=old, by=kept.judge.person, at=at, reason=f"{device} took its place")
    return device, token


def _good(codes: QuerySet[PairingCode], code: str, at: datetime) -> PairingCode:
    """Return the code as it is kept, where a phone may be paired by it."""
    found = codes.filter(code_hash=hash_of(_plain(code)))
    kept = found.select_related("judge__show", "judge__person").first()
    if kept is None:
        raise NotFound(
            _("This code is not known. Check the letters, or ask the office for a new one."),
            code="pairing-unknown",
        )
    if kept.used_at:
        raise Gone(
            _("This code was used already. Ask the office for a new one."), code="pairing-used"
        )
    if kept.expires_at < at:
        raise Gone(
            _("This code has run out. Ask the office for a new one."), code="pairing-expired"
        )
    return kept


def _replaced(kept: PairingCode, earlier: Iterable[str]) -> QuerySet[Device]:
    """Return the phones whose place is taken by the one that uses the code."""
    which = Q(token_hash__in=[hash_of(token) for token in earlier])
    if kept.takes_place:
        which |= Q(paired_at__lte=kept.made_at)
    return in_use(kept.judge).filter(which)


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


@transaction.atomic
def replace_phone(
    *, device: Device, reason: str, by: Person | None, at: datetime
) -> tuple[PairingCode, str]:
    """Shut a lost phone out and make the code for the next one, with the same judge and scribe.

    What the lost phone still sends is kept aside for the office.
    """
    device = _locked(device)
    if device.revoked_at:
        raise Conflict(
            _(
                "{device} of {judge} is shut out already. Make a code for the judge to pair "
                "another phone."
            ).format(device=device, judge=device.judge)
        )
    reason = reason.strip()
    if not reason:
        raise InvalidInput(
            _("Say why the phone is replaced."), fields={"reason": _("A word, please.")}
        )
    shut_out_device(device=device, by=by, at=at, reason=reason)
    return make_pairing_code(judge=device.judge, scribe=device.scribe, by=by, at=at)


@transaction.atomic
def change_scribe(*, device: Device, scribe: str, by: Person | None, at: datetime) -> Device:
    """Say who keys for the judge on a paired phone from now on; empty, the judge does."""
    device = _locked(device)
    if device.revoked_at:
        raise Conflict(
            _("{device} of {judge} is shut out; nobody keys on it.").format(
                device=device, judge=device.judge
            )
        )
    before, device.scribe = device.scribe, _scribe(device.judge, scribe)
    if device.scribe != before:
        device.save(update_fields=["scribe"])
        record_change(
            show=device.judge.show,
            actor=by,
            at=at,
            verb="changed",
            subject=f"who keys for {device.judge} on {device}",
            before={"scribe": before},
            after={"scribe": device.scribe},
        )
    return device


def _locked(device: Device) -> Device:
    """Return the phone as it stands, so that two people do not replace it at once."""
    found = Device.objects.select_for_update(of=("self",))
    return found.select_related("judge__show", "judge__person").get(pk=device.pk)
