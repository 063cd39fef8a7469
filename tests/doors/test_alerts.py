"""What the office hears of within seconds: the lines above each of its pages."""

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
from django.utils.html import escape

from entries.models import Entry
from judging.actions.pair_device import shut_out_device
from judging.models import Device, SafetyConcern
from judging.web.alerts import SHOWN
from showrun.shows.models import Show
from tests.judged_show import (
    AT,
    build_show,
    concern,
    draw_panel,
    entry_of,
    judge_of,
    mark,
    office_of,
    pair,
    send,
)
from tests.remembered import remembered
from tests.round_events import rig_found

pytestmark = pytest.mark.django_db
CAUTION = (
    "A score or a concern is not a safety inspection; local officials and licensed practice decide."
)
OFFICE_PAGES = (
    *("reports:office", "entries:office-entries", "judging:judges", "judging:scorecard"),
    *("judging:panel", "judging:window", "judging:progress", "judging:questions"),
    *("judging:office-results", "judging:record", "reports:papers"),
)


@pytest.fixture
@remembered
def show() -> Show:
    """Three wagons, each seen by J1; entry 1 has a drop tongue."""
    show = build_show(n_entries=3, n_judges=2, kin=False)
    draw_panel(show)
    return show


@pytest.fixture
def phone(show: Show) -> Device:
    return pair(judge_of(show))[0]


def ask(client: Client, show: Show, **headers: str) -> Any:
    client.force_login(office_of(show))
    return client.get(reverse("judging:alerts", args=[show.slug]), headers=headers)


def lines(client: Client, show: Show) -> str:
    answer = ask(client, show)
    assert answer.status_code == 200
    return str(answer.content.decode())


def region(text: str, name: str) -> str:
    found = re.search(
        rf'<div[^>]* data-alerts="{name}".*?(?=<div[^>]* data-alerts=|\Z)', text, re.S
    )
    assert found
    return found[0]


def test_a_concern_says_wagon_place_judge_time_and_where_to_settle_it(client, show, phone):
    send(phone, [concern(entry_of(show), "stop", "Near line worn.", "hn_lines")])
    raised = SafetyConcern.objects.get()
    SafetyConcern.objects.update(raised_at=timezone.now() - timedelta(minutes=2))
    text = lines(client, show)
    for words in (
        "Stop now: wagon 1 Patient Mule, camp spot 1",
        "Lines and bits. Near line worn.",
        "Raised by Chidi Abara (J1)",
        "2 minutes ago",
        f'href="{reverse("judging:progress", args=[show.slug])}#concern-{raised.pk}"',
        f'action="{reverse("judging:see-concern", args=[raised.pk])}"',
        CAUTION,
        'data-alerts-title="1 stop"',
    ):
        assert words in text
    assert (
        f'id="concern-{raised.pk}"'
        in client.get(reverse("judging:progress", args=[show.slug])).content.decode()
    )


def test_a_stop_interrupts_and_the_rest_waits_for_its_turn(client, show, phone):
    entry = entry_of(show)
    send(phone, [concern(entry, degree, f"A {degree}.") for degree in ("note", "mend", "stop")])
    text = lines(client, show)
    stop, rest = region(text, "stop"), region(text, "rest")
    assert 'aria-live="assertive"' in stop
    assert "A stop." in stop
    assert 'aria-live="polite"' in rest
    assert rest.index("A mend.") < rest.index("A note.")
    assert 'data-alerts-title="1 stop, 1 mend, 1 note"' in text


def test_many_concerns_do_not_bury_the_page(client, show, phone):
    send(phone, [concern(entry_of(show), "note", f"Dry leather {n}.") for n in range(SHOWN + 3)])
    text = lines(client, show)
    assert text.count("Dry leather") == SHOWN
    assert "3 more safety concerns</a>" in text


