"""The pages in the reader's language: whose choice counts, and exhibitor's pages in Spanish."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from entries.actions.charge_entry import charge_entry
from entries.models import Entry, EntryTerms, Posting
from entries.rules.places import Status
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role
from tests.doors.test_entering_pages import enter_page, whole
from tests.people import NOW, EntryFactory, PersonFactory, give

pytestmark = pytest.mark.django_db

SPANISH = {"Accept-Language": "es-MX,es;q=0.9,en;q=0.5"}
# Words of which English sentences are made; none of them is Spanish.
ENGLISH = re.compile(
    r"\b(the|and|of|your|you|with|not|this|that|is|are|was|for|from|by|at|to|in the|on|it|"
    r"yet|none|each|please|back|name|who|what|when|why|how)\b",
    re.IGNORECASE,
)


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def terms(show: Show) -> EntryTerms:
    return EntryTerms.objects.create(
        show=show, waiver_text="Riesgo propio.", waiver_version=1, emergency_asked=True,
        camp_asked=True, animals_asked=True, eia_max_age_days=365, certificate_max_age_days=30,
        deposit_cents=5000,
    )  # fmt: skip


@pytest.fixture
def entry(show: Show) -> Entry:
    return EntryFactory.create(show=show, status=Status.CONFIRMED, number=4)


def reading(person: Person | None = None) -> Client:
    """A browser that asks for Spanish."""
    client = Client(headers=SPANISH)
    if person:
        client.force_login(person)
    return client


def told(answer: Any) -> str:
    """Everything a page says, in its text and in attributes people read or hear."""
    page = answer.content.decode()
    page = re.sub(r"<(script|style)\b.*?</\1>", " ", page, flags=re.DOTALL)
    heard = re.findall(r'\b(?:aria-label|title|alt|placeholder|data-said-[\w-]+)="([^"]*)"', page)
    seen = re.sub(r"<[^>]*>", " \n ", page)
    return unescape(" \n ".join([seen, *heard]))


def english_in(answer: Any, *data: str) -> list[str]:
    """The lines of a page that are English, once what the show itself wrote is taken out."""
    words = told(answer)
    for own in sorted(data, key=len, reverse=True):
        words = words.replace(own, " ")
    return [line.strip() for line in words.splitlines() if ENGLISH.search(line)]


def data_of(show: Show, entry: Entry | None = None) -> list[str]:
    """What a show and an entry bring along: it is not ours to translate."""
    own = [show.name, show.ground, *show.classes.values_list("name", flat=True)]
    own += show.classes.values_list("description", flat=True)
    if entry:
        own += [entry.wagon_name, entry.exhibitor.name, entry.exhibitor.email]
        own += [*entry.crew.values_list("name", flat=True), entry.outfit]
        own += Posting.objects.filter(entry=entry).values_list("words", flat=True)
    return [one for one in own if one]


# -- whose choice counts -----------------------------------------------------------------------


def test_a_browser_is_answered_in_the_language_it_asks_for() -> None:
    english, spanish = Client().get("/sign-in/"), reading().get("/sign-in/")
    assert '<html lang="en">' in english.content.decode()
    assert '<html lang="es">' in spanish.content.decode()
    assert "<h1>Sign in</h1>" in english.content.decode()
    assert "<h1>Iniciar sesión</h1>" in spanish.content.decode()
    assert (english["Content-Language"], spanish["Content-Language"]) == ("en", "es")
    for answer in (english, spanish):
        assert {"Accept-Language", "Cookie"} <= set(re.split(r",\s*", answer["Vary"]))


def test_a_language_nobody_speaks_here_is_answered_in_english() -> None:
    answer = Client(headers={"Accept-Language": "de-DE,de;q=0.9"}).get("/sign-in/")
    assert "<h1>Sign in</h1>" in answer.content.decode()


def test_the_choice_in_the_foot_goes_before_the_browser_and_brings_back() -> None:
    client = Client(enforce_csrf_checks=True, headers=SPANISH)
    page = client.get("/sign-in/?next=/my/outfits/").content.decode()
    found = re.search(r'<form class="tongues" method="post" action="([^"]+)"', page)
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)
    assert found and token
    there, form = unescape(found[1]), {"language": "en", "csrfmiddlewaretoken": token[1]}
    answer = client.post(there, form)
    assert (answer.status_code, answer["Location"]) == (302, "/sign-in/?next=/my/outfits/")
    cookie = answer.cookies["language"]
    assert (cookie.value, cookie["httponly"], cookie["samesite"]) == ("en", True, "Lax")
    assert "<h1>Sign in</h1>" in client.get("/sign-in/").content.decode()
    assert client.post(there, {"language": "es"}).status_code == 403  # without its token


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example/", ""])
def test_the_choice_leads_nowhere_else(back: str) -> None:
    answer = Client().post(f"/language/?back={quote(back)}", {"language": "es"})
    assert answer["Location"] == "/"


def test_an_unknown_language_is_not_kept() -> None:
    answer = Client().post("/language/", {"language": "xx"})
    assert "language" not in answer.cookies
    assert Client().get("/language/").status_code == 405


def test_the_office_speaks_english_until_its_words_are_translated(
    show: Show, settings: Any
) -> None:
    office = give(PersonFactory.create(), show, Role.OFFICE)
    page = reverse("entries:terms", args=[show.slug])
    answer = reading(office).get(page)
    assert answer["Content-Language"] == "en"
    assert '<html lang="en">' in answer.content.decode()
    assert 'class="tongues"' not in answer.content.decode()
    settings.OFFICE_LANGUAGE = ""
    assert '<html lang="es">' in reading(office).get(page).content.decode()


def test_a_refusal_of_a_page_is_in_the_readers_language(show: Show, entry: Entry) -> None:
    stranger = PersonFactory.create()
    lost = reading(stranger).get(reverse("entries:details", args=[entry.pk]))
    assert lost.status_code == 404
    assert "En esta dirección no hay nada para usted." in told(lost)
    nowhere = reading().get("/nowhere/")
    assert "No hay ninguna página en esta dirección." in told(nowhere)
    assert english_in(nowhere) == []


def test_the_api_refuses_in_the_readers_language_under_the_same_code(show: Show) -> None:
    said = [client.get("/api/v1/shows/nowhere").json() for client in (Client(), reading())]
    assert said[0]["type"] == said[1]["type"]
    assert said[0]["status"] == said[1]["status"]
    assert said[0]["title"] != said[1]["title"]
    unknown = [client.get("/api/nowhere").json() for client in (Client(), reading())]
    assert [one["code"] for one in unknown] == ["not-found", "not-found"]
    assert unknown[0]["detail"] == "There is nothing at this address."
    assert unknown[1]["detail"] == "En esta dirección no hay nada."
    assert unknown[1]["title"] == "No se encontró"


# -- signing in --------------------------------------------------------------------------------


def test_signing_in_is_spanish_from_the_page_to_the_mail() -> None:
    client = reading()
    assert english_in(client.get("/sign-in/")) == []
    wrong = client.post("/sign-in/", {"email": "cook"})
    assert wrong.status_code == 422
    assert "No es una dirección de correo completa" in told(wrong)
    assert english_in(wrong, "cook@example.org") == []
    client.post("/sign-in/", {"email": "cook@showrun.example"})
    assert english_in(client.get("/sign-in/sent/"), "cook@showrun.example") == []
    sent = mail.outbox[0]
    assert sent.subject == "Su enlace para iniciar sesión"
    assert "Funciona una sola vez, durante 24 horas." in sent.body
    link = next(line for line in sent.body.splitlines() if line.startswith("http"))
    assert not ENGLISH.search(sent.body.replace(link, ""))
    joining = client.get(link)
    assert "Su nombre, y listo" in told(joining)
    assert english_in(joining, "cook@showrun.example") == []
    gone = client.get("/sign-in/link/?sesame=x")
    assert english_in(gone) == []


def test_passkeys_are_spanish() -> None:
    answer = reading(PersonFactory.create()).get(reverse("shows:passkeys"))
    person = Person.objects.get()
    assert english_in(answer, person.name) == []


# -- an exhibitor's pages ----------------------------------------------------------------------


def test_a_wagon_is_entered_in_spanish_with_a_fault_on_the_way(
    show: Show, terms: EntryTerms
) -> None:
    exhibitor = PersonFactory.create()
    client, own = reading(exhibitor), [exhibitor.name, "Tin Sparrow", "Obadiah Quillfeather"]
    form = client.get(enter_page(show))
    assert form.status_code == 200
    assert english_in(form, *data_of(show), *own) == []
    first = show.starts_on
    assert f"del {first.day} de mayo al" in told(form)

    wrong = client.post(enter_page(show), whole(crew_name_2="", frontage_ft="15 m", tongue=""))
    assert wrong.status_code == 422
    said = told(wrong)
    assert "Una cuadrilla es de 2 a 6 personas; usted nombró 1." in said
    assert "Escriba un número entero de pies, como 50." in said
    assert "Lanza: elija lanza caída o lanza rígida." in said
    assert english_in(wrong, *data_of(show), *own) == []

    done = client.post(enter_page(show), whole())
    assert done.status_code == 302
    entry = Entry.objects.get()
    details = client.get(reverse("entries:details", args=[entry.pk]))
    said = told(details)
    assert "Tin Sparrow está inscrita y tiene cupo. Ahora la oficina lo confirma." in said
    assert "Falta aceptar la carta responsiva." in said
    assert "Falta decir a quién llamar en una emergencia." in said
    assert english_in(details, *data_of(show, entry)) == []


def test_the_pages_of_an_entry_are_spanish(show: Show, terms: EntryTerms, entry: Entry) -> None:
    owner = entry.exhibitor
    charge_entry(entry=entry, by=owner, at=NOW)
    for page in ("entries:details", "entries:crew", "entries:money-entry"):
        answer = reading(owner).get(reverse(page, args=[entry.pk]))
        assert answer.status_code == 200, page
        assert '<html lang="es">' in answer.content.decode()
        assert english_in(answer, *data_of(show, entry)) == [], page
        assert ".m.." not in told(answer), page
    agreed = {"waiver_agreed_by": owner.name, "waiver_agreed_at": NOW}
    for version in (1, 0):  # the version there is, and the one before
        Entry.objects.filter(pk=entry.pk).update(waiver_version=version, **agreed)
        answer = reading(owner).get(reverse("entries:details", args=[entry.pk]))
        assert english_in(answer, *data_of(show, entry)) == []
        assert ".m.." not in told(answer)
        assert ("Leer la carta responsiva" in told(answer)) is (version == 1)
    plan = reading(owner).get(reverse("entries:camp-plan", args=[show.slug]))
    assert english_in(plan, *data_of(show, entry)) == []


def test_amounts_and_days_are_written_as_in_mexico_and_the_united_states(
    show: Show, terms: EntryTerms, entry: Entry
) -> None:
    Show.objects.update(entry_fee_cents=123450)
    entry.refresh_from_db()
    charge_entry(entry=entry, by=entry.exhibitor, at=NOW)
    statement = reading(entry.exhibitor).get(reverse("entries:money-entry", args=[entry.pk]))
    assert "$1,234.50" in told(statement)
    assert "$1,284.50 por pagar" in told(statement)
    crew = told(reading(entry.exhibitor).get(reverse("entries:crew", args=[entry.pk])))
    assert re.search(r"hasta el (lunes|martes|miércoles|jueves|viernes|sábado|domingo), \d+ ", crew)
    assert re.search(r"\d+:\d\d [ap]\.m\.", crew)


def test_what_is_kept_does_not_depend_on_who_asked(show: Show, terms: EntryTerms) -> None:
    entries = []
    for client in (Client(), reading()):
        exhibitor = PersonFactory.create()
        client.force_login(exhibitor)
        client.post(enter_page(show), whole())
        entry = Entry.objects.get(exhibitor=exhibitor)
        client.post(
            reverse("entries:place", args=[entry.pk]), {"do": "withdraw", "reason": "Lame."}
        )
        entry.refresh_from_db()
        entries.append(entry)
    kept = "Withdrawn by the exhibitor: Lame."
    assert [one.status_reason for one in entries] == [kept, kept]
    posted = [Posting.objects.filter(entry=one).order_by("id") for one in entries]
    one, other = ([posting.words for posting in found] for found in posted)
    assert one == other
    assert one


def test_the_draft_says_in_spanish_when_it_was_saved(show: Show, terms: EntryTerms) -> None:
    client = reading(PersonFactory.create())
    answer = client.post(
        reverse("entries:draft", args=[show.slug]),
        {"wagon_name": "Tin Sparrow"},
        headers={"Accept": "application/json"},
    )
    assert answer.json()["words"].startswith("Borrador guardado el ")
    assert " de " in answer.json()["words"]
