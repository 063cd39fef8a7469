"""At which addresses passkeys are offered, and what the page may load."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from showrun.shows.models import Person
from tests.passkey_steps import add, post
from tests.soft_passkey import SoftPasskey

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _at_the_public_address(settings: Any) -> None:
    settings.PUBLIC_URL = "https://testserver"


def test_the_sign_in_page_offers_one_only_where_it_can_work(client: Client, settings: Any):
    page = reverse("shows:sign-in")
    offered = client.get(page, secure=True).content.decode()
    assert 'data-passkey="sign in"' in offered
    assert offered.index("Send me a link") < offered.index("Sign in with a passkey")
    assert 'data-passkey="sign in"' not in client.get(page).content.decode()
    settings.PUBLIC_URL = "https://show.example"
    assert 'data-passkey="sign in"' not in client.get(page, secure=True).content.decode()
    assert post(client, "passkey-question").status_code == 409


def test_without_a_public_address_the_one_asked_for_counts(
    client: Client, stranger: Person, settings: Any
):
    settings.PUBLIC_URL = ""
    client.force_login(stranger)
    assert add(client, SoftPasskey()).status_code == 302
    settings.ALLOWED_HOSTS = ["show.example"]
    assert client.post(reverse("shows:passkey-question"), secure=True).status_code == 400


def test_the_page_has_no_script_of_its_own_and_works_without_one(client: Client, stranger: Person):
    client.force_login(stranger)
    answer = client.get(reverse("shows:passkeys"), secure=True)
    text = answer.content.decode()
    assert text.count("<script") == 1
    assert '<script type="module" src="/static/show/passkey.js">' in text
    assert "script-src 'self';" in answer["Content-Security-Policy"] + ";"
    assert "publickey-credentials-get=(self)" in answer["Permissions-Policy"]
