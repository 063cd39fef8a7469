"""ETag, If-None-Match and If-Match: nothing is sent twice, nobody overwrites unseen."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client

from entries.models import Entry
from judging.models import DayRules, Seat
from showrun.shows.models import AuditEntry, Person, Show
from tests.judged_show import (
    build_show,
    class_of,
    entry_of,
    office_of,
    open_window,
    steward_of,
)
from tests.kept import kept_for_module
from tests.problems import problem

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """A show whose window is sized and not published."""
    with kept_for_module(django_db_blocker):
        show = build_show()
        open_window(show, publish=False)
        yield show.pk


@pytest.fixture
def show(built: int, db: None) -> Show:
    return Show.objects.get(pk=built)


@pytest.fixture
def office(show: Show) -> Person:
    return office_of(show)


def ask(method: str, person: Person | None, path: str, sent: Any = None, **headers: str) -> Any:
    client = Client()
    if person:
        client.force_login(person)
    text = "" if sent is None else json.dumps(sent)
    kind = "application/json"
    return client.generic(method, f"/api/v1/{path}", text, content_type=kind, headers=headers)


def readable(show: Show) -> list[str]:
    here = ("", "/entries", "/judges", "/panel", "/window", "/day", "/pauses", "/plans", "/food")
    more = ("/progress", "/questions", "/rig-reports", "/papers", "/results", "/scorecards")
    beside = [f"entries/{entry_of(show).pk}", f"classes/{class_of(show).pk}/declare", "me"]
    return ["shows", "schemas/scorecard", *beside, *(f"shows/{show.slug}{p}" for p in here + more)]


def test_whatever_is_read_has_a_tag_that_spares_reading_it_twice(show: Show, office: Person):
    for path in readable(show):
        first = ask("GET", office, path)
        assert first.status_code == 200, path
        assert first["Cache-Control"] == "private, no-cache"
        for known in (first["ETag"], f'"other", W/{first["ETag"]}', "*"):
            again = ask("GET", office, path, **{"if-none-match": known})
            assert (again.status_code, again.content) == (304, b""), path
            assert again["ETag"] == first["ETag"]
        assert ask("GET", office, path, **{"if-none-match": '"other"'}).status_code == 200
        assert ask("HEAD", office, path)["ETag"] == first["ETag"]


def test_the_tag_changes_with_what_is_told(show: Show, office: Person):
    path = f"shows/{show.slug}/entries"
    before = ask("GET", office, path)["ETag"]
    Entry.objects.filter(pk=entry_of(show).pk).update(wagon_name="Copper Moon")
    assert ask("GET", office, path, **{"if-none-match": before}).status_code == 200


def test_a_refusal_has_no_tag(show: Show):
    assert "ETag" not in ask("GET", None, "me")


# --- Editing an entry ----------------------------------------------------------------------


def test_an_entry_is_changed_by_who_read_it(show: Show, office: Person):
    entry = entry_of(show)
    path = f"entries/{entry.pk}"
    before = ask("GET", office, path)
    changes = {"frontage_ft": 55, "dietary_notes": "No walnuts.", "wagon_name": "Copper Moon"}
    done = ask("PATCH", entry.exhibitor, path, changes, **{"if-match": before["ETag"]})
    assert done.status_code == 200
    assert done.json() == {**before.json(), **changes}
    entry.refresh_from_db()
    assert (entry.frontage_ft, entry.dietary_notes) == (55, "No walnuts.")
    trace = AuditEntry.objects.filter(show=show, verb="changed the details of").last()
    assert trace is not None and trace.actor == entry.exhibitor
    # the other one read it before, and would have written over it
    stale = ask("PATCH", office, path, {"depth_ft": 60}, **{"if-match": before["ETag"]})
    problem(stale, 412, "changed-meanwhile")
    problem(ask("PATCH", office, path, {"depth_ft": 60}), 428, "if-match-needed")
    entry.refresh_from_db()
    assert entry.depth_ft != 60
    fresh = ask("GET", office, path)["ETag"]
    for tag in (f"W/{fresh}", "*"):
        assert ask("PATCH", office, path, {"depth_ft": 60}, **{"if-match": tag}).status_code == 200
        fresh = ask("GET", office, path)["ETag"]


def test_a_change_at_fault_is_refused_by_field(show: Show, office: Person):
    for changes, field in (
        ({"frontage_ft": 4}, "frontage_ft"),
        ({"wagon_name": " "}, "wagon_name"),
        ({"frontage_ft": "wide"}, "frontage_ft"),
        ({"dietary_notes": "x" * 1001}, "dietary_notes"),
    ):
        answered = ask(
            "PATCH", office, f"entries/{entry_of(show).pk}", changes, **{"if-match": "*"}
        )
        assert set(problem(answered, 422, "invalid-input")["errors"]) == {field}


def test_whom_to_call_is_read_by_the_owner_and_the_office_alone(show: Show, office: Person):
    entry = entry_of(show)
    told = {
        **{"emergency_name": "Ada", "emergency_phone": "55501", "dietary_notes": "No nuts."},
        "history": "New bows.",
    }
    Entry.objects.filter(pk=entry.pk).update(**told)
    for person, reads in ((office, True), (entry.exhibitor, True), (steward_of(show), False)):
        seen = ask("GET", person, f"entries/{entry.pk}").json()
        assert {name: seen[name] for name in told} == (told if reads else dict.fromkeys(told))


# --- What is decided by POST ---------------------------------------------------------------


def test_what_is_decided_heeds_a_tag_where_one_is_sent(show: Show, office: Person):
    slug, first = show.slug, entry_of(show)
    card = show.classes.get(code="trail").pk
    declared = {"sections": ["harness"], "method": "plain", "judges_per_section": 2}
    facts = {
        "name": "Four Kettles",
        "ground": "Here",
        "judged_on": "2027-05-15",
        "starts_on": "2027-05-14",
        "ends_on": "2027-05-17",
    }
    cases: list[tuple[str, str, Any]] = [
        (f"shows/{slug}/day", f"shows/{slug}/day", {"talk_minutes": 3}),
        (f"shows/{slug}", f"shows/{slug}/hours",
         {"opens_at": "2027-05-15T09:00:00-06:00", "minutes": 200}),
        (f"shows/{slug}", f"shows/{slug}/facts", facts),
        (f"classes/{card}/declare", f"classes/{card}/declare", declared),
        (f"shows/{slug}/panel", f"shows/{slug}/panel", {"seed": 3}),
        (f"shows/{slug}/window", f"shows/{slug}/window/publish", {"accept_chance": True}),
        (f"shows/{slug}/window", f"shows/{slug}/window/withdraw", {"reason": "Rain."}),
        (f"entries/{first.pk}", f"entries/{first.pk}/scratch", {"reason": "Axle."}),
    ]  # fmt: skip
    seats = list(Seat.objects.filter(judge__show=show).values_list("pk", flat=True))
    for _, write, sent in cases:
        stale = ask("POST", office, write, sent, **{"if-match": '"stale"'})
        problem(stale, 412, "changed-meanwhile")
    assert not DayRules.objects.filter(show=show, talk_minutes=3).exists()
    assert list(Seat.objects.filter(judge__show=show).values_list("pk", flat=True)) == seats
    for read, write, sent in cases:
        if write.endswith(("/publish", "/withdraw")):
            continue  # the panel just drawn stands against them; the tag does not
        tag = ask("GET", office, read)["ETag"]
        done = ask("POST", office, write, sent, **{"if-match": tag})
        assert done.status_code in (200, 201, 204), (write, done.content)
        assert ask("GET", office, read)["ETag"] != tag, write
