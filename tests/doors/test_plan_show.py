"""Plan a show: from a page of its own to the show's office."""

from __future__ import annotations

import re
from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from showrun.shows.models import Person, Show
from showrun.shows.queries import roles_of
from showrun.shows.rules.access import Role

pytestmark = pytest.mark.django_db

SENT = {
    "name": "Kettle Creek Days",
    "ground": "Kettle Creek",
    "starts_on": "2028-06-02",
    "ends_on": "",
    "judged_on": "",
    "opens": "09:30",
    "minutes": "240",
    "zone": "America/Chicago",
    "entry_cap": "12",
    "classes": "Trail wagon\nRanch wagon\n",
}


@pytest.fixture
def page() -> str:
    return reverse("shows:plan")


@pytest.fixture
def planner(stranger: Person, settings) -> Client:
    settings.SHOW_PLANNERS = [stranger.email]
    client = Client()
    client.force_login(stranger)
    return client


def test_the_first_show_is_planned_by_somebody_named(planner: Client, stranger: Person, page: str):
    assert page in planner.get("/").content.decode()
    answer = planner.post(page, SENT, follow=True)
    show = Show.objects.get()
    assert answer.redirect_chain == [(reverse("reports:office", args=[show.slug]), 302)]
    assert "Kettle Creek Days is planned." in answer.content.decode()
    assert (show.slug, show.starts_on, show.ends_on) == (
        "kettle-creek-days-2028",
        date(2028, 6, 2),
        date(2028, 6, 2),
    )
    # By the show's clock, which in June is five hours behind.
    assert show.judging_starts_at.isoformat() == "2028-06-02T14:30:00+00:00"
    assert [one.name for one in show.classes.all()] == ["Trail wagon", "Ranch wagon"]
    assert roles_of(stranger, show) == {Role.OFFICE}
    # A second one of the same name and year has an address of its own.
    planner.post(page, SENT)
    assert sorted(Show.objects.values_list("slug", flat=True)) == [
        "kettle-creek-days-2028",
        "kettle-creek-days-2028-2",
    ]


def test_shows_are_planned_by_an_office_and_those_named_alone(
    planner: Client, show: Show, stranger: Person, office: Person, page: str, settings
):
    settings.SHOW_PLANNERS = []
    assert planner.get(page).status_code == 403
    assert page not in planner.get("/").content.decode()
    other = Client()
    other.force_login(office)
    assert other.get(page).status_code == 200
    settings.SHOW_PLANNERS = [stranger.email]
    assert planner.get(page).status_code == 200


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"name": " "}, "What is the show called?"),
        ({"starts_on": "soon"}, "A day such as 2027-05-14, please."),
        ({"ends_on": "2028-06-01"}, "The show ends before it starts."),
        ({"judged_on": "2028-06-03"}, "The judging falls outside the show’s days."),
        ({"opens": "morning"}, "A time such as 08:00, please."),
        ({"minutes": "0"}, "At least one, please."),
        ({"entry_cap": "501"}, "At most 500, please."),
        ({"zone": "Mars/North"}, "Select a valid choice."),
        ({"classes": "  \n "}, "At least one class."),
        ({"classes": "\n".join(map(str, range(41)))}, "At most 40 classes, please."),
        ({"classes": "x" * 121}, "120 letters at most"),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_what_is_wrong_is_said_and_nothing_is_made(
    planner: Client, page: str, wrong: dict[str, str], said: str
):
    answer = planner.post(page, SENT | wrong)
    assert answer.status_code == 422
    text = re.sub(r"<[^>]+>", " ", answer.content.decode())
    assert said in text.replace("&#x27;", "'")
    assert not Show.objects.exists()
