"""What came too late from a phone, as the office takes it in or leaves it out."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from judging.actions.pair_device import shut_out_device
from judging.models import CardMark, RoundEvent
from showrun.shows.models import Show
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    judge_of,
    mark,
    office_of,
    open_window,
    pair,
    rows_of,
    send,
)
from tests.remembered import remembered

pytestmark = pytest.mark.django_db


@pytest.fixture
@remembered
def show() -> Show:
    show = build_show()
    open_window(show)
    return show


class Lost:
    """A phone shut out before it sent a card, and the office looking at what it sent."""

    def __init__(self, client: Client, show: Show) -> None:
        judge = judge_of(show)
        self.client, self.show = client, show
        self.phone, _ = pair(judge, label="Blue cover")
        shut_out_device(device=self.phone, by=office_of(show), at=AT, reason="Lost.")
        entry = judge.seats.earliest("entry__number").entry
        self.events = card_events(judge, entry, 6)
        over = mark(entry, rows_of(judge, entry)[0].code, 11)
        send(self.phone, [{**over, "keyed_by": "Oda <Brandt>"}, *self.events])
        client.force_login(office_of(show))

    def page(self) -> str:
        address = reverse("judging:progress", args=[self.show.slug])
        return unescape(self.client.get(address).content.decode())

    def settle(self, **form: str) -> Any:
        address = reverse("judging:settle-phone", args=[self.show.slug, self.phone.pk])
        form = {"code": "device-shut-out", "note": "Found in the truck.", **form}
        return self.client.post(address, form, follow=True)


@pytest.fixture
def lost(client: Client, show: Show) -> Lost:
    return Lost(client, show)


def test_the_page_puts_a_phones_touches_together_and_tells_who_keyed(lost: Lost):
    text = lost.page()
    n = len(lost.events) + 1
    assert f"{n} touches that came after the phone was shut out." in text
    assert text.count('value="leave_out"') == 1
    # Each in the list, and all of them together.
    assert text.count('value="take_in"') == n + 1
    assert "keyed by <bdi>Oda <Brandt></bdi>" in text


def test_they_are_taken_in_together_and_what_cannot_count_stays(lost: Lost):
    said = unescape(lost.settle(verdict="take_in").content.decode())
    assert f"Taken in: {len(lost.events)} touches. 1 still held, with the reason below." in said
    assert "takes at most 10" in said
    assert set(CardMark.objects.values_list("value", flat=True)) == {6}
    assert 'value="take_in"' not in lost.page()


def test_they_are_left_out_together(lost: Lost):
    said = unescape(lost.settle(verdict="leave_out").content.decode())
    assert f"Left out: {len(lost.events) + 1} touches." in said
    assert "Nothing is held" in said
    assert not CardMark.objects.exists()
    again = unescape(lost.settle(verdict="leave_out").content.decode())
    assert "No touch of this phone waits for that any more." in again


@pytest.mark.parametrize(
    ("form", "fault"),
    [
        ({"verdict": "take_in", "note": " "}, "Why, please."),
        ({"verdict": "leave_out", "note": ""}, "Why, please."),
        ({"verdict": "?"}, "Take them in, or leave them out."),
    ],
)
def test_a_form_without_its_reason_is_shown_again(lost: Lost, form: dict[str, str], fault: str):
    answer = lost.settle(**form)
    assert answer.status_code == 422
    text = unescape(answer.content.decode())
    assert re.search(
        rf'class="fault" id="phone-fault-{lost.phone.pk}-device-shut-out">{fault}', text
    )
    assert not CardMark.objects.exists()


def test_touches_held_for_something_else_are_not_settled_by_the_phone(lost: Lost):
    assert lost.settle(verdict="leave_out", code="mark-over-maximum").status_code == 422
    assert not RoundEvent.objects.filter(settled_at__isnull=False).exists()


def test_one_touch_is_taken_in_with_its_note(lost: Lost):
    second = RoundEvent.objects.get(seq=2)
    address = reverse("judging:settle-event", args=[second.pk])
    said = lost.client.post(address, {"note": "Seen.", "verdict": "take_in"}, follow=True)
    assert "Taken in: 1 touch." in said.content.decode()
    assert CardMark.objects.get().value == 6
    over = reverse("judging:settle-event", args=[RoundEvent.objects.get(seq=1).pk])
    said = lost.client.post(over, {"note": "Seen.", "verdict": "take_in"}, follow=True)
    assert "It cannot take effect and stays held" in said.content.decode()


def test_a_phone_of_another_show_is_not_there(lost: Lost):
    other = build_show(slug="other-ground")
    phone, _ = pair(judge_of(other))
    address = reverse("judging:settle-phone", args=[lost.show.slug, phone.pk])
    form = {"code": "device-shut-out", "verdict": "leave_out", "note": "Mine now."}
    assert lost.client.post(address, form).status_code == 404
