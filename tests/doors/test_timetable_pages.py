"""Timetable pages: who is where when, for the office alone, published or said to be a draft."""

from __future__ import annotations

import re
from datetime import timedelta
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from judging.actions.announce import change_times
from judging.models import Pause, Visit, Window
from showrun.shows.models import Show
from tests import timetable_stage as stage

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return stage.planned(4, 3)


def pages(show: Show) -> dict[str, str]:
    office = f"/shows/{show.slug}/office/timetable/"
    return {
        "show": office,
        "judge": f"{office}judges/{stage.judge_of(show, 'J2').pk}/",
        "wagon": f"{office}wagons/{stage.entry_of(show, 2).pk}/",
    }


def office_of(show: Show) -> Client:
    return stage.signed_in(stage.person("Nora", "office", show=show))


def read(client: Client, where: str) -> str:
    answer = client.get(where)
    assert answer.status_code == 200
    return answer.content.decode()


def chart_in(page: str) -> ElementTree.Element:
    found = re.search(r'<svg class="rotation".*?</svg>', page, re.DOTALL)
    assert found
    return ElementTree.fromstring(found[0])


def test_the_chart_has_a_bar_for_every_visit_and_says_it(show: Show) -> None:
    svg = chart_in(read(office_of(show), pages(show)["show"]))
    titles = [element.text or "" for element in svg.iter("title")]
    visits = Visit.objects.select_related("judge__person", "entry")
    for visit in visits:
        starts_at = visit.starts_at.astimezone(show.tz)
        said = (
            f"{visit.judge.code} {visit.judge.person.name} at {visit.entry.number} "
            f"{visit.entry.wagon_name}, {starts_at:%-I:%M %p} to "
        )
        assert sum(title.startswith(said) for title in titles) == 1, said
    bars = [one for one in svg.iter("rect") if "rotation-bar" in one.get("class", "")]
    assert len(bars) == len(visits) == 12
    assert svg.get("role") == "img"
    named = {svg.find("title").get("id"), svg.find("desc").get("id")}  # type: ignore[union-attr]
    assert set(svg.get("aria-labelledby", "").split()) == named
    # The content policy refuses style attributes; nothing is said by colour alone.
    assert not any(element.get("style") for element in svg.iter())
    labels = [one.text or "" for one in svg.iter("text") if one.get("class") == "rotation-label"]
    assert sorted(labels) == sorted(visit.judge.code for visit in visits)


def test_pages_of_one_judge_and_one_wagon_hold_their_visits_in_order(show: Show) -> None:
    Pause.objects.create(
        show=show, starts_at=stage.OPENS_AT + timedelta(hours=1), why="Cooks' meeting",
        ends_at=stage.OPENS_AT + timedelta(hours=2),
    )  # fmt: skip
    Pause.objects.create(
        show=show, starts_at=stage.OPENS_AT, why="Late train", judge=stage.judge_of(show, "J1"),
        ends_at=stage.OPENS_AT + timedelta(hours=1),
    )  # fmt: skip
    client = office_of(show)
    for kind, visits in (
        ("judge", Visit.objects.filter(judge__code="J2")),
        ("wagon", Visit.objects.filter(entry__number=2)),
    ):
        page = read(client, pages(show)[kind])
        told = re.findall(r'class="stay">([\d:]+)–([\d:]+) AM<', page)
        assert told == [
            (f"{v.starts_at.astimezone(show.tz):%-I:%M}", f"{v.ends_at.astimezone(show.tz):%-I:%M}")
            for v in visits.order_by("starts_at")
        ]
        assert "Cooks&#x27; meeting" in page
        assert "Late train" not in page
        for visit in visits.select_related("judge__person", "entry"):
            assert visit.entry.wagon_name in page
            assert visit.judge.person.name in page


