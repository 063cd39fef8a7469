"""Lists in pages, lists narrowed, and how often one may ask."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client

from judging.models import Question
from judging.queries.progress import progress_of
from showrun.shows.api.throttles import PersonThrottle
from showrun.shows.models import Person, Show
from tests.http_api import get, took
from tests.http_phone import EVENTS, Phone
from tests.judged_show import build_show, judge_of, mark_everything, office_of, open_window
from tests.people import EntryFactory, PersonFactory, ShowFactory
from tests.problems import problem

pytestmark = pytest.mark.django_db


def following(person: Person, path: str, rel: str = "next") -> list[Any]:
    """Read a list to its end, as its links lead."""
    found = []
    while path:
        answered = get(person, path)
        found.append(took(answered))
        links = dict(
            (name, address)
            for address, name in re.findall(
                r'<http://testserver/api/v1/([^>]+)>; rel="(\w+)"', answered.get("Link", "")
            )
        )
        path = links.get(rel, "")
    return found


def test_a_long_list_comes_in_parts_that_lead_to_each_other(show: Show, office: Person):
    made = EntryFactory.create_batch(7, show=show)
    whole = took(get(office, f"shows/{show.slug}/entries"))
    assert {one["id"] for one in whole} == {one.pk for one in made}
    assert "Link" not in get(office, f"shows/{show.slug}/entries")
    parts = following(office, f"shows/{show.slug}/entries?limit=3&status=entered")
    assert [len(part) for part in parts] == [3, 3, 1]
    assert [one for part in parts for one in part] == whole
    back = following(office, f"shows/{show.slug}/entries?limit=3&offset=6", "prev")
    assert [len(part) for part in back] == [1, 3, 3]
    assert took(get(office, f"shows/{show.slug}/entries?offset=7")) == []


def test_shows_come_in_parts_too():
    ShowFactory.create_batch(5)
    parts = following(PersonFactory.create(), "shows?limit=2")
    slugs = [one["slug"] for part in parts for one in part]
    assert len(slugs) == len(set(slugs)) == Show.objects.count()


@pytest.mark.parametrize(
    ("asked", "field"),
    [("limit=0", "limit"), ("limit=501", "limit"), ("limit=x", "limit"), ("offset=-1", "offset"),
     ("status=lost", "status"), ("number=0", "number"), ("class=" + "c" * 51, "class")],
)  # fmt: skip
def test_what_cannot_be_asked_for_is_refused_by_name(
    show: Show, office: Person, asked: str, field: str
):
    refused = problem(get(office, f"shows/{show.slug}/entries?{asked}"), 422, "invalid-input")
    assert set(refused["errors"]) == {field}


def test_entries_by_class_status_and_number(show: Show, office: Person):
    trail, ranch = show.classes.get(code="trail"), show.classes.get(code="ranch")
    one = EntryFactory.create(show=show, classes=[trail], number=1, status="confirmed")
    two = EntryFactory.create(show=show, classes=[trail, ranch], number=2, status="confirmed")
    three = EntryFactory.create(show=show, classes=[ranch])
    for asked, wanted in (
        ("class=trail", [one, two]),
        ("class=ranch", [two, three]),
        ("class=none", []),
        ("status=entered", [three]),
        ("number=2", [two]),
        ("class=trail&status=entered", []),
    ):
        found = took(get(office, f"shows/{show.slug}/entries?{asked}"))
        assert {line["id"] for line in found} == {entry.pk for entry in wanted}, asked


def test_questions_by_state_and_judge_and_cards_by_judge():
    show = build_show(n_entries=3, n_judges=3)
    mark_everything(show)
    office, card = office_of(show), progress_of(show).cards[0]
    for n, (code, state) in enumerate((("J1", "open"), ("J1", "closed"), ("J2", "open"))):
        Question.objects.create(
            judge=judge_of(show, code), kind="day", state=state, statistic=1, threshold=1,
            alpha=0.05, asked_at=show.judging_starts_at, asked_about=f"day {n}",
        )  # fmt: skip
    path = f"shows/{show.slug}/questions"
    for asked, count in (
        ("", 3),
        ("?state=open", 2),
        ("?judge=J1", 2),
        ("?judge=J1&state=open", 1),
    ):
        assert len(took(get(office, path + asked))) == count
    progress = took(get(office, f"shows/{show.slug}/progress?judge={card.judge_code}"))
    assert {one["judge"] for one in progress["cards"]} == {card.judge_code}
    assert 0 < len(progress["cards"]) < progress["cards_expected"]


# --- How often -----------------------------------------------------------------------------


@pytest.fixture
def twice_a_minute(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(PersonThrottle, "get_rate", lambda self: "2/min")


@pytest.mark.usefixtures("twice_a_minute")
def test_who_asks_too_often_is_told_how_long_to_wait(show: Show, office: Person, stranger: Person):
    statuses = [get(office, "me").status_code for _ in range(3)]
    assert statuses == [200, 200, 429]
    refused = get(office, "me")
    problem(refused, 429, "throttled")
    assert 1 <= int(refused["Retry-After"]) <= 60
    assert get(stranger, "me").status_code == 200, "each for himself"
    assert [get(None, "shows").status_code for _ in range(3)] == [200, 200, 429]


@pytest.mark.usefixtures("twice_a_minute")
def test_an_address_written_into_a_header_counts_for_nothing(show: Show):
    statuses = [
        Client().get("/api/v1/shows", headers={"x-forwarded-for": f"10.0.0.{n}"}).status_code
        for n in range(3)
    ]
    assert statuses == [200, 200, 429]


@pytest.mark.usefixtures("twice_a_minute")
def test_a_phones_round_and_its_marks_are_never_counted():
    show = build_show(n_entries=3, n_judges=3)
    open_window(show)
    phone = Phone(judge_of(show))
    assert {phone.round().status_code for _ in range(4)} == {200}
    assert {phone.post({"events": []}).status_code for _ in range(4)} == {200}
    assert EVENTS.endswith("/events")
