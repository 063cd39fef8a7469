"""The office's side of phones: lost ones, who keys, what calls for somebody, receipts."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from entries.models import CrewMember
from judging.actions.pair_device import pair_device, shut_out_device
from judging.models import DayRules, Device, PairingCode, Question, RoundEvent, Seat, Section
from showrun.shows.models import Person, Show
from tests.http_phone import PAIR, Phone
from tests.judged_show import (
    AT,
    add_entries,
    add_judges,
    build_show,
    card_events,
    draw_panel,
    entry_of,
    judge_of,
    mark,
    office_of,
    open_window,
    pair,
    rows_of,
    send,
    steward_of,
)
from tests.remembered import remembered
from tests.tampered import unguarded
from tests.window_page import address, client_of, press, read, said

pytestmark = pytest.mark.django_db


@pytest.fixture
@remembered
def show() -> Show:
    made = build_show(n_entries=3, n_judges=3)
    draw_panel(made)
    return made


def lose(show: Show, device: Device, person: Person | None = None, **fields: Any) -> Any:
    there = reverse("judging:lost-phone", args=[show.slug, device.pk])
    return client_of(person or office_of(show)).post(there, {"reason": "lost", **fields})


def make_code(show: Show, **fields: Any) -> Any:
    there = reverse("judging:pairing-code", args=[show.slug, judge_of(show).pk])
    return client_of(office_of(show)).post(there, fields)


def name_scribe(show: Show, device: Device, scribe: str) -> Any:
    form = {"do": "scribe", "device": device.pk, "scribe": scribe}
    return client_of(office_of(show)).post(address(show, "judges"), form)


def code_on(answer: Any) -> str:
    assert answer.status_code == 200, answer.content.decode()
    assert "no-store" in answer["Cache-Control"]
    found = re.search(r"<code>(\w{4}-\w{4})</code></h1>", answer.content.decode())
    assert found
    return found[1]


def row_of(text: str, device: Device) -> str:
    """The phone's row of the list."""
    found = re.search(rf'<tr id="phone-{device.pk}">.*?</tr>', text, re.S)
    assert found
    return found[0]


# --- Lost ----------------------------------------------------------------------------------


def test_one_button_shuts_the_lost_phone_out_and_shows_the_next_code(show: Show):
    device, _ = pair(judge_of(show), label="blue cover")
    row = row_of(read(show, "judges"), device)
    assert f'action="{reverse("judging:lost-phone", args=[show.slug, device.pk])}"' in row
    assert 'name="reason" value="lost"' in row
    answer = lose(show, device)
    text = answer.content.decode()
    assert "is shut out. What it still sends is kept aside for the office" in text
    assert f'href="{address(show, "progress")}#held"' in text
    assert '<svg role="img"' in text
    new, _ = pair_device(code=code_on(answer), label="", at=timezone.now())
    device.refresh_from_db()
    assert (new.judge, device.revoked_at is not None) == (device.judge, True)


def test_a_steward_may_and_another_shows_phone_is_out_of_reach(show: Show):
    device, _ = pair(judge_of(show))
    other = build_show(slug="elsewhere", n_entries=1)
    theirs, _ = pair(judge_of(other))
    assert lose(show, theirs).status_code == 404
    assert lose(show, device, office_of(other)).status_code == 404
    assert lose(show, device, judge_of(show).person).status_code == 403
    assert not Device.objects.filter(revoked_at__isnull=False).exists()
    assert lose(show, device, steward_of(show)).status_code == 200


def test_asked_twice_the_page_says_so_and_makes_no_second_code(show: Show):
    device, _ = pair(judge_of(show))
    lose(show, device)
    codes = PairingCode.objects.count()
    assert "is shut out already" in said(lose(show, device))
    assert PairingCode.objects.count() == codes


def test_reading_the_address_shuts_nothing_out(show: Show):
    device, _ = pair(judge_of(show))
    there = reverse("judging:lost-phone", args=[show.slug, device.pk])
    assert client_of(office_of(show)).get(there).status_code == 302
    assert not Device.objects.filter(revoked_at__isnull=False).exists()


