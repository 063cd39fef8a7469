"""Queries: on the exhibitor's own entry, and in the office."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from judging.actions.exhibitor_queries import ask_query
from judging.models import ClassCard, ExhibitorQuery, Result
from showrun.shows.models import Person, Show
from tests.judged_show import (
    build_show,
    class_of,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    steward_of,
)
from tests.released_show import announcer_of, judged_with_purse, released, signed

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    """A show whose trail class was released ten minutes ago."""
    show = judged_with_purse()
    released(show, at=timezone.now() - timedelta(minutes=10))
    return show


def as_person(person: Person | None) -> Client:
    client = Client()
    if person:
        client.force_login(person)
    return client


def own_page(show: Show, number: int = 1) -> str:
    return reverse("reports:my-entry", args=[entry_of(show, number).pk])


def read(show: Show, person: Person | None = None, *, number: int = 1) -> str:
    exhibitor = entry_of(show, number).exhibitor
    answer = as_person(person or exhibitor).get(own_page(show, number))
    assert answer.status_code == 200
    return answer.content.decode()


def ask(
    show: Show, person: Person | None, *, number: int = 1, text: str = "Why?", section: str = ""
):
    trail = class_of(show).pk
    typed = {
        "do": "ask", "class": trail,
        f"query-{trail}-text": text, f"query-{trail}-section": section,
    }  # fmt: skip
    return as_person(person).post(own_page(show, number), typed)


def answer(
    query: ExhibitorQuery, person: Person | None, verdict: str = "stands", text: str = "So."
):
    typed = {f"query-{query.pk}-verdict": verdict, f"query-{query.pk}-answer": text}
    return as_person(person).post(reverse("judging:answer-query", args=[query.pk]), typed)


def office_page(show: Show, person: Person | None = None) -> str:
    address = reverse("judging:queries", args=[show.slug])
    got = as_person(person or office_of(show)).get(address)
    assert got.status_code == 200
    return got.content.decode()


def said(answered) -> str:
    return " ".join(str(message) for message in get_messages(answered.wsgi_request))


def test_an_exhibitor_asks_the_office_answers_and_both_stay_visible(show):
    exhibitor = entry_of(show, 1).exhibitor
    text = read(show)
    assert "Put a query about this result" in text
    assert "Until " in text
    asked = ask(show, exhibitor, text="Was <i>row 3</i> read?", section="running_gear")
    assert asked.status_code == 302
    text = read(show)
    assert "Was &lt;i&gt;row 3&lt;/i&gt; read?" in text
    assert "waits for the office" in text
    assert "Running gear" in text
    page = office_page(show, steward_of(show))
    assert "1 query waits for an answer." in page
    assert "Was &lt;i&gt;row 3&lt;/i&gt; read?" in page
    query = ExhibitorQuery.objects.get()
    start = reverse("reports:office", args=[show.slug])
    waits = ">1 query of exhibitors</a> about released results."
    assert waits in as_person(office_of(show)).get(start).content.decode()
    assert answer(query, steward_of(show), text="It was; <b>twice</b>.").status_code == 302
    assert waits not in as_person(office_of(show)).get(start).content.decode()
    text = read(show)
    assert "answered: the result stands" in text
    assert "It was; &lt;b&gt;twice&lt;/b&gt;." in text
    assert "Withdraw the query" not in text
    assert "No query is open." in office_page(show)


def test_nobody_asks_for_another(show, stranger):
    for person, status in (
        (entry_of(show, 2).exhibitor, 404),
        (judge_of(show).person, 404),
        (announcer_of(show), 404),
        (stranger, 404),
        (None, 404),
        (steward_of(show), 403),
        (office_of(show), 403),
    ):
        assert ask(show, person).status_code == status, person
    assert not ExhibitorQuery.objects.exists()
    assert "Put a query" not in read(show, office_of(show))


def test_nobody_else_reads_withdraws_or_answers_a_query(show, stranger):
    ask(show, entry_of(show, 1).exhibitor, text="Only for the office.")
    query = ExhibitorQuery.objects.get()
    other = build_show(slug="elsewhere", n_entries=1)
    assert "Only for the office." not in read(show, number=2)
    # Another exhibitor withdraws it on their own entry's page, by its number.
    typed = {"do": "withdraw", "query": query.pk}
    neighbour = as_person(entry_of(show, 2).exhibitor)
    assert neighbour.post(own_page(show, 2), typed).status_code == 404
    assert neighbour.post(own_page(show, 1), typed).status_code == 404
    for person, status in (
        (entry_of(show, 1).exhibitor, 403),
        (entry_of(show, 2).exhibitor, 403),
        (judge_of(show).person, 403),
        (announcer_of(show), 403),
        (office_of(other), 404),
        (stranger, 404),
        (None, 404),
    ):
        page = as_person(person).get(reverse("judging:queries", args=[show.slug]))
        assert page.status_code == status, person
        assert answer(query, person).status_code == status, person
        assert "Only for the office." not in page.content.decode()
    query.refresh_from_db()
    assert query.state == "open"


def test_one_withdraws_ones_own_while_it_is_open(show):
    exhibitor = entry_of(show, 1).exhibitor
    ask(show, exhibitor)
    query = ExhibitorQuery.objects.get()
    assert "Withdraw the query" in read(show)
    typed = {"do": "withdraw", "query": query.pk}
    assert "withdrawn" in said(as_person(exhibitor).post(own_page(show), typed))
    assert "withdrawn by the exhibitor" in read(show)
    assert "closed" in said(as_person(exhibitor).post(own_page(show), typed))
    assert as_person(exhibitor).post(own_page(show), {"do": "withdraw"}).status_code == 404


def test_before_the_release_nothing_is_asked(show):
    signed(show, code="working_harness")
    harness = class_of(show, "working_harness").pk
    typed = {"do": "ask", "class": harness, f"query-{harness}-text": "Why?"}
    client = as_person(entry_of(show, 1).exhibitor)
    assert client.post(own_page(show), typed).status_code == 404
    assert f"query-{harness}-text" not in read(show)
    assert not ExhibitorQuery.objects.exists()


def test_after_the_window_the_page_says_so_and_the_post_is_refused(show):
    exhibitor = entry_of(show, 1).exhibitor
    ask(show, exhibitor, text="In time.")
    Result.objects.update(released_at=timezone.now() - timedelta(minutes=45))
    text = read(show)
    assert "The time for queries about this result is over." in text
    assert "In time." in text
    assert "Put the query" not in text
    assert "is over" in said(ask(show, exhibitor))
    ClassCard.objects.update(query_minutes=0)
    assert "This class takes no queries." in read(show)


def test_the_fourth_is_refused_with_a_sentence(show):
    exhibitor = entry_of(show, 1).exhibitor
    for n in range(3):
        assert ask(show, exhibitor, text=f"Query {n}").status_code == 302
    assert "3 queries in this class; that is the most" in said(ask(show, exhibitor))
    assert "Put the query" not in read(show)
    assert ExhibitorQuery.objects.count() == 3


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"text": " "}, "What do you ask?"),
        ({"text": "x" * 601}, "at most 600"),
        ({"text": "Why\x00?"}, "Null characters are not allowed."),
        ({"section": "wings"}, "Choose a section, or none."),
    ],
)
def test_what_was_typed_stands_again_beside_its_fault(show, typed, words):
    refused = ask(show, entry_of(show, 1).exhibitor, **typed)
    assert refused.status_code == 422
    text = refused.content.decode()
    assert words in text
    assert "Your query is not put yet" in text
    assert '<details class="no-print" open>' in text
    assert not ExhibitorQuery.objects.exists()


def test_an_answer_that_is_none_stands_again_and_corrected_needs_a_version(show):
    ask(show, entry_of(show, 1).exhibitor)
    query = ExhibitorQuery.objects.get()
    for verdict, text, words in (
        ("", "So.", "Does the result stand, or is it corrected?"),
        ("stands", " ", "What do you answer?"),
        ("corrected", "We changed it.", "The result is not corrected yet"),
    ):
        refused = answer(query, office_of(show), verdict, text)
        assert refused.status_code == 422
        assert words in refused.content.decode()
    assert "We changed it." in refused.content.decode()
    answer(query, office_of(show))
    again = answer(query, office_of(show), text="Twice.")
    assert "closed" in said(again)
    query.refresh_from_db()
    assert query.answer == "So."


def test_queries_do_not_grow_with_what_was_asked(show):
    def count(address: str, person: Person) -> int:
        client = as_person(person)
        client.get(address)
        with CaptureQueriesContext(connection) as queries:
            assert client.get(address).status_code == 200
        return len(queries)

    office = reverse("judging:queries", args=[show.slug])
    ask(show, entry_of(show, 1).exhibitor)
    few = count(office, office_of(show)), count(own_page(show), entry_of(show, 1).exhibitor)
    result = Result.objects.released().get(show_class=class_of(show))
    for number in (1, 1, 2, 2, 3):
        entry = entry_of(show, number)
        ask_query(
            result=result, entry=entry, section="", text="Why?", by=entry.exhibitor,
            at=timezone.now(),
        )  # fmt: skip
    many = count(office, office_of(show)), count(own_page(show), entry_of(show, 1).exhibitor)
    assert many == few


def test_another_shows_class_is_not_asked_about(show):
    other = build_show(slug="elsewhere", n_judges=3, judges_per_section=3, kin=False)
    mark_everything(other)
    released(other, at=timezone.now())
    foreign = class_of(other).pk
    typed = {"do": "ask", "class": foreign, f"query-{foreign}-text": "Why?"}
    client = as_person(entry_of(show, 1).exhibitor)
    assert client.post(own_page(show), typed).status_code == 404
    assert client.post(own_page(show), {"do": "ask", "class": "x"}).status_code == 404
