"""Calendar feeds: published times to whoever has the link, and nothing to anybody else."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar, Event

from judging.actions.announce import change_times
from judging.actions.calendar_links import make_calendar_link, revoke_calendar_link
from judging.models import CalendarLink, CalledOffVisit, Judge, Visit, Window
from judging.web import calendars
from showrun.shows.models import Show
from showrun.shows.web.request_log import PathLogMiddleware
from tests import timetable_stage as stage

pytestmark = pytest.mark.django_db
AT = stage.PUBLISHED_AT + timedelta(days=10)


@pytest.fixture
def show() -> Show:
    return stage.planned(3, 2)


def address(show: Show, **whose: Any) -> str:
    _, token = make_calendar_link(show=show, by=None, at=AT, **whose)
    return f"/calendar/{token}.ics"


def read(where: str) -> list[Event]:
    answer = Client().get(where)
    assert answer.status_code == 200
    return list(Calendar.from_ical(answer.content).events)


def headers_of(answer: Any) -> dict[str, str]:
    """Return the headers of an answer but the one that tells the second it was given in."""
    return {name: value for name, value in answer.items() if name != "Expires"}


def moment(event: Event) -> Any:
    """Return when the visit was last changed, as the feed says."""
    return event["last-modified"].dt  # type: ignore[union-attr]


def count(event: Event) -> int:
    """Return how often it was changed, as the feed says."""
    return int(event["sequence"])  # type: ignore[arg-type]


def of_uid(where: str) -> dict[str, Event]:
    return {str(event["uid"]): event for event in read(where)}


def test_each_link_gives_its_own_visits_at_their_times(show: Show) -> None:
    judge, entry = stage.judge_of(show), stage.entry_of(show, 2)
    feeds = {
        "office": (read(address(show)), Visit.objects.all()),
        "judge": (read(address(show, judge=judge)), Visit.objects.filter(judge=judge)),
        "entry": (read(address(show, entry=entry)), Visit.objects.filter(entry=entry)),
    }
    for kind, (events, visits) in feeds.items():
        told = sorted((event.start, event.end) for event in events)
        assert told == sorted(visits.values_list("starts_at", "ends_at")), kind
        assert {str(event["status"]) for event in events} == {"CONFIRMED"}
        assert {moment(event) for event in events} == {stage.PUBLISHED_AT}
        assert all("not a safety inspection" in str(event["description"]) for event in events)
        assert all("Looks at: Harness" in str(event["description"]) for event in events)
    assert [len(events) for events, _ in feeds.values()] == [6, 3, 2]
    assert {str(event["location"]) for event in feeds["entry"][0]} == {
        "Camp spot 102, Two Lanterns Ground"
    }
    # The same visit has the same name in every feed.
    names = [{str(event["uid"]) for event in events} for events, _ in feeds.values()]
    assert names[1] < names[0]
    assert names[2] < names[0]
    assert len(names[1] & names[2]) == 1


def test_a_wagons_feed_names_no_judge(show: Show) -> None:
    entry = stage.entry_of(show)
    where = address(show, entry=entry)
    Visit.objects.filter(entry=entry, judge__code="J1").delete()
    CalledOffVisit.objects.create(
        show=show, judge=stage.judge_of(show), entry=entry, starts_at=stage.OPENS_AT,
        ends_at=stage.OPENS_AT + stage.STAY, revision=1, called_off_at=AT,
    )  # fmt: skip
    body = Client().get(where).content.decode().replace("\r\n ", "")
    assert body.count("BEGIN:VEVENT") == 2
    for judge in Judge.objects.filter(show=show):
        assert judge.person.name not in body
        assert judge.code not in body
    office = Client().get(address(show)).content.decode().replace("\r\n ", "")
    assert "Judith Number2 (J2)" in office


def test_the_answer_is_a_calendar_that_nobody_stores(show: Show) -> None:
    answer = Client().get(address(show))
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert "no-store" in answer["Cache-Control"]
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Robots-Tag"] == "noindex"
    assert not answer.cookies
    assert Client().head(address(show)).status_code == 200


def test_unknown_and_revoked_links_cannot_be_told_apart(show: Show) -> None:
    link, token = make_calendar_link(show=show, by=None, at=AT)
    revoke_calendar_link(link=link, by=None, at=AT)
    gone = Client().get(f"/calendar/{token}.ics")
    unknown = [
        Client().get(f"/calendar/{other}.ics")
        for other in ("x", token[:-1], token + "A", link.token_hash, "é", "a" * 3000)
    ]
    for answer in (gone, *unknown):
        assert answer.status_code == 404
        assert answer.content == gone.content
        assert headers_of(answer) == headers_of(gone)
    office = stage.signed_in(stage.person("Nora", "office", show=show))
    assert office.get(f"/calendar/{token}.ics").content == gone.content


def test_times_are_never_given_before_they_are_published_nor_after_they_are_withdrawn() -> None:
    show = stage.planned(2, 2, published=False)
    where = [
        address(show),
        address(show, judge=stage.judge_of(show)),
        address(show, entry=stage.entry_of(show)),
    ]
    CalledOffVisit.objects.create(
        show=show, judge=stage.judge_of(show), entry=stage.entry_of(show),
        starts_at=stage.OPENS_AT, ends_at=stage.OPENS_AT + stage.STAY, revision=1,
        called_off_at=AT,
    )  # fmt: skip
    assert [read(one) for one in where] == [[], [], []]
    assert "2027051" not in Client().get(where[0]).content.decode()
    Window.objects.update(published_at=AT)
    assert [len(read(one)) for one in where] == [4, 2, 2]
    Window.objects.update(published_at=None)
    assert [read(one) for one in where] == [[], [], []]
    Window.objects.all().delete()
    assert [read(one) for one in where] == [[], [], []]


def test_a_change_keeps_names_and_counts_on(show: Show) -> None:
    where = address(show)
    before = of_uid(where)
    moved = Visit.objects.get(judge__code="J1", entry__number=1)
    gone = Visit.objects.get(judge__code="J2", entry__number=1)
    later = (moved.starts_at + timedelta(hours=2), moved.ends_at + timedelta(hours=2))
    off = (gone.judge_id, gone.entry_id)
    change_times(
        show=show, times={(moved.judge_id, moved.entry_id): later}, called_off=[off],
        reason="A horse lost a shoe.", by=None, at=AT,
    )  # fmt: skip
    after = of_uid(where)
    assert after.keys() == before.keys()
    changed = {uid for uid in after if after[uid]["sequence"] != before[uid]["sequence"]}
    assert len(changed) == 2
    struck = [uid for uid in changed if str(after[uid]["status"]) == "CANCELLED"]
    (kept,) = changed - set(struck)
    assert (after[kept].start, after[kept].end) == later
    assert [count(after[uid]) for uid in changed] == [1, 1]
    assert {moment(after[uid]) for uid in changed} == {AT}
    assert after[struck[0]].start == gone.starts_at
    assert str(after[struck[0]]["summary"]).startswith("Called off: ")

    # It comes back at another time: the same name, confirmed, a later count.
    change_times(
        show=show, times={off: later}, reason="She is back.", by=None, at=AT + timedelta(hours=1)
    )
    back = of_uid(where)
    assert back.keys() == before.keys()
    assert str(back[struck[0]]["status"]) == "CONFIRMED"
    assert count(back[struck[0]]) > count(after[struck[0]])


def test_names_outlast_the_rows(show: Show) -> None:
    where = address(show)
    before = set(of_uid(where))
    visits = list(Visit.objects.values("window_id", "judge_id", "entry_id", "starts_at", "ends_at"))
    Visit.objects.all().delete()
    Visit.objects.bulk_create(Visit(**row) for row in reversed(visits))
    assert set(of_uid(where)) == before


def test_a_link_gives_nothing_of_another_show(show: Show) -> None:
    other = stage.planned(3, 2, slug="elsewhere")
    mine, theirs = of_uid(address(show)), of_uid(address(other))
    assert len(mine) == len(theirs) == 6
    assert mine.keys() & theirs.keys() == set()
    office = stage.signed_in(stage.person("Nora", "office", show=other))
    for field, value in (("judge", stage.judge_of(show).pk), ("entry", stage.entry_of(show).pk)):
        page = f"/shows/{other.slug}/office/timetable/calendar/"
        assert office.post(page, {"do": "make", field: value}).status_code == 404
    assert CalendarLink.objects.filter(show=other).count() == 1


def test_hostile_names_start_no_event_of_their_own() -> None:
    show = stage.planned(
        2, 2, wagon_names=[stage.HOSTILE[:80], "W" * 80], judge_names=[stage.HOSTILE[:120]]
    )
    show.ground = stage.HOSTILE[:160]
    show.save()
    for whose in ({}, {"judge": stage.judge_of(show)}, {"entry": stage.entry_of(show)}):
        where = address(show, **whose)
        raw = Client().get(where).content
        events = read(where)
        assert len(events) == raw.count(b"\r\nBEGIN:VEVENT\r\n") == (2 if whose else 4)
        assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
        assert not {str(event["summary"]) for event in events} & {"owned"}
    summaries = {str(event["summary"]) for event in events}
    assert summaries == {"Judge visit: " + stage.HOSTILE[:80].replace("\r\n", "\n")}


def test_reading_is_noted_and_costs_the_same_for_any_size(show: Show) -> None:
    where = address(show)
    with CaptureQueriesContext(
        connection,
    ) as small:
        read(where)
    assert CalendarLink.objects.get().last_read_at is not None
    large = address(stage.planned(12, 5, slug="large"))
    with CaptureQueriesContext(connection) as big:
        assert len(read(large)) == 60
    assert len(big) == len(small) <= 9


def test_a_flood_from_one_address_is_refused_whatever_it_asks(
    show: Show, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(calendars, "READS_ALLOWED", 3)
    where = address(show)
    for _ in range(3):
        assert Client().get("/calendar/guess.ics").status_code == 404
    refused = Client().get(where, HTTP_X_FORWARDED_FOR="203.0.113.9")
    assert refused.status_code == 429
    assert refused["Retry-After"] == "60"
    assert b"BEGIN" not in refused.content
    assert Client().get(where, REMOTE_ADDR="203.0.113.9").status_code == 200


def test_the_log_holds_no_calendars_secret(show: Show, rf: Any) -> None:
    where = address(show)
    assert PathLogMiddleware.format_request(rf.get(where)) == "GET /calendar/…"
    assert PathLogMiddleware.format_request(rf.get("/sign-in/?x=1")) == "GET /sign-in/"


def test_the_office_makes_shows_once_and_revokes(show: Show) -> None:
    office = stage.signed_in(stage.person("Nora", "office", show=show))
    page = f"/shows/{show.slug}/office/timetable/calendar/"
    judge = stage.judge_of(show)
    for field, n_visits in (({}, 6), ({"judge": judge.pk}, 3)):
        answer = office.post(page, {"do": "make", **field})
        assert answer.status_code == 200
        shown = re.search(r"http://testserver(/calendar/[\w-]+\.ics)", answer.content.decode())
        assert shown
        assert "no-store" in answer["Cache-Control"]
        assert f'href="webcal://testserver{shown[1]}"' in answer.content.decode()
        assert len(read(shown[1])) == n_visits
        later = office.get(f"/shows/{show.slug}/office/timetable/").content.decode()
        assert shown[1] not in later
        assert "link works" in later
        done = office.post(page, {"do": "revoke", **field})
        assert done.status_code == 302
        assert Client().get(shown[1]).status_code == 404
    again = office.post(page, {"do": "revoke"}, follow=True)
    assert "There is no link to revoke." in again.content.decode()
    assert office.get(page).status_code == 302
    assert office.post(page, {"do": "else"}).status_code == 422
    assert office.post(page, {"do": "make", "judge": "x"}).status_code == 404


def test_exhibitors_make_links_for_their_own_entries_only(show: Show) -> None:
    entry, other = stage.entry_of(show, 1), stage.entry_of(show, 2)
    owner = stage.signed_in(entry.exhibitor)
    answer = owner.post(f"/entries/{entry.pk}/calendar/", {"do": "make"})
    shown = re.search(r"/calendar/[\w-]+\.ics", answer.content.decode())
    assert answer.status_code == 200
    assert shown
    assert len(read(shown[0])) == 2
    assert "A new link takes the place" in owner.get(f"/entries/{entry.pk}/").content.decode()
    steward = stage.signed_in(stage.person("Tobias", "steward", show=show))
    stranger = stage.signed_in(stage.person("Someone"))
    for who, page, status in (
        (owner, other, 404),
        (stranger, entry, 404),
        (Client(), entry, 404),
        (steward, entry, 403),
    ):
        for do in ("make", "revoke"):
            assert who.post(f"/entries/{page.pk}/calendar/", {"do": do}).status_code == status
    assert len(read(shown[0])) == 2
    assert owner.post(f"/entries/{entry.pk}/calendar/", {"do": "revoke"}).status_code == 302
    assert Client().get(shown[0]).status_code == 404