def test_another_code_from_that_page_is_the_same_judges_and_scribes(show: Show):
    code = code_on(make_code(show, scribe="Ana Ruiz"))
    device, _ = pair_device(code=code, label="", at=timezone.now())
    text = lose(show, device).content.decode()
    form = re.findall(r'<form method="post" action="([^"]+)">.*?</form>', text, re.S)[-1]
    assert form == reverse("judging:pairing-code", args=[show.slug, judge_of(show).pk])
    assert 'name="scribe" value="Ana Ruiz"' in text
    assert "keyed by <bdi>Ana Ruiz</bdi>" in text


def test_what_a_shut_out_phone_sends_is_linked_from_its_row(show: Show):
    device, _ = pair(judge_of(show))
    shut_out_device(device=device, by=office_of(show), at=AT, reason="lost")
    assert "What it still sends is kept aside." in row_of(read(show, "judges"), device)
    send(Device.objects.get(pk=device.pk), [mark(entry_of(show), "x", 1)])
    row = row_of(read(show, "judges"), device)
    assert f'<a href="{address(show, "progress")}#held">1 touch kept aside</a>' in row
    assert "Lost phone" not in row


# --- Another phone of the same judge -------------------------------------------------------


def test_a_code_for_a_judge_with_a_phone_offers_to_take_its_place_ticked(show: Show):
    ticked = '<input type="checkbox" name="takes_place" value="yes" checked>'
    assert ticked not in read(show, "judges")
    old, _ = pair(judge_of(show), label="blue <cover>", at=timezone.now())
    text = read(show, "judges")
    assert text.count(ticked) == 1
    assert "Takes the place of <bdi>blue &lt;cover&gt;</bdi>" in text
    answer = make_code(show, takes_place="yes")
    text = answer.content.decode()
    assert "with this code, <bdi>blue &lt;cover&gt;</bdi> is shut out." in text
    # "Make another code" is for the same.
    assert '<input type="hidden" name="takes_place" value="yes">' in text
    pair_device(code=code_on(answer), label="", at=timezone.now())
    old.refresh_from_db()
    assert old.revoked_at is not None


def test_with_the_tick_taken_out_the_judge_has_two_phones(show: Show):
    old, _ = pair(judge_of(show), label="blue cover", at=timezone.now())
    answer = make_code(show)
    assert "with this code, <bdi>" not in answer.content.decode()
    pair_device(code=code_on(answer), label="red cover", at=timezone.now())
    old.refresh_from_db()
    assert old.revoked_at is None
    assert "Takes the place of <bdi>red cover, blue cover</bdi>" in read(show, "judges")


def test_programs_may_say_so_too(show: Show):
    old, _ = pair(judge_of(show), at=timezone.now())
    there = f"/api/v1/judges/{judge_of(show).pk}/pairings"
    client = client_of(office_of(show))
    for body, shut in (({}, False), ({"takes_place": True}, True)):
        made = client.post(there, body, content_type="application/json").json()
        pair_device(code=made["code"], label="", at=timezone.now())
        old.refresh_from_db()
        assert (old.revoked_at is not None) == shut


# --- Who keys ------------------------------------------------------------------------------


def test_a_code_may_name_a_scribe_and_the_phone_is_told(show: Show):
    code = code_on(make_code(show, scribe="Ana Ruiz"))
    paired = Client().post(PAIR, {"code": code}, content_type="application/json").json()
    assert paired["device"]["scribe"] == "Ana Ruiz"
    device = Device.objects.get(pk=paired["device"]["id"])
    assert "Keyed by: <bdi>Ana Ruiz</bdi>" in row_of(read(show, "judges"), device)


def test_a_new_scribe_reaches_the_phone_with_its_next_round(show: Show):
    phone = Phone(judge_of(show))
    before = phone.round()
    assert before.json()["device"]["scribe"] == ""
    answer = said(name_scribe(show, phone.device, "Ana Ruiz"))
    assert "Ana Ruiz keys on Phone of J1 for Chidi Abara (J1)" in answer
    after = phone.round(**{"If-None-Match": before["ETag"]})
    assert (after.status_code, after.json()["device"]["scribe"]) == (200, "Ana Ruiz")
    assert "The judge keys on" in said(name_scribe(show, phone.device, ""))


