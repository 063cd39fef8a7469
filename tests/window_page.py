"""The office at the window's page: reads it, presses its buttons, hears what it says."""

from __future__ import annotations

from typing import Any

from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from showrun.shows.models import Person, Show
from tests.judged_show import office_of

__all__ = ["address", "client_of", "press", "read", "said"]


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def address(show: Show, name: str = "window") -> str:
    return reverse(f"judging:{name}", args=[show.slug])


def read(show: Show, name: str = "window", query: str = "", status: int = 200) -> str:
    answer = client_of(office_of(show)).get(address(show, name) + query)
    assert answer.status_code == status
    return answer.content.decode()


def press(show: Show, person: Any = None, **fields: Any) -> Any:
    return client_of(person or office_of(show)).post(address(show), fields)


def said(answer: Any) -> str:
    assert answer.status_code == 302, answer.content.decode()
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))
