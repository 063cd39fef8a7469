"""What a phone tells beside its touches, and what the office keeps of a phone it shut out."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from judging.actions.pair_device import shut_out_device
from judging.models import Judge, RoundEvent
from judging.queries.devices import kept_aside
from showrun.shows.models import Person, Show
from tests.http_phone import Phone, first_entry, standing_marks
from tests.judged_show import AT, concern, hand_in, mark, office_of, rows_of
from tests.problems import problem

pytestmark = pytest.mark.django_db


def a_mark(judge: Judge, value: int = 7) -> dict[str, Any]:
    entry = first_entry(judge)
    return mark(entry, rows_of(judge, entry)[0].code, value)


def test_what_a_phone_shut_out_still_sends_is_kept_and_it_is_told_of_no_card(
    phone: Phone, judge: Judge
):
    entry = first_entry(judge)
    before = phone.post({"events": phone.stamp([a_mark(judge)])}).json()
    assert (before["shut_out"], list(before["cards"])) == (False, [str(entry.pk)])
    stood = standing_marks(judge)
    shut_out_device(device=phone.device, by=None, at=AT, reason="lost")
    touches = [a_mark(judge, 2), concern(entry, "stop", "Cracked."), {"kind": "?!"}, "x"]
    body = {"events": phone.stamp([*touches, hand_in(entry)]), "battery_percent": 4, "unsent": 3}
    for status in ("held", "duplicate"):
        answered = phone.post(body)
        assert answered.status_code == 200
        told = answered.json()
        assert (told["shut_out"], told["cards"]) == (True, {})
        outcomes = {(result["status"], result["code"]) for result in told["results"]}
        assert outcomes == {(status, "device-shut-out")}
    assert standing_marks(judge) == stood
    kept = RoundEvent.objects.filter(applied=False).order_by("seq")
    kinds = kept.values_list("kind", flat=True)
    assert sorted(kinds) == ["concern", "hand_in", "mark", "unreadable", "unreadable"]
    phone.device.refresh_from_db()
    assert (phone.device.battery_percent, phone.device.unsent) == (4, 3)


def test_the_phone_of_a_judge_made_inactive_is_shut_out_at_once(
    show: Show, phone: Phone, judge: Judge
):
    phone.send(phone.stamp([a_mark(judge)]))
    stood = standing_marks(judge)
    Person.objects.filter(pk=judge.person_id).update(is_active=False)
    problem(phone.round(), 401, "device-shut-out")
    told = phone.post({"events": phone.stamp([a_mark(judge, 2)])}).json()
    assert (told["shut_out"], told["cards"]) == (True, {})
    assert [one["code"] for one in told["results"]] == ["device-shut-out"]
    assert standing_marks(judge) == stood
    assert kept_aside(show) == {phone.device.pk: 1}
    client = Client()
    client.force_login(office_of(show))
    listed = client.get(f"/shows/{show.slug}/office/judges/").content.decode()
    assert '<span class="state state-bad">shut out</span>' in listed


@pytest.mark.parametrize(
    ("told", "kept"),
    [(0, 0), (100, 100), (None, None), (101, None), (-1, None), ("full", None), (True, None),
     (33.5, None), ([], None)],
)  # fmt: skip
def test_the_battery_is_noted_and_nonsense_about_it_costs_nothing(
    phone: Phone, judge: Judge, told: Any, kept: int | None
):
    answered = phone.post({"events": phone.stamp([a_mark(judge)]), "battery_percent": told})
    assert answered.json()["results"][0]["status"] == "applied"
    phone.device.refresh_from_db()
    assert phone.device.battery_percent == kept


@pytest.mark.parametrize(
    ("told", "kept"),
    [(" Oda  Brandt ", "Oda Brandt"), ("", ""), (None, ""), (7, ""), ({}, ""),
     ("x" * 90, "x" * 80), ("a\x07b \ud83d", "ab \ufffd")],
)  # fmt: skip
def test_who_keyed_is_kept_and_never_costs_the_touch(
    phone: Phone, judge: Judge, told: Any, kept: str
):
    touch = {**a_mark(judge), "keyed_by": told}
    assert phone.send(phone.stamp([touch]))[0]["status"] == "applied"
    assert RoundEvent.objects.get().keyed_by == kept
