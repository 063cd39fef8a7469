"""The API as a person's program calls it in the tests: signed in, JSON both ways."""

from __future__ import annotations

import json
from typing import Any

from django.test import Client

from showrun.shows.models import Person


def get(person: Person | None, path: str) -> Any:
    client = Client()
    if person:
        client.force_login(person)
    return client.get(f"/api/v1/{path}")


def post(person: Person | None, path: str, sent: Any = None) -> Any:
    client = Client()
    if person:
        client.force_login(person)
    text = json.dumps({} if sent is None else sent)
    return client.post(f"/api/v1/{path}", text, content_type="application/json")


def took(answered: Any, status: int = 200) -> Any:
    assert answered.status_code == status, answered.content
    return answered.json()
