"""Passkeys: added, used and removed; and every answer that must not sign anybody in."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from showrun.shows.actions.passkeys import LONGEST_ANSWER
from showrun.shows.models import Passkey, Person
from showrun.shows.rules.passkeys import MOST_PASSKEYS, user_handle
from showrun.shows.web.ceremony import KEPT
from showrun.shows.web.limits import ASKS_PER_ADDRESS
from tests.passkey_steps import add, post, question, sign_in
from tests.people import PersonFactory
from tests.soft_passkey import PRESENT, VERIFIED, SoftPasskey, as_bytes

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _at_the_public_address(settings: Any) -> None:
    settings.PUBLIC_URL = "https://testserver"


def signed_in_as(client: Client) -> str | None:
    return client.session.get("_auth_user_id")


@pytest.fixture
def key(stranger: Person) -> SoftPasskey:
    """The stranger's passkey, added here."""
    made, client = SoftPasskey(), Client()
    client.force_login(stranger)
    assert add(client, made).status_code == 302
    return made


def refused(client: Client, answer: Any, status: int = 403) -> None:
    assert answer.status_code == status
    assert 'role="alert"' in answer.content.decode()
    assert 'name="email"' in answer.content.decode()
    assert signed_in_as(client) is None


# --- Adding, naming, removing ---------------------------------------------------------------


def test_a_passkey_is_added_listed_named_and_removed(client: Client, stranger: Person):
    client.force_login(stranger)
    page = reverse("shows:passkeys")
    assert "You have none yet." in client.get(page, secure=True).content.decode()
    assert add(client, SoftPasskey(), "  My \n phone ").status_code == 302
    kept = Passkey.objects.get()
    assert (kept.person, kept.name, kept.transports) == (stranger, "My phone", ["internal"])
    assert "My phone" in client.get(page, secure=True).content.decode()
    post(client, "passkeys", do="name", passkey=kept.pk, name="Old phone")
    kept.refresh_from_db()
    assert kept.name == "Old phone"
    post(client, "passkeys", do="remove", passkey=kept.pk)
    assert not Passkey.objects.exists()


def test_what_a_browser_is_asked_for_a_new_one(client: Client, stranger: Person, key: SoftPasskey):
    client.force_login(stranger)
    asked = question(client, "passkey-new-question")
    assert asked["rp"]["id"] == "testserver"
    assert asked["authenticatorSelection"]["residentKey"] == "required"
    assert asked["authenticatorSelection"]["requireResidentKey"] is True
    assert asked["authenticatorSelection"]["userVerification"] == "required"
    assert asked["attestation"] == "none"
    assert [as_bytes(one["id"]) for one in asked["excludeCredentials"]] == [key.credential_id]
    assert as_bytes(asked["user"]["id"]) == user_handle(stranger.pk)
    assert len(as_bytes(asked["challenge"])) >= 16
    assert asked["challenge"] != question(client, "passkey-new-question")["challenge"]


def test_nobody_adds_one_without_being_signed_in(client: Client):
    for name in ("passkey-new-question", "passkeys"):
        assert post(client, name, do="add").status_code == 302
    assert not Passkey.objects.exists()


@pytest.mark.parametrize(
    "wrong",
    [
        {"origin": "https://evil.example"},
        {"origin": "http://testserver"},
        {"origin": "https://testserver:8443"},
        {"rp_id": "evil.example"},
        {"flags": PRESENT},
        {"flags": VERIFIED},
    ],
    ids=str,
)
def test_a_new_passkey_made_elsewhere_or_unseen_is_not_kept(
    client: Client, stranger: Person, wrong: dict[str, Any]
):
    client.force_login(stranger)
    answer = add(client, SoftPasskey(**wrong))
    assert answer.status_code == 422
    assert "could not be added" in answer.content.decode()
    assert not Passkey.objects.exists()
    assert add(client, SoftPasskey()).status_code == 302


def test_a_question_for_one_purpose_is_none_for_the_other(
    client: Client, stranger: Person, key: SoftPasskey
):
    client.force_login(stranger)
    asked = question(client)
    made = SoftPasskey().make({**asked, "user": {"id": ""}})
    assert post(client, "passkeys", do="add", credential=made).status_code == 410
    other = Client()
    other.force_login(stranger)
    signed = key.sign(question(other, "passkey-new-question"))
    assert post(other, "passkey-sign-in", credential=signed).status_code == 410
    assert Passkey.objects.count() == 1


