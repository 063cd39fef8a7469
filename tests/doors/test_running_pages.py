"""Progress while judging runs, and who may open the pages and do the deeds of the office."""

from __future__ import annotations

import re
from typing import Any
from uuid import uuid4

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from entries.models import Entry
from judging.actions.pair_device import shut_out_device
from judging.models import CardMark, Criterion, Question, RoundEvent, SafetyConcern
from showrun.shows.models import AuditEntry, Person, Show
from tests.judged_show import (
    AT,
    build_show,
    card_events,
    concern,
    entry_of,
    judge_of,
    mark,
    mark_everything,
    office_of,
    open_window,
    pair,
    send,
    steward_of,
)

pytestmark = pytest.mark.django_db
OFFICE_PAGES = ("progress", "questions", "record")


def address(name: str, show: Show) -> str:
    return reverse(f"judging:{name}", args=[show.slug])


def read(client: Client, name: str, show: Show, query: str = "") -> str:
    client.force_login(office_of(show))
    answer = client.get(address(name, show) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def cell_of(text: str, wagon: str, column: int) -> str:
    """Return what the grid says of a wagon and the nth judge."""
    row = re.search(rf"<tr><th scope=\"row\">\d+\. {wagon}</th>(.*?)</tr>", text, re.S)
    assert row
    cells = re.findall(r"<td>(.*?)</td>", row[1], re.S)
    return re.sub(r"<[^>]+>", " ", cells[column]).strip()


@pytest.fixture
def asked() -> Question:
    """A question to J1, in a show whose every card is in."""
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    mark_everything(show)
    judge, entry = judge_of(show, "J1"), entry_of(show, 2)
    return Question.objects.create(
        judge=judge,
        entry=entry,
        criterion=Criterion.objects.get(code="ck_order"),
        value=0,
        expected=8,
        statistic=6.0,
        threshold=4.0,
        alpha=0.05,
        asked_at=AT,
    )


# --- Progress -------------------------------------------------------------------------


def test_cards_are_counted_and_named_by_their_state(client: Client):
    show = build_show(n_judges=3, judges_per_section=3, kin=False)
    open_window(show)
    judge, first, second = judge_of(show, "J1"), entry_of(show, 1), entry_of(show, 2)
    device, _ = pair(judge)
    send(device, card_events(judge, first))
    send(device, card_events(judge, second)[:2])
    send(device, card_events(judge, entry_of(show, 3))[:-1])
    text = read(client, "progress", show)
    assert "1 of 15 cards in." in text
    assert re.search(r'<progress class="meter" max="15" value="1"', text)
    assert cell_of(text, first.wagon_name, 0).startswith("in")
    assert cell_of(text, second.wagon_name, 0).startswith("2 of ")
    assert cell_of(text, "Copper Moth", 0).startswith("marked, not handed in")
    assert cell_of(text, first.wagon_name, 1).startswith("not begun")


def test_a_judge_kept_from_a_wagon_has_no_seat_there(client: Client):
    show = build_show(n_entries=3, n_judges=3)
    open_window(show)
    assert cell_of(read(client, "progress", show), "Patient Mule", 1) == "no seat"


def test_before_the_panel_the_page_says_where_to_go(client: Client):
    text = read(client, "progress", build_show())
    assert "The panel is not drawn yet." in text
    assert "0 of 0 cards in." in text


def test_phones_tell_their_last_contact_and_what_they_still_hold(client: Client):
    show = build_show()
    open_window(show)
    device, _ = pair(judge_of(show, "J1"), label="Blue cover")
    send(device, [mark(entry_of(show, 1), "ck_order", 7)], unsent=12)
    text = read(client, "progress", show)
    row = re.search(r"<tr><th scope=\"row\">Chidi Abara \(J1\)</th>.*?</tr>", text, re.S)
    assert row
    assert "Blue cover" in row[0]
    assert "last contact" in row[0]
    assert ">12<" in row[0]
    assert text.count("no phone paired") == 3
    shut_out_device(device=device, by=office_of(show), at=AT, reason="lost")
    assert read(client, "progress", show).count("no phone paired") == 4


def held_event(show: Show) -> RoundEvent:
    """A mark over the maximum, held for the office."""
    judge = judge_of(show, "J1")
    seat = judge.seats.select_related("entry").filter(section__code="camp_kit").first()
    assert seat
    device, _ = pair(judge, label="Blue cover")
    assert send(device, [mark(seat.entry, "ck_fire", 11)])[0].status == "held"
    return RoundEvent.objects.get(applied=False)


def test_a_held_event_is_told_in_plain_words_and_settled_with_a_note(client: Client):
    show = build_show()
    open_window(show)
    event = held_event(show)
    text = read(client, "progress", show)
    wagon = Entry.objects.get(pk=event.body["entry"]).called
    assert escape(f"Mark 11 for Fire tools and water, wagon {wagon}") in text
    assert "takes at most 10" in text
    assert "Blue cover" in text
    settle = reverse("judging:settle-event", args=[event.pk])
    answer: Any = client.post(settle, {"note": "Judge meant 10; marked again."})
    assert answer.url == address("progress", show) + "#held"
    event.refresh_from_db()
    assert event.settled_note == "Judge meant 10; marked again."
    assert event.settled_by == office_of(show)
    assert "Mark 11" not in read(client, "progress", show)
    again = client.post(settle, {"note": "Twice."})
    assert "does not wait" in said(again)
    event.refresh_from_db()
    assert event.settled_note == "Judge meant 10; marked again."


def test_settling_without_a_note_shows_the_form_again(client: Client):
    show = build_show()
    open_window(show)
    event = held_event(show)
    client.force_login(office_of(show))
    answer: Any = client.post(reverse("judging:settle-event", args=[event.pk]), {"note": "  "})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "A note, please." in text
    assert 'aria-invalid="true"' in text
    event.refresh_from_db()
    assert event.settled_at is None


def test_a_concern_is_seen_once_and_points_stay_as_they_are(client: Client):
    show = build_show()
    open_window(show)
    judge = judge_of(show, "J1")
    seat = judge.seats.select_related("entry").first()
    assert seat
    device, _ = pair(judge)
    send(device, [concern(seat.entry, "mend", "Spoke loose.")])
    raised = SafetyConcern.objects.get()
    text = read(client, "progress", show)
    assert "Mend before moving: wagon" in text
    assert "not seen" in text
    see = reverse("judging:see-concern", args=[raised.pk])
    assert client.post(see)["Location"] == address("progress", show) + "#concerns"
    raised.refresh_from_db()
    first_seen = raised.seen_at
    client.force_login(steward_of(show))
    client.post(see)
    raised.refresh_from_db()
    assert (raised.seen_by, raised.seen_at) == (office_of(show), first_seen)
    assert AuditEntry.objects.filter(verb="saw").count() == 1
    assert not CardMark.objects.exists()


def test_the_page_refreshes_by_an_external_script_only(client: Client):
    text = read(client, "progress", build_show())
    assert re.search(r'<script type="module" src="[^"]+show/office\.js"></script>', text)
    assert 'data-refresh="20"' in text
    assert re.findall(r"<script(?![^>]* src=)", text) == []
    assert " style=" not in text


# --- Who may --------------------------------------------------------------------------


@pytest.mark.parametrize("name", OFFICE_PAGES)
def test_pages_of_the_office_are_the_offices(client: Client, name: str, stranger: Person):
    show, other = build_show(), build_show(slug="elsewhere")
    assert client.get(address(name, show)).status_code == 404
    for person, status in (
        (stranger, 404),
        (office_of(other), 404),
        (entry_of(show).exhibitor, 403),
        (judge_of(show).person, 403),
        (steward_of(show), 200),
        (office_of(show), 200),
    ):
        client.force_login(person)
        assert client.get(address(name, show)).status_code == status, person


def test_deeds_are_refused_to_everybody_else(client: Client, asked: Question, stranger: Person):
    show = asked.judge.show
    assert asked.entry
    device, _ = pair(asked.judge)
    send(device, [mark(asked.entry, "ck_fire", 11), concern(asked.entry, "stop", "Crack.")])
    event = RoundEvent.objects.get(applied=False)
    raised = SafetyConcern.objects.get()
    other = build_show(slug="elsewhere", n_entries=1)
    deeds = [
        (reverse("judging:settle-event", args=[event.pk]), {"note": "Mine."}),
        (reverse("judging:see-concern", args=[raised.pk]), {}),
        (
            reverse("judging:answer-question", args=[asked.pk]),
            {"verdict": "confirm", "reason": "x"},
        ),
        (address("run-checks", show), {}),
    ]
    for person, status in (
        (None, 404),
        (stranger, 404),
        (office_of(other), 404),
        (asked.entry.exhibitor, 403),
        (asked.judge.person, 403),
    ):
        client.logout()
        if person:
            client.force_login(person)
        for at, typed in deeds:
            assert client.post(at, typed).status_code == status, (person, at)
            assert client.get(at).status_code == 405
    event.refresh_from_db()
    raised.refresh_from_db()
    asked.refresh_from_db()
    assert (event.settled_at, raised.seen_at, asked.state) == (None, None, Question.State.OPEN)


def test_things_that_are_not_there_are_not_found(client: Client):
    show = build_show(n_entries=1)
    client.force_login(office_of(show))
    for at in (
        reverse("judging:settle-event", args=[uuid4()]),
        reverse("judging:see-concern", args=[10**6]),
        reverse("judging:answer-question", args=[10**6]),
    ):
        assert client.post(at).status_code == 404


@pytest.mark.parametrize("name", OFFICE_PAGES)
def test_the_number_of_queries_does_not_grow_with_the_show(client: Client, name: str):
    counts = []
    for slug, n_entries in (("small", 3), ("large", 9)):
        show = build_show(slug=slug, n_entries=n_entries, judging_minutes=900)
        open_window(show)
        judge = judge_of(show, "J1")
        seats = judge.seats.filter(section__code="camp_kit").select_related("entry")
        device, _ = pair(judge)
        for seat in seats:
            send(device, [concern(seat.entry, "note", "Dry."), mark(seat.entry, "ck_fire", 11)])
        mark_everything(show)
        client.force_login(office_of(show))
        client.get(address(name, show))
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address(name, show)).status_code == 200
        counts.append(len(queries))
    assert counts[0] == counts[1]
