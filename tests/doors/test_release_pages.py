"""Between signing and the last reader: the hour of release, the list read out, a correction."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.template.loader import render_to_string
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from judging.actions.compute_result import compute_result
from judging.actions.release_result import release_result
from judging.actions.set_release_hour import set_release_hour
from judging.models import Result, Signature
from judging.queries.results import latest_results
from judging.web.release_hours import release_parts
from showrun.shows.models import Person, Show
from tests.judged_show import (
    AT,
    build_show,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    steward_of,
)
from tests.released_show import (
    LATER,
    announcer_of,
    change_marks,
    judged_with_purse,
    released,
    signed,
)
from tests.tampered import unguarded

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return judged_with_purse()


def as_person(person: Person | None) -> Client:
    client = Client()
    if person:
        client.force_login(person)
    return client


def call_list(show: Show) -> str:
    return reverse("judging:call-list", args=[show.slug])


def read(person: Person | None, address: str) -> str:
    answer = as_person(person).get(address)
    assert answer.status_code == 200
    return answer.content.decode()


def set_hour(result: Result, person: Person | None, **typed: str):
    address = reverse("judging:release-hour", args=[result.pk])
    return as_person(person).post(address, typed)


def said(answer) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def due_since(show: Show, *, minutes: int) -> Result:
    """A signed result whose hour came so many minutes ago; below zero: it is to come."""
    now = timezone.now()
    due = now - timedelta(minutes=minutes)
    return set_release_hour(
        result=signed(show), due=due, by=office_of(show), at=due - timedelta(hours=1)
    )


def part_of(show: Show, *, may_release: bool = True) -> str:
    """What the office's page of results shows below a class."""
    results = latest_results(show)
    part = release_parts(show, results, may_release=may_release)[results[0].pk]
    with timezone.override(show.tz):
        return render_to_string("judging/release_part.html", {"part": part, "show": show})


# --- The announcer's list ------------------------------------------------------------------


def test_the_list_is_the_announcers_and_the_offices_alone(show, stranger):
    signed(show)
    other = build_show(slug="elsewhere", n_entries=1)
    for person, status in (
        (announcer_of(show), 200),
        (office_of(show), 200),
        (steward_of(show), 403),
        (judge_of(show).person, 403),
        (entry_of(show, 1).exhibitor, 403),
        (office_of(other), 404),
        (announcer_of(other), 404),
        (stranger, 404),
        (None, 404),
    ):
        assert as_person(person).get(call_list(show)).status_code == status, person


def test_an_announcer_reads_nothing_else_before_the_release(show):
    result = signed(show)
    winner = result.placings.get(place=1)
    announcer = announcer_of(show)
    assert str(winner.total) not in read(announcer, reverse("judging:results", args=[show.slug]))
    for name, pk in (("office-results", show.slug), ("queries", show.slug)):
        assert as_person(announcer).get(reverse(f"judging:{name}", args=[pk])).status_code == 403


def test_it_reads_from_the_last_awarded_place_to_the_first(show):
    result = signed(show)
    text = read(announcer_of(show), call_list(show))
    third, second, first = (text.index(f"{place} place<") for place in ("Third", "Second", "First"))
    assert third < second < first
    assert "Fourth place" not in text
    winner = result.placings.get(place=1).entry
    called = text[first:]
    for words in (winner.wagon_name, winner.outfit, winner.exhibitor.name, "$450"):
        assert words in called
    assert "four hundred fifty dollars" in called
    assert f"<strong>{winner.number}</strong>" in called
    assert "$180" in text[third:second]


def test_a_shared_place_is_said(show):
    placings = signed(show).placings
    placings.filter(place=3).update(place=2)
    text = read(announcer_of(show), call_list(show))
    assert text.count("Second place, shared by two") == 2
    assert "Third place" not in text


def test_only_what_two_people_signed_stands_there(show):
    text = read(announcer_of(show), call_list(show))
    assert "No result is signed by two people yet." in text
    result = signed(show)
    with unguarded(Signature):
        result.signatures.filter(person=steward_of(show)).delete()
    assert "No result is signed" in read(announcer_of(show), call_list(show))


