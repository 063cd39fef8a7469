"""The office's page of people, as it is read and sent."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.queries import roles_of
from showrun.shows.rules.access import Role
from showrun.shows.rules.giving import GIVEN, what_it_lets
from tests import papers_stage as stage

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return stage.show()


@pytest.fixture
def office(show: Show) -> Client:
    client = Client()
    client.force_login(stage.person("Nora Fields", "office", show=show))
    return client


@pytest.fixture
def page(show: Show) -> str:
    return reverse("shows:people", args=[show.slug])


def text(answer: object) -> str:
    import html

    body = answer.content.decode()  # type: ignore[attr-defined]
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)))


def test_it_says_what_each_role_lets_people_do_and_who_holds_it(
    office: Client, show: Show, page: str
) -> None:
    stage.person("Hal Steward", "steward", show=show)
    stage.person("Jo Judge", "judge", show=show)
    said = text(office.get(page))
    for role in Role:
        assert what_it_lets(role) in said
    for name in ("Nora Fields", "Hal Steward", "Jo Judge", "hal.steward@people.example"):
        assert name in said
    offered = re.findall(r'<option value="(\w+)"', office.get(page).content.decode())
    assert offered == [role.value for role in GIVEN]


def test_a_role_is_given_and_taken_back(office: Client, show: Show, page: str) -> None:
    sent = {"do": "give", "role": "announcer", "email": "ann@people.example", "name": "Ann Oak"}
    answer = office.post(page, sent, follow=True)
    assert answer.redirect_chain == [(page, 302)]
    assert "Ann Oak is announcer of this show now" in text(answer)
    ann = Person.objects.get(email="ann@people.example")
    assert roles_of(ann, show) == {Role.ANNOUNCER}
    taken = {"do": "take", "role": "announcer", "person": str(ann.pk), "reason": "Lost her voice."}
    assert "Ann Oak is not announcer of this show any more" in text(
        office.post(page, taken, follow=True)
    )
    assert roles_of(ann, show) == frozenset()
    assert AuditEntry.objects.get(verb="took a role back").reason == "Lost her voice."


def test_what_was_typed_stays_and_its_fault_stands_beside_it(office: Client, page: str) -> None:
    answer = office.post(page, {"do": "give", "role": "steward", "email": "a@b", "name": "<b>Al"})
    assert answer.status_code == 422
    body = answer.content.decode()
    assert 'value="a@b"' in body
    assert 'value="&lt;b&gt;Al"' in body
    assert 'aria-describedby="give-email-fault' in body
    assert '<option value="steward" selected>' in body


def test_the_last_of_the_office_has_no_button_and_is_refused(
    office: Client, show: Show, page: str
) -> None:
    body = office.get(page).content.decode()
    assert "A show keeps one person in its office at least." in body
    assert 'value="take"' not in body
    nora = Person.objects.get(name="Nora Fields")
    sent = {"do": "take", "role": "office", "person": str(nora.pk), "reason": "Tired."}
    answer = office.post(page, sent)
    assert answer.status_code == 409
    assert roles_of(nora, show) == {Role.OFFICE}


@pytest.mark.parametrize(
    "sent",
    [{"do": "give", "role": "king", "email": "a@people.example", "name": "A"}, {"do": "crown"},
     {"do": "crown", "role": "steward"}, {"do": "take", "role": "steward", "person": "x"}],
)  # fmt: skip
def test_what_makes_no_sense_changes_nothing(
    office: Client, page: str, sent: dict[str, str]
) -> None:
    assert office.post(page, sent).status_code in (409, 422)
    assert not AuditEntry.objects.exists()


def test_it_is_the_offices_alone(show: Show, page: str) -> None:
    for roles, status in ((("steward",), 403), ((), 404)):
        client = Client()
        client.force_login(stage.person(f"P {roles}", *roles, show=show))
        assert client.get(page).status_code == status
