"""Rigs found different, in the office: side by side, adopted or declined, and on the record."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.models import Entry
from judging.models import RigReport
from showrun.shows.models import Show
from tests.judged_show import (
    build_show,
    concern,
    draw_panel,
    entry_of,
    judge_of,
    mark,
    office_of,
    pair,
    send,
    steward_of,
)
from tests.round_events import rig_found

pytestmark = pytest.mark.django_db


@pytest.fixture
def report() -> RigReport:
    """J1 marked the queen bolt of entry 1, then found a stiff tongue and four horses."""
    show = build_show(n_entries=2, n_judges=2, kin=False)
    draw_panel(show)
    entry = entry_of(show)
    phone, _ = pair(judge_of(show))
    found = {**entry.rig.facts(), "tongue": "stiff", "hitch": "four_up"}
    said = "No drop hinge, and leaders in front."
    outcomes = send(phone, [mark(entry, "rg_queen_bolt", 7), rig_found(entry, found, said)])
    assert [outcome.status for outcome in outcomes] == ["applied", "applied"]
    return RigReport.objects.get()


def show_of(report: RigReport) -> Show:
    return report.judge.show


def progress(client: Client, report: RigReport) -> str:
    client.force_login(office_of(show_of(report)))
    return client.get(reverse("judging:progress", args=[show_of(report).slug])).content.decode()


def settle(client: Client, report: RigReport, **form: str) -> Any:
    client.force_login(steward_of(show_of(report)))
    return client.post(reverse("judging:settle-rig", args=[report.pk]), form)


def plain(text: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def test_entered_and_found_stand_side_by_side_with_the_rows_they_concern(client, report):
    text = progress(client, report)
    part = text[text.index('<h2 id="rigs">') : text.index('<h2 id="held">')]
    for words in (
        "Wagon 1 Patient Mule",
        "Chidi Abara (J1)",
        "No drop hinge, and leaders in front.",
        "Tongue drop tongue stiff tongue",
        "Hitch team of two four-up",
        "Draft leather tugs the same",
        "Off this judge’s card: Queen bolt and drop-tongue hounds.",
        "New on it: Leaders&#x27; harness.",
        "Marks kept aside, not counted: Queen bolt and drop-tongue hounds: 7.",
    ):
        assert words in plain(part)


def test_adopting_makes_it_the_entrys_rig_and_keeps_the_outcome(client, report):
    answer = settle(client, report, verdict="adopt", note="Walked over and looked.")
    assert answer["Location"].endswith("/office/progress/#rigs")
    entry = Entry.objects.get(pk=report.entry_id)
    assert (entry.tongue, entry.hitch) == ("stiff", "four_up")
    text = plain(progress(client, report))
    assert "No rig waits for the office." in text
    assert "stiff tongue instead of drop tongue; four-up instead of team of two" in text
    assert "settled by Tobias Windfeather" in text
    assert "Walked over and looked." in text


def test_declining_needs_a_reason_and_what_was_typed_is_not_lost(client, report):
    answer = settle(client, report, verdict="decline", note=" ")
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Why? The judge reads this." in text
    assert 'aria-invalid="true"' in text
    answer = settle(client, report, verdict="toss", note="Both hinges pinned.")
    assert answer.status_code == 422
    assert "Both hinges pinned." in answer.content.decode()
    report.refresh_from_db()
    assert report.state == RigReport.State.OPEN
    settle(client, report, verdict="decline", note="It is a drop tongue, pinned.")
    report.refresh_from_db()
    assert (report.state, report.settled_note) == ("declined", "It is a drop tongue, pinned.")
    assert Entry.objects.get(pk=report.entry_id).tongue == "drop"


def test_settling_twice_changes_nothing_the_second_time(client, report):
    settle(client, report, verdict="decline", note="Pinned.")
    answer = settle(client, report, verdict="adopt", note="Oh.")
    said = " ".join(str(message) for message in get_messages(answer.wsgi_request))
    assert "does not wait for the office any more" in said
    assert Entry.objects.get(pk=report.entry_id).tongue == "drop"


def test_the_entrys_page_has_the_outcome_and_the_exhibitor_reads_a_correction(client, report):
    page = reverse("reports:my-entry", args=[report.entry_id])

    def read(person) -> str:
        client.force_login(person)
        return plain(client.get(page).content.decode())

    entry = entry_of(show_of(report))
    assert "stiff tongue instead of drop tongue" in read(office_of(show_of(report)))
    assert "instead of" not in read(entry.exhibitor)
    settle(client, report, verdict="adopt", note="Looked.")
    corrected = read(entry.exhibitor)
    assert "Corrected at the wagon: stiff tongue instead of drop tongue" in corrected
    assert "Chidi Abara" not in corrected
    assert "Looked." in read(office_of(show_of(report)))


def test_programs_read_and_settle_them_too(client, report):
    client.force_login(steward_of(show_of(report)))
    listed = client.get(f"/api/v1/shows/{show_of(report).slug}/rig-reports").json()
    assert [one["id"] for one in listed] == [report.pk]
    assert (listed[0]["entered"]["tongue"], listed[0]["found"]["tongue"]) == ("drop", "stiff")
    address = f"/api/v1/rig-reports/{report.pk}/settle"

    def post(**body: str) -> Any:
        return client.post(address, body, content_type="application/json")

    assert post(verdict="toss").status_code == 422
    assert post(verdict="decline").json()["errors"]["note"] == ["Why? The judge reads this."]
    done = post(verdict="adopt", note="Looked.")
    assert (done.status_code, done.json()["state"], done.json()["note"]) == (
        *(200, "adopted"),
        "Looked.",
    )
    assert post(verdict="adopt").status_code == 409
    assert client.post("/api/v1/rig-reports/999999/settle").status_code == 404


def test_the_number_of_queries_does_not_grow_with_the_reports(client):
    counts = []
    for slug, n in (("small", 2), ("large", 6)):
        show = build_show(slug=slug, n_entries=n, n_judges=2, kin=False, judging_minutes=900)
        draw_panel(show)
        for code in ("J1", "J2"):
            phone, _ = pair(judge_of(show, code))
            for entry in Entry.objects.filter(show=show):
                other = {**entry.rig.facts(), "pattern": "military", "draft": "chain"}
                send(phone, [rig_found(entry, {**other, "hitch": "six_up"})])
        by_judge = RigReport.objects.filter(judge__show=show, judge__code="J2").order_by("pk")
        for one in by_judge[: n - 1]:
            settle(client, one, verdict="decline", note="As entered.")
        progress(client, one)
        with CaptureQueriesContext(connection) as queries:
            text = progress(client, one)
        assert text.count('<article class="block" id="rig-') == n + 1
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_concern_and_a_rig_never_wait_for_each_other(client, report):
    phone = report.device
    send(phone, [concern(report.entry, "mend", "Spoke loose.")])
    text = progress(client, report)
    assert "Spoke loose." in text
    assert f'id="rig-{report.pk}"' in text