def test_the_judges_own_name_is_refused_in_a_sentence(show: Show):
    answer = make_code(show, scribe="chidi abara")
    assert "No code is made yet. chidi abara is the judge." in said(answer)
    device, _ = pair(judge_of(show))
    assert "is the judge" in said(name_scribe(show, device, "Chidi Abara"))
    assert PairingCode.objects.exclude(scribe="").count() == 0


def test_a_name_from_a_wagon_of_this_judges_is_warned_about_and_taken(show: Show):
    entry = judge_of(show).seats.select_related("entry")[0].entry
    CrewMember.objects.create(entry=entry, name="Ana Ruiz", role="helper")
    text = make_code(show, scribe="Ana Ruiz").content.decode()
    assert f"Somebody of wagon {entry} is called Ana Ruiz too" in text
    assert PairingCode.objects.latest("pk").scribe == "Ana Ruiz"
    device, _ = pair(judge_of(show))
    assert "is called Ana Ruiz too" in said(name_scribe(show, device, "Ana Ruiz"))
    assert "is called" not in make_code(show, scribe="Ben Oakes").content.decode()


def test_programs_name_a_scribe_too(show: Show):
    there = f"/api/v1/judges/{judge_of(show).pk}/pairings"
    client = client_of(office_of(show))
    body = {"scribe": "Ana Ruiz"}
    assert client.post(there, body, content_type="application/json").status_code == 201
    assert PairingCode.objects.latest("pk").scribe == "Ana Ruiz"
    refused = client.post(there, {"scribe": "Chidi Abara"}, content_type="application/json")
    assert refused.status_code == 422
    too_long = client.post(there, {"scribe": "x" * 81}, content_type="application/json")
    assert too_long.status_code == 422


# --- What calls for the office -------------------------------------------------------------


def told(show: Show, *, minutes: int = 0, begun: bool = False, **facts: Any) -> str:
    """The row of a phone that told this so many minutes ago."""
    if begun:
        Show.objects.filter(pk=show.pk).update(judging_starts_at=timezone.now())
    device, _ = pair(judge_of(show))
    seen = timezone.now() - timedelta(minutes=minutes)
    Device.objects.filter(pk=device.pk).update(last_seen_at=seen, **facts)
    return row_of(read(show, "judges"), device)


def test_the_list_says_battery_and_unsent_as_the_phone_told(show: Show):
    row = told(show, battery_percent=64, unsent=3)
    assert 'data-label="Battery">64 %<' in row
    assert 'data-label="Unsent">3<' in row
    assert "not all sent" in row
    assert 'data-label="Battery">not told<' in told(show)
    assert 'data-label="Battery">0 %<' in told(show, battery_percent=0)


def test_a_low_phone_with_touches_of_its_own_is_to_be_looked_after(show: Show):
    row = told(show, battery_percent=12, unsent=3)
    assert "look after it" in row
    assert "Battery at 12 %, and 3 touches are only on this phone" in row
    assert "1 phone wants looking after" in read(show, "judges")
    assert "look after it" not in told(show, battery_percent=12)


def test_a_silent_phone_calls_once_judging_has_begun(show: Show):
    Show.objects.filter(pk=show.pk).update(judging_starts_at=timezone.now() + timedelta(days=1))
    assert "look after it" not in told(show, minutes=43)
    assert "Silent for 43 minutes with cards still out" in told(show, minutes=43, begun=True)


# --- Names on cards ------------------------------------------------------------------------


@pytest.fixture
def scribed(show: Show) -> Show:
    """A card of J1's keyed by a scribe and handed in."""
    judge = judge_of(show)
    entry = judge.seats.select_related("entry").order_by("entry__number")[0].entry
    device, _ = pair(judge)
    send(device, card_events(judge, entry))
    with unguarded(RoundEvent):
        RoundEvent.objects.filter(device=device).update(keyed_by="Ana <Ruiz>")
    return show


NAMES = "Judge: Chidi Abara. Keyed by: Ana &lt;Ruiz&gt;."