def test_it_says_before_when_nothing_is_read_out_and_stops_saying_so(show):
    result = signed(show)
    announcer = announcer_of(show)
    assert "Not released: do not read out</strong>" in read(announcer, call_list(show))
    due = timezone.now() + timedelta(days=2)
    set_release_hour(result=result, due=due, by=office_of(show), at=timezone.now())
    clock = f"{due.astimezone(show.tz):%-I:%M %p}"
    assert f"do not read out before {clock}</strong>" in read(announcer, call_list(show))
    release_result(result=result, by=office_of(show), at=timezone.now())
    text = read(announcer, call_list(show))
    assert "Not released" not in text
    assert "First place" in text


def test_a_version_computed_since_is_told_before_the_older_is_read_out(show):
    result = released(show)
    assert "Ask the office" not in read(announcer_of(show), call_list(show))
    change_marks(show, number=2, value=10, at=LATER)
    compute_result(show_class=result.show_class, by=office_of(show), at=LATER, reason="Read again.")
    text = read(announcer_of(show), call_list(show))
    assert "Ask the office before reading this out:</strong> version 2 was computed since" in text


def test_a_signed_correction_is_marked_while_the_former_version_is_public(show):
    released(show)
    change_marks(show, number=2, value=10, at=LATER)
    signed(show, reason="Read again.", at=LATER)
    text = read(announcer_of(show), call_list(show))
    assert "Not released: do not read out" in text
    assert "It corrects version 1, which is public." in text


def test_home_leads_an_announcer_to_the_list(show):
    home = reverse("reports:home")
    assert call_list(show) in read(announcer_of(show), home)
    assert call_list(show) not in read(entry_of(show, 1).exhibitor, home)


# --- The hour of release -------------------------------------------------------------------


@pytest.mark.parametrize("opened", ["call-list", "results"])
def test_a_page_that_is_opened_after_the_hour_releases_it(show, opened):
    result = due_since(show, minutes=1)
    read(office_of(show), reverse(f"judging:{opened}", args=[show.slug]))
    result.refresh_from_db()
    assert result.released_at


def test_nothing_leaks_before_the_hour_and_everybody_reads_it_after(show):
    result = due_since(show, minutes=-10)
    winner = result.placings.get(place=1)
    public = reverse("judging:results", args=[show.slug])
    own = reverse("reports:my-entry", args=[winner.entry_id])
    exhibitor = winner.entry.exhibitor
    for person, address in ((None, public), (exhibitor, public), (exhibitor, own)):
        assert str(winner.total) not in read(person, address)
    assert (
        str(winner.total)
        not in as_person(None).get(f"/api/v1/shows/{show.slug}/results").content.decode()
    )
    Result.objects.update(release_due_at=timezone.now() - timedelta(seconds=1))
    assert str(winner.total) in read(None, public)
    assert str(winner.total) in read(exhibitor, own)


def test_the_office_sets_the_hour_on_the_shows_clock(show):
    result = signed(show)
    day = timezone.now().astimezone(show.tz) + timedelta(days=3)
    answer = set_hour(result, office_of(show), do="set", due=f"{day:%Y-%m-%d}T19:30")
    assert answer.status_code == 302
    assert "it goes out" in said(answer)
    result.refresh_from_db()
    assert result.release_due_at
    assert f"{result.release_due_at.astimezone(show.tz):%d %H:%M}" == f"{day:%d} 19:30"
    text = part_of(show)
    assert "goes out by itself" in text
    assert f'value="{day:%Y-%m-%d}T19:30"' in text
    assert "Take the hour back" in text
    assert "taken back" in said(set_hour(result, office_of(show), do="cancel"))
    assert "Take the hour back" not in part_of(show)


@pytest.mark.parametrize(
    ("due", "words"),
    [
        ("", "On which day, and at what time?"),
        ("noon", "A day and a time, please."),
        ("2020-05-05T10:00", "That hour has passed."),
        ("9999-12-31T23:59", "more than a year"),
        ("0001-01-01T00:00", "That hour has passed."),
        ("\x00", "please"),
    ],
)
def test_an_hour_that_is_none_is_refused_in_words(show, due, words):
    result = signed(show)
    assert words in said(set_hour(result, office_of(show), do="set", due=due))
    result.refresh_from_db()
    assert result.release_due_at is None


