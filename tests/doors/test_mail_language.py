"""What a person is mailed is in the language they signed in in, or chose."""

from __future__ import annotations

from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.core import mail
from django.test import Client
from django.urls import reverse

from entries.actions.mail_message import mail_message
from entries.actions.mail_offers import mail_offers
from entries.actions.withdraw_entry import withdraw_entry
from entries.models import Entry, EntryTerms, OfficeMessage
from entries.rules.places import Status
from showrun.shows.models import Person, Show
from tests.doors.test_language import reading
from tests.people import NOW, EntryFactory, PersonFactory

pytestmark = pytest.mark.django_db


def language_of(email: str) -> str:
    return Person.objects.get(email=email).language


def link_in(body: str) -> str:
    (link,) = (line for line in body.splitlines() if line.startswith("http"))
    found = urlsplit(link)
    return f"{found.path}?{found.query}"


def sign_in(client: Client, email: str) -> None:
    """Ask for the link, open it, and press its button."""
    client.post("/sign-in/", {"email": email})
    page = client.get(link_in(str(mail.outbox[-1].body)))
    client.post("/sign-in/link/", {"sesame": page.context["token"]})


def test_signing_in_keeps_the_language_of_the_page() -> None:
    cook = PersonFactory.create()
    assert cook.language == ""
    sign_in(reading(), cook.email)
    assert language_of(cook.email) == "es"
    sign_in(Client(), cook.email)
    assert language_of(cook.email) == "en"


def test_who_joins_in_spanish_is_written_to_in_spanish() -> None:
    client = reading()
    client.post("/sign-in/", {"email": "cook@showrun.example"})
    address = link_in(str(mail.outbox[0].body))
    page = client.get(address)
    client.post(address, {"token": page.context["token"], "name": "Ada Moor"})
    assert language_of("cook@showrun.example") == "es"


def test_a_choice_is_kept_of_whoever_is_signed_in_and_of_nobody_else() -> None:
    cook, other = PersonFactory.create_batch(2)
    client = Client()
    client.force_login(cook)
    client.post(reverse("shows:language"), {"language": "es", "back": "/"})
    client.post(reverse("shows:language"), {"language": "xx", "back": "/"})
    assert client.cookies[settings.LANGUAGE_COOKIE_NAME].value == "es"
    assert language_of(cook.email) == "es"
    assert language_of(other.email) == ""
    assert Client().post(reverse("shows:language"), {"language": "es"}).status_code == 302


def test_a_message_reaches_each_reader_in_their_language(show: Show, office: Person) -> None:
    for name, language in (("ada", "es"), ("ben", "en"), ("cleo", "")):
        exhibitor = PersonFactory.create(name=name, email=f"{name}@x.example", language=language)
        EntryFactory.create(show=show, exhibitor=exhibitor)
    message = OfficeMessage.objects.create(
        show=show, text="Water at gate 2.", sent_by=office, sent_at=NOW
    )
    assert mail_message(message=message, site="https://show.example") == 3
    mails = {sent.to[0]: sent for sent in mail.outbox}
    assert mails["ada@x.example"].subject == f"Un mensaje de {show.name}"
    assert "Nadie lee las respuestas" in mails["ada@x.example"].body
    for reader in ("ben@x.example", "cleo@x.example"):
        assert mails[reader].subject == f"A message from {show.name}"
        assert "Nobody reads answers" in mails[reader].body
    assert all("Water at gate 2." in sent.body for sent in mails.values())


def test_an_offer_is_mailed_in_the_language_of_who_waits(show: Show) -> None:
    EntryTerms.objects.create(show=show, promotion_hours=48)
    placed = [EntryFactory.create(show=show) for _ in range(3)]
    waiting = EntryFactory.create(show=show, wagon_name="Tin Moth", status=Status.WAITING)
    Person.objects.filter(pk=waiting.exhibitor_id).update(language="es")
    withdraw_entry(entry=placed[0], by=placed[0].exhibitor, at=NOW)
    assert [entry.pk for entry in mail_offers(at=NOW)] == [waiting.pk]
    (sent,) = mail.outbox
    assert sent.subject == f"Un cupo para Tin Moth en {show.name}"
    assert "sábado" in str(sent.body)
    assert Entry.objects.get(pk=waiting.pk).status == Status.OFFERED
