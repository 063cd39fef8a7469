"""The steps of a browser with a passkey: ask, make, sign in; at the service's public address."""

from __future__ import annotations

from typing import Any

from django.test import Client
from django.urls import reverse

from tests.soft_passkey import SoftPasskey


def post(client: Client, page: str, /, **form: Any) -> Any:
    return client.post(reverse(f"shows:{page}"), form, secure=True)


def question(client: Client, name: str = "passkey-question") -> dict[str, Any]:
    answer = post(client, name)
    assert answer.status_code == 200
    said: dict[str, Any] = answer.json()
    return said


def add(client: Client, key: SoftPasskey, name: str = "My phone") -> Any:
    made = key.make(question(client, "passkey-new-question"))
    return post(client, "passkeys", do="add", name=name, credential=made)


def sign_in(client: Client, key: SoftPasskey, **more: str) -> Any:
    signed = key.sign(question(client))
    return post(client, "passkey-sign-in", credential=signed, **more)