def test_a_draft_is_called_a_draft_and_published_times_by_their_announcement(show: Show) -> None:
    client = office_of(show)
    where = pages(show).values()
    assert all("Announcement 1, times as of May 1, 9:00 AM MDT." in read(client, w) for w in where)
    visit = Visit.objects.get(judge__code="J2", entry__number=2)
    change_times(
        show=show, times={}, called_off=[(visit.judge_id, visit.entry_id)], by=None,
        reason="A lame horse.", at=stage.PUBLISHED_AT + timedelta(days=1),
    )  # fmt: skip
    for one in where:
        page = read(client, one)
        assert "Announcement 2, times as of May 2, 9:00 AM MDT." in page
        assert "A lame horse." in page
        assert "Called off" in page
    Window.objects.update(published_at=None)
    for one in where:
        page = read(client, one)
        assert "A draft: these times are not published." in page
        assert "Announcement" not in page


def test_only_the_office_and_stewards_look_and_only_the_office_makes_links(show: Show) -> None:
    steward = stage.signed_in(stage.person("Tobias", "steward", show=show))
    part = stage.signed_in(stage.person("Announcer", "announcer", show=show))
    owner = stage.signed_in(stage.entry_of(show).exhibitor)
    for where in pages(show).values():
        assert "Make link" not in read(steward, where)
        assert part.get(where).status_code == 403
        for other in (owner, Client(), stage.signed_in(stage.person("Somebody"))):
            assert other.get(where).status_code == 404
    assert "Make link" in read(office_of(show), pages(show)["show"])
    assert steward.post(f"{pages(show)['show']}calendar/", {"do": "make"}).status_code == 403


def test_judges_and_wagons_of_another_show_are_not_found(show: Show) -> None:
    other = stage.planned(2, 2, slug="elsewhere")
    client = office_of(other)
    for kind in ("judge", "wagon"):
        theirs = pages(show)[kind].replace(show.slug, other.slug)
        assert client.get(theirs).status_code == 404


def test_a_show_without_visits_says_what_comes_first(show: Show) -> None:
    Window.objects.all().delete()
    client = office_of(show)
    assert "size the window" in read(client, pages(show)["show"])
    assert client.get(pages(show)["judge"]).status_code == 404


def test_the_exhibitor_sees_the_announcement_and_no_judge(show: Show) -> None:
    entry = stage.entry_of(show)
    page = read(stage.signed_in(entry.exhibitor), f"/entries/{entry.pk}/")
    assert "Announcement 1, times as of May 1, 9:00 AM MDT." in page
    assert "Judith" not in page
    assert "Make a calendar link" in page
    steward = stage.signed_in(stage.person("Tobias", "steward", show=show))
    assert "calendar link" not in read(steward, f"/entries/{entry.pk}/")


class Tags(HTMLParser):
    """The tags of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.made: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.made.append(tag)


def test_hostile_names_stay_names() -> None:
    words = '<b>Bold</b> & "Sons" {{ 7|add:7 }} <script>go()</script>'
    show = stage.planned(2, 2, wagon_names=[words] * 2, judge_names=[words] * 2)
    Pause.objects.create(
        show=show, starts_at=stage.OPENS_AT, ends_at=stage.OPENS_AT + timedelta(minutes=20),
        why=words,
    )  # fmt: skip
    client = office_of(show)
    for where in pages(show).values():
        page = read(client, where)
        assert "b" not in Tags(page).made
        assert Tags(page).made.count("script") == 1
        assert "{{ 7|add:7 }}" in page
    titles = [one.text or "" for one in chart_in(read(client, pages(show)["show"])).iter("title")]
    assert sum(words in title for title in titles) == 4 + 2 + 1


def test_the_number_of_queries_does_not_grow_with_the_show(show: Show) -> None:
    large = stage.planned(16, 6, slug="large")
    for kind in ("show", "judge", "wagon"):
        counts = []
        for one in (show, large):
            client = office_of(one)
            read(client, pages(one)[kind])
            with CaptureQueriesContext(connection) as queries:
                read(client, pages(one)[kind])
            counts.append(len(queries))
        assert counts[0] == counts[1] <= 24, kind
