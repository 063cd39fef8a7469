"""An authenticator made of plain keys: it answers as a device would, or wrongly on purpose.

It signs for real, with its own writing of the formats of Web Authentication; nothing of the
service or of its library is used, so that both sides are held against each other.
"""

from __future__ import annotations

import hashlib
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from dataclasses import dataclass, field
from typing import Any

import cbor2
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256

PRESENT, VERIFIED, HAS_KEY = 0x01, 0x04, 0x40


def as_text(data: bytes) -> str:
    return urlsafe_b64encode(data).rstrip(b"=").decode()


def as_bytes(text: str) -> bytes:
    return urlsafe_b64decode(text + "=" * (-len(text) % 4))


@dataclass
class SoftPasskey:
    """One passkey on one device, at one address."""

    origin: str = "https://testserver"
    rp_id: str = "testserver"
    flags: int = PRESENT | VERIFIED
    count: int = 0
    handle: bytes = b""
    key: ec.EllipticCurvePrivateKey = field(
        default_factory=lambda: ec.generate_private_key(ec.SECP256R1())
    )

    @property
    def credential_id(self) -> bytes:
        return hashlib.sha256(self._point()).digest()

    def _point(self) -> bytes:
        numbers = self.key.public_key().public_numbers()
        return numbers.x.to_bytes(32, "big") + numbers.y.to_bytes(32, "big")

    def _client_data(self, kind: str, challenge: str) -> bytes:
        said = {"type": kind, "challenge": challenge, "origin": self.origin, "crossOrigin": False}
        return json.dumps(said).encode()

    def _device_data(self, more: bytes = b"", flags: int = 0) -> bytes:
        place = hashlib.sha256(self.rp_id.encode()).digest()
        return place + bytes([self.flags | flags]) + self.count.to_bytes(4, "big") + more

    def _answer(self, **response: Any) -> str:
        name = as_text(self.credential_id)
        said = {"id": name, "rawId": name, "type": "public-key", "response": response}
        return json.dumps(said)

    def make(self, question: dict[str, Any]) -> str:
        """Answer a question for a new passkey: COSE key, ES256, no attestation."""
        self.handle = as_bytes(question["user"]["id"])
        point = self._point()
        cose = cbor2.dumps({1: 2, 3: -7, -1: 1, -2: point[:32], -3: point[32:]})
        name = self.credential_id
        data = self._device_data(bytes(16) + len(name).to_bytes(2, "big") + name + cose, HAS_KEY)
        whole = cbor2.dumps({"fmt": "none", "attStmt": {}, "authData": data})
        return self._answer(
            clientDataJSON=as_text(self._client_data("webauthn.create", question["challenge"])),
            attestationObject=as_text(whole),
            transports=["internal", "smoke signal"],
        )

    def sign(self, question: dict[str, Any], kind: str = "webauthn.get") -> str:
        """Answer a question for signing in; the count goes up by one."""
        self.count += 1
        said = self._client_data(kind, question["challenge"])
        data = self._device_data()
        signed = data + hashlib.sha256(said).digest()
        return self._answer(
            clientDataJSON=as_text(said),
            authenticatorData=as_text(data),
            signature=as_text(self.key.sign(signed, ec.ECDSA(SHA256()))),
            userHandle=as_text(self.handle),
        )
