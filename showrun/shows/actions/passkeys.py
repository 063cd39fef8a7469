"""Keep a person's passkeys: add one, take one as a sign-in, name it, remove it."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime

import structlog
from django.db import transaction
from webauthn import (
    generate_authentication_options,
    generate_registration_options,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url, options_to_json_dict
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    AuthenticatorTransport,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from showrun.errors import Conflict, InvalidInput, NotAllowed, NotFound
from showrun.language import gettext as _
from showrun.shows.models import Passkey, Person
from showrun.shows.rules.passkeys import (
    ASKED_FOR,
    MOST_PASSKEYS,
    Place,
    passkey_name,
    user_handle,
)

log = structlog.get_logger(__name__)

SERVICE = "Chuckwagon shows"
LONGEST_ANSWER = 20_000  # letters
LONGEST_ID = 1023  # bytes, as Web Authentication has it
_WAIT_MS = int(ASKED_FOR.total_seconds() * 1000)
# The key is all there is to signing in, so that the device must know who holds it.
_VERIFIED = UserVerificationRequirement.REQUIRED


def passkeys_of(person: Person) -> list[Passkey]:
    """Return a person's passkeys, the oldest first."""
    return list(Passkey.objects.filter(person=person))


def question_to_add(*, person: Person, place: Place, challenge: bytes) -> dict[str, object]:
    """Return what a browser needs to make a passkey for this person."""
    known = [
        PublicKeyCredentialDescriptor(
            id=base64url_to_bytes(one.credential_id),
            transports=[AuthenticatorTransport(word) for word in one.transports],
        )
        for one in passkeys_of(person)
    ]
    return options_to_json_dict(
        generate_registration_options(
            rp_id=place.rp_id,
            rp_name=SERVICE,
            user_id=user_handle(person.pk),
            user_name=person.email,
            user_display_name=str(person),
            challenge=challenge,
            timeout=_WAIT_MS,
            authenticator_selection=AuthenticatorSelectionCriteria(
                resident_key=ResidentKeyRequirement.REQUIRED, user_verification=_VERIFIED
            ),
            exclude_credentials=known,
        )
    )


def question_to_sign_in(*, place: Place, challenge: bytes) -> dict[str, object]:
    """Return what a browser needs to offer whatever passkeys it has for this service."""
    return options_to_json_dict(
        generate_authentication_options(
            rp_id=place.rp_id, challenge=challenge, timeout=_WAIT_MS, user_verification=_VERIFIED
        )
    )


def _read(answer: str) -> dict[str, object]:
    if len(answer) > LONGEST_ANSWER:
        raise ValueError("too long")
    said = json.loads(answer)
    if not isinstance(said, dict):
        raise TypeError("no object")
    return said


def _transports(said: dict[str, object]) -> list[str]:
    response = said.get("response")
    given = response.get("transports") if isinstance(response, dict) else None
    known = {str(one.value) for one in AuthenticatorTransport}
    return [word for word in given if word in known] if isinstance(given, list) else []


@transaction.atomic
def add_passkey(
    *, person: Person, answer: str, name: str, place: Place, challenge: bytes, at: datetime
) -> Passkey:
    """Keep the public half of a passkey that a browser made on our question."""
    try:
        said = _read(answer)
        made = verify_registration_response(
            credential=said,
            expected_challenge=challenge,
            expected_rp_id=place.rp_id,
            expected_origin=place.origin,
            require_user_verification=True,
        )
        transports = _transports(said)
    # Whatever a browser, or somebody in its place, sends that is no such answer.
    except Exception as fault:
        log.warning("passkey not added", why=type(fault).__name__)
        raise InvalidInput(_("This passkey could not be added. Try again.")) from fault
    # The lock on the person makes their passkeys queue up here.
    Person.objects.select_for_update().get(pk=person.pk)
    if Passkey.objects.filter(person=person).count() >= MOST_PASSKEYS:
        raise Conflict(
            _("You have {most} passkeys; remove one you do not use any more.").format(
                most=MOST_PASSKEYS
            )
        )
    hashed = hashlib.sha256(made.credential_id).hexdigest()
    if (
        len(made.credential_id) > LONGEST_ID
        or Passkey.objects.filter(credential_hash=hashed).exists()
    ):
        raise Conflict(_("This passkey is known here already."))
    added = Passkey.objects.create(
        person=person,
        credential_id=bytes_to_base64url(made.credential_id),
        credential_hash=hashed,
        public_key=bytes_to_base64url(made.credential_public_key),
        sign_count=made.sign_count,
        transports=transports,
        backed_up=made.credential_backed_up,
        name=passkey_name(name),
        made_at=at,
    )
    log.info("passkey added", passkey=added.pk)
    return added


@transaction.atomic
def use_passkey(*, answer: str, place: Place, challenge: bytes, at: datetime) -> Person:
    """Return whose passkey signed our question; refuse whatever is not right about it."""
    passkey = None
    try:
        said = _read(answer)
        hashed = hashlib.sha256(base64url_to_bytes(str(said.get("id")))).hexdigest()
        # Locked until the count is kept: of two answers with one count only the first is taken.
        passkey = Passkey.objects.select_for_update().get(credential_hash=hashed)
        response = said.get("response")
        handle = response.get("userHandle") if isinstance(response, dict) else None
        if handle and base64url_to_bytes(str(handle)) != user_handle(passkey.person_id):
            raise ValueError("another person's")
        if not passkey.person.is_active:
            raise ValueError("person put away")
        used = verify_authentication_response(
            credential=said,
            expected_challenge=challenge,
            expected_rp_id=place.rp_id,
            expected_origin=place.origin,
            credential_public_key=base64url_to_bytes(passkey.public_key),
            credential_current_sign_count=passkey.sign_count,
            require_user_verification=True,
        )
    # Whatever a browser, or somebody in its place, sends that is no such answer.
    except Exception as fault:
        why = f"{type(fault).__name__}: {fault}" if passkey else type(fault).__name__
        log.warning("passkey refused", passkey=passkey and passkey.pk, why=why)
        raise NotAllowed(
            _("This passkey did not sign you in. Ask for a link by e-mail instead."),
            code="passkey-refused",
        ) from fault
    passkey.sign_count, passkey.used_at = used.new_sign_count, at
    passkey.backed_up = used.credential_backed_up
    passkey.save()
    return passkey.person


def _own(person: Person, passkey_id: int) -> Passkey:
    found = Passkey.objects.filter(person=person, pk=passkey_id).first()
    if found is None:
        raise NotFound(_("You have no such passkey."))
    return found


def name_passkey(*, person: Person, passkey_id: int, name: str) -> Passkey:
    """Call a passkey what its owner calls the device."""
    passkey = _own(person, passkey_id)
    passkey.name = passkey_name(name)
    passkey.save(update_fields=["name"])
    return passkey


def remove_passkey(*, person: Person, passkey_id: int) -> str:
    """Take a passkey no more; return what it was called."""
    passkey = _own(person, passkey_id)
    log.info("passkey removed", passkey=passkey.pk)
    passkey.delete()
    return passkey.name