def test_a_known_passkey_is_not_added_again_by_anybody(
    client: Client, key: SoftPasskey, office: Person
):
    client.force_login(office)
    assert add(client, key).status_code == 409
    assert Passkey.objects.get().person != office


def test_there_is_an_end_to_them(client: Client, stranger: Person, at: datetime):
    client.force_login(stranger)
    Passkey.objects.bulk_create(
        Passkey(person=stranger, credential_id="AA", credential_hash=str(n), made_at=at, name="x")
        for n in range(MOST_PASSKEYS)
    )
    assert add(client, SoftPasskey()).status_code == 409
    assert Passkey.objects.count() == MOST_PASSKEYS


def test_a_passkey_of_somebody_else_is_not_there(client: Client, key: SoftPasskey, office: Person):
    client.force_login(office)
    assert "My phone" not in client.get(reverse("shows:passkeys"), secure=True).content.decode()
    for do in ("name", "remove"):
        for number in (Passkey.objects.get().pk, 0, "x", "9" * 30):
            assert post(client, "passkeys", do=do, passkey=number, name="y").status_code == 404
    assert Passkey.objects.get().name == "My phone"


# --- Signing in -----------------------------------------------------------------------------


def test_a_passkey_signs_its_person_in(client: Client, stranger: Person, key: SoftPasskey):
    answer = sign_in(client, key)
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert signed_in_as(client) == str(stranger.pk)
    kept = Passkey.objects.get()
    assert kept.sign_count == 1
    assert kept.used_at is not None
    stranger.refresh_from_db()
    assert stranger.last_login is not None


def test_the_question_names_nobody_and_no_key(client: Client, key: SoftPasskey):
    asked = question(client)
    assert asked["allowCredentials"] == []
    assert asked["userVerification"] == "required"
    assert "sam" not in json.dumps(asked).lower()


def test_the_session_is_a_new_one(client: Client, key: SoftPasskey):
    asked = question(client)
    before = client.session.session_key
    assert before
    post(client, "passkey-sign-in", credential=key.sign(asked))
    assert client.session.session_key != before
    assert KEPT not in client.session


@pytest.mark.parametrize(
    ("wanted", "gone_to"),
    [
        ("/shows/x/enter/", "/shows/x/enter/"),
        ("https://evil.example/", "/"),
        ("//evil.example", "/"),
    ],
)
def test_one_goes_back_to_where_one_came_from_and_nowhere_else(
    client: Client, key: SoftPasskey, wanted: str, gone_to: str
):
    assert sign_in(client, key, next=wanted)["Location"] == gone_to


def test_a_device_that_does_not_count_may_come_again(
    client: Client, stranger: Person, key: SoftPasskey
):
    for _ in range(2):
        key.count = -1  # nought, once it has signed
        assert sign_in(Client(), key).status_code == 302
    assert Passkey.objects.get().sign_count == 0


def test_two_people_each_with_their_own(client: Client, key: SoftPasskey):
    other, theirs = PersonFactory.create(), SoftPasskey()
    client.force_login(other)
    add(client, theirs)
    fresh = Client()
    sign_in(fresh, theirs)
    assert signed_in_as(fresh) == str(other.pk)


# --- What signs nobody in -------------------------------------------------------------------


@pytest.mark.parametrize(
    "wrong",
    [
        {"origin": "https://evil.example"},
        {"origin": "http://testserver"},
        {"origin": "https://testserver.evil.example"},
        {"rp_id": "evil.example"},
        {"flags": PRESENT},
        {"flags": VERIFIED},
        {"handle": user_handle(999_999)},
    ],
    ids=str,
)
def test_an_answer_from_elsewhere_or_from_nobody(
    client: Client, key: SoftPasskey, wrong: dict[str, Any]
):
    kept = {name: getattr(key, name) for name in wrong}
    for name, value in wrong.items():
        setattr(key, name, value)
    refused(client, sign_in(client, key))
    for name, value in kept.items():
        setattr(key, name, value)
    assert sign_in(client, key).status_code == 302


def test_an_answer_to_somebody_elses_question(client: Client, key: SoftPasskey):
    foreign = key.sign(question(Client()))
    question(client)
    refused(client, post(client, "passkey-sign-in", credential=foreign))


def test_an_answer_sent_again(client: Client, key: SoftPasskey):
    signed = key.sign(question(client))
    assert post(client, "passkey-sign-in", credential=signed).status_code == 302
    client.post(reverse("shows:sign-out"), secure=True)
    refused(client, post(client, "passkey-sign-in", credential=signed), 410)
    question(client)
    refused(client, post(client, "passkey-sign-in", credential=signed))


