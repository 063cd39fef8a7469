"""`Idempotency-Key`: what is sent twice is done once, and answered twice the same."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from entries.actions.enter import enter
from entries.models import Entry
from entries.rules.places import Status
from judging.models import Judge, PairingCode
from showrun.errors import Conflict
from showrun.shows.actions.keep_answer import Turn, keep, take_turn
from showrun.shows.models import KeptAnswer, Person, Show
from showrun.shows.rules.kept_answers import GIVEN_UP_AFTER, KEPT_FOR
from tests.people import RIG, EntryFactory, PersonFactory
from tests.problems import problem

pytestmark = pytest.mark.django_db

CREW = [{"name": "Ada Moor", "role": "head_cook"}, {"name": "Ben Oak", "role": "cook"}]
WAGON = {"wagon_name": "Tin Sparrow", "rig": RIG, "classes": ["trail"], "crew": CREW}
KEY = "8e03978e-40d5-43dd-bc93-6894a57f9324"


@pytest.fixture
def show(show: Show) -> Show:
    """The show of the cast, a month from now, whenever the tests run."""
    show.starts_on = timezone.localdate() + timedelta(days=30)
    show.ends_on = show.starts_on + timedelta(days=2)
    show.save()
    return show


def send(person: Person | None, path: str, sent: Any, key: str = KEY, **headers: str) -> Any:
    client = Client(raise_request_exception=False)
    if person:
        client.force_login(person)
    headers = {"idempotency-key": key, **headers}
    text = sent if isinstance(sent, str) else json.dumps(sent)
    return client.post(f"/api/v1/{path}", text, content_type="application/json", headers=headers)


def entries(show: Show) -> str:
    return f"shows/{show.slug}/entries"


def test_a_wagon_sent_twice_is_entered_once_and_answered_twice(show: Show, stranger: Person):
    first = send(stranger, entries(show), WAGON)
    assert first.status_code == 201
    assert "Idempotency-Replayed" not in first
    # the same in another order of its members, and the key as a string of a structured field
    again = send(stranger, entries(show), dict(reversed(WAGON.items())), f'"{KEY}"')
    assert (again.status_code, again.json()) == (201, first.json())
    assert again["Idempotency-Replayed"] == "true"
    assert again["Content-Type"] == first["Content-Type"]
    assert Entry.objects.count() == 1


def test_without_a_key_or_with_another_it_is_another_request(show: Show, stranger: Person):
    assert send(stranger, entries(show), WAGON).status_code == 201
    named = {"wagon_name": ["You have entered this wagon already."]}
    for key in ("another", KEY.upper()):
        answered = send(stranger, entries(show), WAGON, key)
        assert problem(answered, 422, "invalid-input")["errors"] == named


def test_a_key_belongs_to_a_person_and_an_address(show: Show, stranger: Person, office: Person):
    first = send(stranger, entries(show), WAGON).json()
    other = send(PersonFactory.create(), entries(show), WAGON)
    assert (other.status_code, other.json()["id"] == first["id"]) == (201, False)
    waited = send(office, f"entries/{first['id']}/wait", WAGON)
    scratched = send(office, f"entries/{first['id']}/scratch", {"reason": "axle"})
    assert (waited.status_code, scratched.status_code) == (200, 200)
    assert KeptAnswer.objects.count() == 4


def test_a_key_with_another_body_is_refused(show: Show, stranger: Person):
    assert send(stranger, entries(show), WAGON).status_code == 201
    other = send(stranger, entries(show), {**WAGON, "wagon_name": "Copper Moon"})
    problem(other, 422, "key-reused")
    assert Entry.objects.count() == 1


def test_while_the_first_is_answered_the_second_is_told_to_come_again(
    show: Show, stranger: Person, monkeypatch: pytest.MonkeyPatch
):
    seen: list[Any] = []

    def enters(**told: Any) -> Entry:
        seen.append(send(stranger, entries(show), WAGON))
        return EntryFactory.create(show=show, exhibitor=stranger)

    monkeypatch.setattr("entries.api.views.enter", enters)
    assert send(stranger, entries(show), WAGON).status_code == 201
    (second,) = seen
    problem(second, 409, "in-progress")
    assert second["Retry-After"] == "1"


def test_a_refusal_of_the_show_is_said_again(show: Show, office: Person):
    entry = EntryFactory.create(show=show, status=Status.SCRATCHED.value)
    first = send(office, f"entries/{entry.pk}/confirm", {})
    body = problem(first, 409, "not-yet")
    Entry.objects.filter(pk=entry.pk).update(status=Status.ENTERED.value)
    again = send(office, f"entries/{entry.pk}/confirm", {})
    assert problem(again, 409, "not-yet") == body
    assert again["Idempotency-Replayed"] == "true"
    assert send(office, f"entries/{entry.pk}/confirm", {}, "new").status_code == 200


@pytest.mark.parametrize("what", ["rights", "tag"])
def test_what_was_refused_unseen_may_be_tried_again_with_its_key(
    show: Show, office: Person, steward: Person, what: str
):
    entry = EntryFactory.create(show=show)
    address = f"entries/{entry.pk}/confirm"
    if what == "rights":
        assert send(steward, address, {}).status_code == 403
    else:
        assert send(office, address, {}, **{"if-match": '"stale"'}).status_code == 412
    assert not KeptAnswer.objects.exists()
    assert send(office, address, {}).status_code == 200


def test_a_fault_of_ours_keeps_nothing_and_gives_the_key_back(
    show: Show, stranger: Person, monkeypatch: pytest.MonkeyPatch
):
    def breaks(**told: Any) -> Entry:
        enter(**told)
        raise RuntimeError

    monkeypatch.setattr("entries.api.views.enter", breaks)
    assert send(stranger, entries(show), WAGON).status_code == 500
    assert not Entry.objects.exists(), "undone with its answer"
    assert not KeptAnswer.objects.exists()
    monkeypatch.setattr("entries.api.views.enter", enter)
    assert send(stranger, entries(show), WAGON).status_code == 201


@pytest.mark.parametrize("key", ["", '"', '""', "two words", "x" * 256, 'qu"ote', "ümlaut"])
def test_what_is_no_key_is_refused(show: Show, stranger: Person, key: str):
    problem(send(stranger, entries(show), WAGON, key), 400, "bad-key")
    assert not Entry.objects.exists()


def test_a_body_that_cannot_be_read_claims_no_key(show: Show, stranger: Person):
    problem(send(stranger, entries(show), "{"), 400, "parse-error")
    assert not KeptAnswer.objects.exists()


def test_after_a_day_a_key_is_free_and_what_was_kept_is_gone(show: Show, stranger: Person):
    assert send(stranger, entries(show), WAGON).status_code == 201
    KeptAnswer.objects.update(claimed_at=timezone.now() - KEPT_FOR)
    other = {**WAGON, "wagon_name": "Copper Moon"}
    assert send(stranger, entries(show), other).status_code == 201
    assert KeptAnswer.objects.count() == 1


# --- One who was broken off ----------------------------------------------------------------


@pytest.fixture
def turn_at(stranger: Person, at: Any) -> Callable[[timedelta], Any]:
    def take(later: timedelta) -> Any:
        asked = at + later
        return take_turn(person=stranger, path="POST /x", key=KEY, body_hash="0", at=asked)

    return take


def test_who_was_broken_off_is_followed_and_can_keep_nothing_any_more(turn_at: Any):
    first = turn_at(timedelta())
    with pytest.raises(Conflict, match="being answered"):
        turn_at(GIVEN_UP_AFTER - timedelta(seconds=1))
    second = turn_at(GIVEN_UP_AFTER)
    assert isinstance(second, Turn)
    with pytest.raises(Conflict, match="being answered"):
        keep(turn=first, status=201, body="{}")
    keep(turn=second, status=201, body='{"n":2}')
    assert turn_at(GIVEN_UP_AFTER).body == '{"n":2}'


# --- Secrets -------------------------------------------------------------------------------


def test_a_pairing_code_is_kept_nowhere(office: Person, judge: Judge):
    first = send(office, f"judges/{judge.pk}/pairings", {})
    again = send(office, f"judges/{judge.pk}/pairings", {})
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json()["code"] != again.json()["code"]
    assert PairingCode.objects.count() == 2
    assert not KeptAnswer.objects.exists()