def test_nobody_but_the_office_sets_an_hour(show, stranger):
    result = signed(show)
    for person, status in (
        (steward_of(show), 403),
        (announcer_of(show), 403),
        (judge_of(show).person, 403),
        (entry_of(show, 1).exhibitor, 403),
        (stranger, 404),
        (None, 404),
    ):
        for do in ("set", "cancel"):
            assert set_hour(result, person, do=do, due="2027-05-15T20:00").status_code == status
    assert "Set the hour" not in part_of(show, may_release=False)


def test_what_stopped_a_release_stands_on_the_offices_page_until_a_new_hour_is_set(show):
    due_since(show, minutes=-1)
    change_marks(show, number=2, value=10, at=LATER)
    Result.objects.update(release_due_at=timezone.now() - timedelta(seconds=1))
    read(office_of(show), call_list(show))
    text = part_of(show)
    assert "and did not: Marks changed after this result was computed." in text
    newer = signed(show, reason="Read again.", at=LATER)
    soon = timezone.now() + timedelta(hours=1)
    set_release_hour(result=newer, due=soon, by=office_of(show), at=timezone.now())
    assert "and did not" not in part_of(show)


# --- A correction --------------------------------------------------------------------------


def corrected(show: Show) -> tuple[Result, Result]:
    """The first version, and a second whose last wagon has become the first."""
    first = released(show)
    last = first.placings.latest("place").entry.number
    assert last
    for code in ("J1", "J2", "J3"):
        change_marks(show, number=last, value=10, judge=code, at=LATER)
    return first, signed(show, reason="Three cards were <b>read</b> again.", at=LATER)


def test_the_office_sees_what_a_correction_changes_and_every_mark(show):
    first, second = corrected(show)
    mover = first.placings.latest("place")
    text = part_of(show)
    assert f"from place {mover.place} to place 1" in text
    assert "+$450" in text
    changes = reverse("judging:result-changes", args=[second.pk])
    assert changes in text
    page = read(steward_of(show), changes)
    assert "&lt;b&gt;read&lt;/b&gt;" in page
    assert "Leather, condition" in page
    assert f"{second.placings.get(entry=mover.entry).total}" in page
    # A first version has nothing beside it.
    answer = as_person(office_of(show)).get(reverse("judging:result-changes", args=[first.pk]))
    assert answer.status_code == 302


def test_the_public_reads_places_and_reason_once_it_is_released_and_no_mark(show):
    first, second = corrected(show)
    mover = first.placings.latest("place")
    public = reverse("judging:results", args=[show.slug])
    own = reverse("reports:my-entry", args=[mover.entry_id])
    moved = f"from place {mover.place} to place 1"
    assert moved not in read(None, public)
    assert moved not in read(mover.entry.exhibitor, own)
    release_result(result=second, by=office_of(show), at=LATER)
    text = read(None, public)
    assert f"<bdi>{mover.entry}</bdi> {moved}." in text
    assert "&lt;b&gt;read&lt;/b&gt;" in text
    assert "+$450" not in text
    assert f"your wagon {moved}." in read(mover.entry.exhibitor, own)


def test_queries_do_not_grow_with_the_show():
    def asked(show: Show) -> list[int]:
        counts = []
        pages = (call_list(show), reverse("judging:results", args=[show.slug]))
        for address in pages:
            client = as_person(office_of(show))
            client.get(address)
            with CaptureQueriesContext(connection) as queries:
                assert client.get(address).status_code == 200
            counts.append(len(queries))
        with CaptureQueriesContext(connection) as queries:
            release_parts(show, latest_results(show), may_release=True)
        return [*counts, len(queries)]

    few, many = (
        build_show(slug=slug, n_entries=n, n_judges=3, judges_per_section=3, kin=False)
        for slug, n in (("few", 3), ("many", 8))
    )
    for show in (few, many):
        mark_everything(show)
        for one in show.classes.all():
            released(show, code=one.code, at=AT)
    assert asked(few) == asked(many)