def test_nothing_new_is_answered_without_a_body_and_kept_by_nobody(client, show, phone):
    first = ask(client, show)
    assert {"no-store", "private"} <= set(first["Cache-Control"].split(", "))
    again = ask(client, show, if_none_match=first["ETag"])
    assert (again.status_code, again.content) == (304, b"")
    send(phone, [concern(entry_of(show), "note", "Dry.")])
    changed = ask(client, show, if_none_match=first["ETag"])
    assert changed.status_code == 200
    assert changed["ETag"] != first["ETag"]


def test_one_that_could_not_be_filed_is_told_with_its_grade(client, show, phone):
    shut_out_device(device=phone, by=office_of(show), at=AT, reason="lost")
    assert send(phone, [concern(entry_of(show), "stop", "Rod cracked.")])[0].status == "held"
    stop = region(lines(client, show), "stop")
    assert "A safety concern could not be filed" in stop
    assert "Rod cracked." in stop
    assert "Settle it" in stop


def test_held_events_and_rigs_wait_in_a_quieter_line(client, show, phone):
    entry = entry_of(show)
    assert "Waits for the office" not in lines(client, show)
    send(
        phone,
        [mark(entry, "ck_fire", 11), rig_found(entry, {**entry.rig.facts(), "draft": "chain"})],
    )
    rest = region(lines(client, show), "rest")
    assert "1 rig found different</a>" in rest
    assert "1 held event</a>" in rest
    assert "data-alerts-title" not in rest


def test_whoever_has_seen_one_is_back_on_the_page_they_were_on(client, show, phone):
    here = reverse("entries:office-entries", args=[show.slug])
    progress = reverse("judging:progress", args=[show.slug]) + "#concerns"
    elsewhere = "/shows/another-show/office/"
    for back, goes_to in (
        (here, here),
        ("https://evil.example/", progress),
        ("//evil.example/shows/", progress),
        (elsewhere, progress),
        ("", progress),
    ):
        send(phone, [concern(entry_of(show), "mend", "Spoke loose.")])
        raised = SafetyConcern.objects.get(seen_at=None)
        client.force_login(office_of(show))
        see = reverse("judging:see-concern", args=[raised.pk])
        assert client.post(see, {"back": back})["Location"] == goes_to
        assert "Spoke loose." not in lines(client, show)


def test_the_page_asked_from_comes_back_in_the_form(client, show, phone):
    send(phone, [concern(entry_of(show), "mend", "Spoke loose.")])
    client.force_login(office_of(show))
    address = reverse("judging:alerts", args=[show.slug])
    text = client.get(address, {"back": '/"><script>x'}).content.decode()
    assert f'value="{escape("/" + chr(34) + "><script>x")}"' in text
    assert "<script" not in text


@pytest.mark.parametrize("name", OFFICE_PAGES)
def test_every_page_of_the_office_asks(client: Client, show: Show, name: str):
    client.force_login(office_of(show))
    page = reverse(name, args=[show.slug])
    text = client.get(page).content.decode()
    address = reverse("judging:alerts", args=[show.slug])
    assert f'data-alerts-from="{address}?back={page.replace("/", "%2F")}"' in text
    assert re.search(r'<script type="module" src="[^"]+show/office\.js"></script>', text)
    assert text.count('data-alerts="stop"') == text.count('data-alerts="rest"') == 1


def test_without_a_script_the_start_page_has_them_all_the_same(client, show, phone):
    send(phone, [concern(entry_of(show), "stop", "Near line worn.")])
    client.force_login(office_of(show))
    text = client.get(reverse("reports:office", args=[show.slug])).content.decode()
    assert "Near line worn." in region(text, "stop")


def test_the_number_of_queries_does_not_grow_with_the_concerns(client, show, phone):
    counts = []
    for n in (1, 7):
        entries = list(Entry.objects.filter(show=show))
        for entry in entries:
            send(phone, [concern(entry, "note", "Dry.") for _ in range(n)])
            send(phone, [rig_found(entry, {**entry.rig.facts(), "pattern": "military"})])
        send(phone, [concern(entries[0], "stop", "Lost.", "no_such_row"), mark(entries[0], "x", 1)])
        lines(client, show)
        with CaptureQueriesContext(connection) as queries:
            lines(client, show)
        counts.append(len(queries))
    assert counts[0] == counts[1]