def test_cards_in_the_office_say_who_judged_and_who_keyed(scribed: Show):
    assert NAMES in read(scribed, "progress")
    assert NAMES in read(scribed, "receipts")
    client = client_of(office_of(scribed))
    cards = client.get(f"/api/v1/shows/{scribed.slug}/progress").json()["cards"]
    assert [card["keyed_by"] for card in cards if card["handed_in_at"]] == [["Ana <Ruiz>"]]
    assert [card for card in cards if card["keyed_by"] and not card["handed_in_at"]] == []


def test_a_question_about_a_scribes_card_names_both(scribed: Show):
    judge = judge_of(scribed)
    seat = judge.seats.select_related("entry", "section").order_by("entry__number")[0]
    Question.objects.create(
        judge=judge, entry=seat.entry, criterion=rows_of(judge, seat.entry)[0], value=1,
        expected=8, statistic=4.0, threshold=3.5, alpha=0.05, asked_at=AT,
    )  # fmt: skip
    assert NAMES in read(scribed, "questions")
    with unguarded(RoundEvent):
        RoundEvent.objects.update(keyed_by="")
    assert "Keyed by" not in read(scribed, "questions")


# --- Receipts ------------------------------------------------------------------------------


def test_the_receipts_show_digits_gaps_and_what_is_unsent(show: Show):
    judge = judge_of(show)
    entry = judge.seats.select_related("entry")[0].entry
    code = rows_of(judge, entry)[0].code
    device, _ = pair(judge, label="blue cover")
    send(device, [{**mark(entry, code, 3), "seq": n} for n in (1, 4)], unsent=2)
    text = read(show, "receipts")
    assert re.search(r"<code>[0-9a-f]{4} [0-9a-f]{4}</code>", text)
    assert "2 missing</span> below number 4: 2 to 3." in text
    assert "2 unsent, as it told" in text
    assert address(show, "receipts") in read(show, "progress")
    assert address(show, "receipts") in read(show, "judges")


def test_queries_of_the_receipts_do_not_grow_with_the_show(show: Show):
    def queries() -> int:
        client = client_of(office_of(show))
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address(show, "receipts")).status_code == 200
        return len(asked)

    def mark_one(code: str) -> None:
        judge = judge_of(show, code)
        device, _ = pair(judge)
        for seat in judge.seats.select_related("entry"):
            send(device, card_events(judge, seat.entry)[1:])
        send(device, [{**mark(entry_of(show), "x", 1), "seq": 900}])

    mark_one("J1")
    few = queries()
    add_entries(show, 4)
    add_judges(show, 2)
    seat_newcomers(show)
    for code in ("J2", "J3", "J4", "J5"):
        mark_one(code)
    assert queries() == few


def seat_newcomers(show: Show) -> None:
    """Seat the new judges at the new wagons; what a draw would say does not matter here."""
    sections = Section.objects.filter(scorecard__show=show)
    Seat.objects.bulk_create(
        [
            Seat(judge=judge_of(show, code), entry=entry_of(show, number), section=section)
            for code in ("J4", "J5")
            for number in range(4, 8)
            for section in sections
        ]
    )


# --- The day's rules -----------------------------------------------------------------------


def test_the_grace_after_the_window_is_set_with_the_days_rules(show: Show):
    window = open_window(show, publish=False)
    fields = {
        "style": "rotating", "talk_minutes": 0, "settling_minutes": 0, "break_minutes": 0,
        "visit_spread_percent": 25, "pace_spread_percent": 10,
    }  # fmt: skip

    def send_rules(grace: str) -> Any:
        form = {f"day-{name}": value for name, value in {**fields, "grace_minutes": grace}.items()}
        return press(show, do="day", **form)

    assert 'name="day-grace_minutes" value="60"' in read(show)
    assert "The rules of the day are set" in said(send_rules("15"))
    assert DayRules.objects.get(show=show).grace_minutes == 15
    window.refresh_from_db()  # a plan is not made from it, so it stands
    for wrong in ("", "-1", "1441", "soon"):
        assert send_rules(wrong).status_code == 422
    assert DayRules.objects.get(show=show).grace_minutes == 15