def test_a_refused_answer_uses_its_question_up(client: Client, key: SoftPasskey):
    asked = question(client)
    refused(client, post(client, "passkey-sign-in", credential="{}"))
    refused(client, post(client, "passkey-sign-in", credential=key.sign(asked)), 410)


def test_only_the_last_question_counts(client: Client, key: SoftPasskey):
    first = question(client)
    question(client)
    refused(client, post(client, "passkey-sign-in", credential=key.sign(first)))


def test_an_answer_that_comes_late(client: Client, key: SoftPasskey):
    signed = key.sign(question(client))
    session = client.session
    asked_at = datetime.fromisoformat(session[KEPT]["at"]) - timedelta(minutes=6)
    session[KEPT] = {**session[KEPT], "at": asked_at.isoformat()}
    session.save()
    refused(client, post(client, "passkey-sign-in", credential=signed), 410)


@pytest.mark.parametrize("back", [1, 2])
def test_a_count_that_does_not_go_up_is_a_copy(client: Client, key: SoftPasskey, back: int):
    for _ in range(2):
        assert sign_in(Client(), key).status_code == 302
    key.count -= back
    refused(client, sign_in(client, key))
    assert Passkey.objects.get().sign_count == 2


def test_another_key_under_the_same_id(client: Client, key: SoftPasskey):
    class Thief(SoftPasskey):
        credential_id = key.credential_id  # type: ignore[assignment]

    refused(client, sign_in(client, Thief(handle=key.handle)))


def test_a_signature_over_something_else(client: Client, key: SoftPasskey):
    asked = question(client)
    answer = json.loads(key.sign(asked))
    key.rp_id = "testserver"
    key.count += 5
    other = json.loads(key.sign(asked))
    answer["response"]["authenticatorData"] = other["response"]["authenticatorData"]
    refused(client, post(client, "passkey-sign-in", credential=json.dumps(answer)))


def test_the_signature_of_making_a_passkey_is_none_of_signing_in(client: Client, key: SoftPasskey):
    signed = key.sign(question(client), kind="webauthn.create")
    refused(client, post(client, "passkey-sign-in", credential=signed))


def test_a_passkey_nobody_added_and_one_that_was_removed(client: Client, key: SoftPasskey):
    refused(client, sign_in(client, SoftPasskey()))
    Passkey.objects.all().delete()
    refused(client, sign_in(client, key))


def test_a_person_who_was_put_away(client: Client, stranger: Person, key: SoftPasskey):
    stranger.is_active = False
    stranger.save()
    refused(client, sign_in(client, key))


@pytest.mark.parametrize(
    "garbage",
    ["", "{}", "[]", "null", "1", "{", '{"id": 5}', "[" * 5000, "x" * (LONGEST_ANSWER + 1),
     '{"id":"AA","rawId":"AA","type":"public-key","response":[]}', '{"id":"\u00e4=%"}'],
    ids=range(11),
)  # fmt: skip
def test_garbage(client: Client, key: SoftPasskey, garbage: str):
    question(client)
    refused(client, post(client, "passkey-sign-in", credential=garbage))
    owner = Client()
    owner.force_login(Passkey.objects.get().person)
    question(owner, "passkey-new-question")
    assert post(owner, "passkeys", do="add", credential=garbage).status_code == 422


def test_a_form_from_another_site_is_not_heard(key: SoftPasskey):
    client = Client(enforce_csrf_checks=True)
    for name in ("passkey-question", "passkey-sign-in", "passkey-new-question", "passkeys"):
        assert post(client, name).status_code in (302, 403), name
    assert post(client, "passkey-question").status_code == 403


def test_questions_have_an_end_and_leave_links_alone(client: Client, key: SoftPasskey):
    for _ in range(ASKS_PER_ADDRESS):
        question(client)
    assert post(client, "passkey-question").status_code == 429
    assert post(client, "sign-in", email="sam@showrun.example").status_code == 302


def test_the_log_names_no_person(
    client: Client, stranger: Person, key: SoftPasskey, caplog: pytest.LogCaptureFixture
):
    caplog.set_level("INFO")
    key.rp_id = "evil.example"
    refused(client, sign_in(client, key))
    assert "passkey refused" in caplog.text
    for word in (stranger.email, stranger.name, Passkey.objects.get().credential_id):
        assert word not in caplog.text
