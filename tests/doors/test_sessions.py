"""Sessions: new at every sign-in, over after a week, ended everywhere at once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from sesame.utils import get_token

from showrun.shows.actions.change_roles import hand_out_role, take_role_back
from showrun.shows.models import Person, Show
from showrun.shows.rules.access import Role
from tests.people import NOW

pytestmark = pytest.mark.django_db


def sign_in(client: Client, person: Person, token: str = ""):
    given = {"sesame": token or get_token(person)}
    return client.post(reverse("shows:sign-in-link"), given)


def knows(client: Client) -> bool:
    return client.get("/api/v1/me").status_code == 200


def test_a_session_from_before_signing_in_is_not_the_one_after(client: Client, stranger: Person):
    client.post(reverse("shows:sign-in"), {"email": stranger.email})
    before = client.cookies[settings.SESSION_COOKIE_NAME].value
    sign_in(client, stranger)
    after = client.cookies[settings.SESSION_COOKIE_NAME].value
    assert knows(client)
    assert before != after
    assert not Session.objects.filter(session_key=before).exists()


def test_signing_out_everywhere_ends_every_session_and_waiting_link(stranger: Person):
    here, there = Client(), Client()
    for client in (here, there):
        sign_in(client, stranger)
        stranger.refresh_from_db()
    waiting = get_token(stranger)
    assert knows(here) and knows(there)
    assert here.post(reverse("shows:sign-out-everywhere")).status_code == 302
    assert not knows(here) and not knows(there)
    assert sign_in(Client(), stranger, waiting).status_code == 410
    stranger.refresh_from_db()
    assert sign_in(there, stranger).status_code == 302
    assert knows(there)


def test_another_persons_sessions_go_on(stranger: Person, office: Person):
    mine, other = Client(), Client()
    mine.force_login(stranger)
    other.force_login(office)
    mine.post(reverse("shows:sign-out-everywhere"))
    assert knows(other) and not knows(mine)


def test_a_session_is_over_after_a_week_however_much_it_is_used(
    client: Client, stranger: Person, monkeypatch: pytest.MonkeyPatch
):
    sign_in(client, stranger)
    began = timezone.now()
    for days, known in ((3, True), (6, True), (8, False)):
        monkeypatch.setattr("django.utils.timezone.now", lambda d=days: began + timedelta(days=d))
        assert knows(client) is known, days


def test_a_role_given_or_taken_back_counts_at_once(client: Client, show: Show, office: Person):
    helper = hand_out_role(
        show=show, email="help@showrun.example", name="Hana", role=Role.STEWARD, by=office, at=NOW
    )
    client.force_login(helper)
    page = f"/shows/{show.slug}/office/"
    assert client.get(page).status_code == 200
    take_role_back(
        show=show, person_id=helper.pk, role=Role.STEWARD, reason="Left.", by=office, at=NOW
    )
    assert client.get(page).status_code == 404
