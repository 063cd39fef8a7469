"""The record in the office: found by who, what, when and words; taken out safely."""

from __future__ import annotations

import csv
import io
import json
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from showrun.shows.actions.record import record_change
from showrun.shows.models import AuditEntry, Person, Show
from showrun.shows.rules.access import Role
from tests.people import NOW, give

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(client: Client, show: Show, office: Person, steward: Person):
    """The page of a record of four lines, read by the office."""
    told = [
        (office, NOW, "moved", "wagon 4", {"spot": 1, "note": None}, {"spot": 2, "note": None}, ""),
        (steward, NOW + timedelta(days=1), "signed", "trail", None, {"version": 1}, "=1+1"),
        (None, NOW + timedelta(days=1), "released", "trail", None, None, "<b>by the hour</b>"),
        (office, NOW + timedelta(days=2), "moved", "wagon 5", {"spot": 3}, {"spot": 1}, ""),
    ]
    for who, at, verb, subject, before, after, why in told:
        record_change(
            show=show, actor=who, at=at, verb=verb, subject=subject, before=before, after=after,
            reason=why, device="Phone of J1" if who is steward else "",
        )  # fmt: skip
    client.force_login(office)

    def read(**asked: Any) -> str:
        answer = client.get(reverse("judging:record", args=[show.slug]), asked)
        assert answer.status_code == 200
        return answer.content.decode()

    return read


def export(client: Client, show: Show, **asked: Any) -> bytes:
    answer = client.get(reverse("judging:record-export", args=[show.slug]), asked)
    assert answer.status_code == 200, answer.content
    assert answer["Content-Disposition"].startswith("attachment")
    return answer.content


def test_before_and_after_stand_side_by_side_as_words(page):
    text = page(q="wagon 4")
    assert '<th scope="row">spot</th><td>1</td><td><strong>2</strong></td>' in text
    assert '<th scope="row">note</th><td>none</td><td>none</td>' in text
    assert "&quot;spot&quot;" not in text and "{&#x27;" not in text
    assert "&lt;b&gt;by the hour&lt;/b&gt;" in page()


@pytest.mark.parametrize(
    ("asked", "lines", "holds"),
    [
        ({}, 4, "wagon 5"),
        ({"q": "wagon"}, 2, "wagon 4"),
        ({"q": "phone j1"}, 1, "Signed trail"),
        ({"kind": "moved"}, 2, "wagon 5"),
        ({"kind": "moved", "day": "2127-05-03"}, 1, "wagon 5"),
        ({"day": "2127-05-02"}, 2, "Released trail"),
        ({"who": "0"}, 1, "Released trail"),
        ({"day": "2127-02-30"}, 4, "wagon 5"),
        ({"who": "somebody", "day": "9999-12-31"}, 4, "wagon 5"),
        ({"who": "99999999"}, 0, "No line is like this."),
    ],
)
def test_lines_are_found_by_words_kind_person_and_day(page, asked, lines: int, holds: str):
    text = page(**asked)
    assert f"{lines} line{'' if lines == 1 else 's'}" in text
    assert holds in text


def test_a_day_is_the_shows_own(page, show: Show, office: Person):
    """At 23:30 in Denver it is the next day already in UTC."""
    late = NOW.replace(day=11, hour=5, minute=30)
    record_change(show=show, actor=office, at=late, verb="moved", subject="wagon 6")
    assert "wagon 6" in page(day="2127-05-10")
    assert "wagon 6" not in page(day="2127-05-11").split("<tbody>")[-1]


def test_a_person_is_chosen_by_name(page, steward: Person):
    text = page(who=steward.pk)
    assert f'<option value="{steward.pk}" selected>{steward.name}</option>' in text
    assert "Signed trail" in text and "wagon 4" not in text


def test_a_long_record_is_read_in_pages_by_as_many_queries(page, show: Show, office: Person):
    with CaptureQueriesContext(
        connection,
    ) as few:
        page()
    for n in range(120):
        record_change(show=show, actor=office, at=NOW, verb="moved", subject=f"wagon {n}")
    with CaptureQueriesContext(connection) as many:
        text = page(kind="moved")
    assert len(many) == len(few)
    assert "Page 1 of 3" in text and 'href="?page=2&amp;kind=moved"' in text


def test_the_table_holds_no_formula_and_every_line(page, client: Client, show: Show):
    rows = list(csv.reader(io.StringIO(export(client, show, form="csv").decode("utf-8-sig"))))
    assert len(rows) == 5
    moved, signed = rows[1], rows[2]
    assert moved[5:9] == ["moved", "wagon 4", "note: none; spot: 1", "note: none; spot: 2"]
    assert (signed[4], signed[-1]) == ("Phone of J1", "'=1+1")
    assert rows[3][2] == "the service"


def test_json_lines_hold_what_was_kept_and_that_they_were_taken_out(
    page, client: Client, show: Show, office: Person
):
    lines = export(client, show, form="jsonl", kind="moved").decode().splitlines()
    told = [json.loads(line) for line in lines]
    assert [(one["subject"], one["after"]) for one in told] == [
        ("wagon 4", {"spot": 2, "note": None}),
        ("wagon 5", {"spot": 1}),
    ]
    assert told[0]["who"] == {"name": office.name, "email": office.email}
    newest = AuditEntry.objects.filter(show=show).first()
    assert newest and (newest.verb, newest.actor, newest.after) == (
        "took out the record", office, {"lines": 2},
    )  # fmt: skip


def test_only_the_office_takes_it_out(page, client: Client, show: Show, steward: Person):
    client.force_login(give(steward, show, Role.STEWARD))
    assert "as a table" not in page()
    assert client.get(reverse("judging:record-export", args=[show.slug])).status_code == 403
    assert not AuditEntry.objects.filter(verb="took out the record").exists()
