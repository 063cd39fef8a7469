"""Whoever sent a form signed out comes back, once signed in, to an address that opens."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from entries.models import EntryDraft
from showrun.shows.models import Person, Show
from tests.doors.test_entering_pages import draft_page, enter_page, whole
from tests.people import EntryFactory

pytestmark = pytest.mark.django_db

EVERYWHERE = "/sign-out/everywhere/"
SAM = "sam@showrun.example"


@pytest.mark.parametrize(
    ("came_from", "back"),
    [
        ("http://testserver/account/passkeys/", "/account/passkeys/"),
        ("http://testserver/handbook/?word=hames", "/handbook/%3Fword%3Dhames"),
        ("", "/"),
        ("http://elsewhere.example/passkeys/", "/"),
        ("http://testserver//elsewhere.example/", "/"),
    ],
)
def test_a_form_sent_signed_out_comes_back_to_the_page_it_stands_on(
    client: Client, came_from: str, back: str
):
    answer = client.post(EVERYWHERE, headers={"referer": came_from})
    assert answer.status_code == 302
    following = answer["Location"].partition("?next=")[2]
    if back != "/":
        assert following == back
    page = client.get(answer["Location"]).context["next"]
    assert client.get(page).status_code in (200, 302)
    assert page.startswith("/") and "elsewhere" not in page


def test_over_https_a_page_without_it_is_not_gone_back_to(client: Client):
    answer = client.post(
        EVERYWHERE, secure=True, headers={"referer": "http://testserver/handbook/"}
    )
    assert answer["Location"] == "/sign-in/?next=/"


def test_a_refusal_of_what_was_sent_links_to_the_page_it_was_sent_from(client: Client):
    answer = client.post("/entries/1/place/", headers={"referer": "http://testserver/handbook/"})
    assert answer.status_code == 404
    page = answer.content.decode()
    assert page.count(f"{reverse('shows:sign-in')}?next=%2Fhandbook%2F") == 2
    assert f"{reverse('shows:language')}?back=%2Fhandbook%2F" in page


def test_a_script_for_passkeys_is_told_in_words(client: Client, stranger: Person):
    address = reverse("shows:passkey-new-question")
    told = client.post(address, headers={"accept": "application/json"})
    assert (told.status_code, told.json()) == (
        401,
        {"detail": "Load this page again; you may have to sign in."},
    )
    client.force_login(stranger)
    assert client.post(address, headers={"accept": "application/json"}).status_code != 401


def test_a_script_signed_out_is_told_so_and_a_button_comes_back_to_the_page(
    client: Client, show: Show
):
    told = client.post(draft_page(show), whole(), headers={"accept": "application/json"})
    assert (told.status_code, set(told.json())) == (401, {"detail"})
    came_from = {"referer": f"http://testserver{enter_page(show)}?from=mail#crew-h"}
    pressed = client.post(draft_page(show), whole(), headers=came_from)
    assert pressed["Location"] == f"/sign-in/?next={enter_page(show)}%3Ffrom%3Dmail"
    assert not EntryDraft.objects.exists()


def test_the_page_of_a_refused_draft_enters_where_the_form_did(
    client: Client, show: Show, stranger: Person
):
    client.force_login(stranger)
    EntryFactory.create(show=show, exhibitor=stranger, wagon_name="Tin Sparrow")
    refused = client.post(draft_page(show), whole())
    assert refused.status_code == 409
    assert f'<form method="post" action="{enter_page(show)}"' in refused.content.decode()
