"""Signing in by a mailed link, as a person and as a mail program meet it."""

from __future__ import annotations

import re

import pytest
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from sesame.utils import get_query_string, get_token

from showrun.shows.models import Person
from tests.people import PersonFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _no_asks_yet() -> None:
    cache.clear()


def ask(client: Client, email: str, **more: str):
    return client.post(reverse("shows:sign-in"), {"email": email, **more})


def link_in_last_mail() -> str:
    found = re.search(r"http\S+", str(mail.outbox[-1].body))
    assert found
    return found.group().replace("http://testserver", "")


def follow(client: Client, link: str):
    """Open the link and press the button, with just what the page's form holds."""
    page = client.get(link)
    assert page.status_code == 200
    text = page.content.decode()
    fields = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', text))
    fields.pop("csrfmiddlewaretoken", None)
    assert set(fields) == {"sesame", "next"}
    return client.post(reverse("shows:sign-in-link"), fields)


def signed_in_as(client: Client) -> str | None:
    return client.session.get("_auth_user_id")


def test_a_known_address_gets_a_link_that_signs_in(client: Client, stranger: Person):
    answer = ask(client, "SAM@showrun.example")
    assert answer["Location"] == reverse("shows:sign-in-sent")
    assert mail.outbox[0].to == ["sam@showrun.example"]
    done = follow(client, link_in_last_mail())
    assert done.status_code == 302
    assert done["Location"] == "/"
    assert signed_in_as(client) == str(stranger.pk)


def test_looking_at_the_link_does_not_use_it_up(client: Client, stranger: Person):
    link = reverse("shows:sign-in-link") + get_query_string(stranger)
    for _ in range(3):  # a mail program, a preview, the person
        page = client.get(link)
        assert page.status_code == 200
        assert signed_in_as(client) is None
    follow(client, link)
    assert signed_in_as(client) == str(stranger.pk)


def test_a_link_works_once(client: Client, stranger: Person):
    link = reverse("shows:sign-in-link") + get_query_string(stranger)
    follow(client, link)
    other = Client()
    again = other.get(link)
    assert again.status_code == 410
    assert b"Get a new link" in again.content
    pressed = other.post(reverse("shows:sign-in-link"), {"sesame": link.split("=")[1]})
    assert pressed.status_code == 410
    assert signed_in_as(other) is None


@pytest.mark.parametrize("token", ["", "x", "AAAAAAAAAAAAAAAAAAAAAAAA"])
def test_a_cut_or_invented_link_is_refused_plainly(client: Client, token: str, db: None):
    answer = client.get(reverse("shows:sign-in-link"), {"sesame": token})
    assert answer.status_code == 410
    assert signed_in_as(client) is None


def test_a_link_runs_out(client: Client, stranger: Person, monkeypatch: pytest.MonkeyPatch):
    token = get_token(stranger)
    import sesame.tokens_v2

    real = sesame.tokens_v2.time.time
    monkeypatch.setattr(sesame.tokens_v2.time, "time", lambda: real() + 25 * 3600)
    assert client.get(reverse("shows:sign-in-link"), {"sesame": token}).status_code == 410


def test_unknown_and_known_addresses_get_the_same_answer(client: Client, stranger: Person):
    known = ask(Client(), stranger.email)
    unknown = ask(Client(), "nobody@showrun.example")
    assert (known.status_code, known["Location"]) == (unknown.status_code, unknown["Location"])
    assert len(mail.outbox) == 2
    assert mail.outbox[0].subject == mail.outbox[1].subject


def test_a_new_person_gives_a_name_once(client: Client):
    ask(client, "new@showrun.example", next="/sign-in/sent/")
    link = link_in_last_mail()
    assert "/sign-in/join/" in link
    page = client.get(link)
    assert page.status_code == 200
    assert not Person.objects.filter(email="new@showrun.example").exists()
    token = page.context["token"]
    nameless = client.post(reverse("shows:join"), {"token": token, "name": " "})
    assert nameless.status_code == 422
    done = client.post(
        reverse("shows:join"), {"token": token, "name": "Nell Newcomer", "next": "/sign-in/sent/"}
    )
    person = Person.objects.get(email="new@showrun.example")
    assert (person.name, done["Location"]) == ("Nell Newcomer", "/sign-in/sent/")
    assert signed_in_as(client) == str(person.pk)
    assert Client().get(link).status_code == 410


def test_a_forged_join_token_is_refused(client: Client):
    answer = client.post(reverse("shows:join"), {"token": "forged:by:hand", "name": "Eve"})
    assert answer.status_code == 410
    assert Person.objects.count() == 0


def test_somebody_shut_out_gets_no_link(client: Client):
    PersonFactory.create(email="out@showrun.example", is_active=False)
    answer = ask(client, "out@showrun.example")
    assert answer["Location"] == reverse("shows:sign-in-sent")
    assert mail.outbox == []


@pytest.mark.parametrize("typed", ["", "not an address"])
def test_a_wrong_address_is_said_and_kept(client: Client, typed: str):
    answer = ask(client, typed)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert f'value="{typed}"' in text
    assert 'aria-invalid="true"' in text
    assert mail.outbox == []


@pytest.mark.parametrize(
    ("wanted", "goes_to"),
    [
        ("/sign-in/sent/", "/sign-in/sent/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
    ],
)
def test_next_stays_in_the_house(client: Client, stranger: Person, wanted: str, goes_to: str):
    ask(client, stranger.email, next=wanted)
    assert follow(client, link_in_last_mail())["Location"] == goes_to


def test_next_from_outside_is_not_followed_on_the_button_either(client: Client, stranger: Person):
    answer = client.post(
        reverse("shows:sign-in-link"),
        {"sesame": get_token(stranger), "next": "https://elsewhere.example/"},
    )
    assert answer["Location"] == "/"


def test_asking_too_often_is_held_back(client: Client, stranger: Person):
    for _ in range(5):
        assert ask(client, stranger.email).status_code == 302
    held = ask(client, stranger.email)
    assert held.status_code == 429
    assert held["Retry-After"] == "600"
    assert len(mail.outbox) == 5
    assert ask(client, "somebody.else@showrun.example").status_code == 302


def test_mail_that_cannot_go_gives_the_same_answer(
    client: Client, stranger: Person, monkeypatch: pytest.MonkeyPatch
):
    def broken(*args: object, **kwargs: object) -> int:
        raise ConnectionRefusedError

    monkeypatch.setattr("showrun.shows.web.sign_in.send_mail", broken)
    assert ask(client, stranger.email)["Location"] == reverse("shows:sign-in-sent")


def test_the_button_needs_the_page_it_stands_on(stranger: Person):
    careful = Client(enforce_csrf_checks=True)
    answer = careful.post(reverse("shows:sign-in-link"), {"sesame": get_token(stranger)})
    assert answer.status_code == 403
    assert signed_in_as(careful) is None


def test_signing_out_is_a_button_not_a_link(client: Client, stranger: Person):
    client.force_login(stranger)
    assert client.get(reverse("shows:sign-out")).status_code == 405
    assert signed_in_as(client) == str(stranger.pk)
    assert client.post(reverse("shows:sign-out"))["Location"] == "/"
    assert signed_in_as(client) is None


def test_the_sign_in_pages_are_kept_nowhere(client: Client, stranger: Person):
    link = reverse("shows:sign-in-link") + get_query_string(stranger)
    for address in (reverse("shows:sign-in"), link):
        assert "no-store" in client.get(address)["Cache-Control"]
