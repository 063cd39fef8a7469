"""A planned show put right by a program: its facts and its classes."""

from __future__ import annotations

import pytest

from showrun.shows.models import AuditEntry, Person, Show, ShowClass
from tests.http_api import get, post, took
from tests.judged_show import build_show, class_of, mark_everything, office_of
from tests.problems import problem

pytestmark = pytest.mark.django_db

FACTS = {
    "name": "Four Kettles Days",
    "ground": "The far meadow",
    "starts_on": "2027-05-13",
    "ends_on": "2027-05-16",
    "judged_on": "2027-05-14",
}
CLASS = {"name": "Open wagon", "description": "For all.", "places": 2}


@pytest.fixture
def show() -> Show:
    return build_show(n_entries=2)


@pytest.fixture
def office(show: Show) -> Person:
    return office_of(show)


def test_the_facts_are_set_and_read(show: Show, office: Person) -> None:
    told = took(post(office, f"shows/{show.slug}/facts", FACTS), 200)
    assert told == get(office, f"shows/{show.slug}").json()
    assert {key: told[key] for key in ("name", "ground", "starts_on")} == {
        key: FACTS[key] for key in ("name", "ground", "starts_on")
    }
    assert told["judging_starts_at"].startswith("2027-05-14T")
    assert AuditEntry.objects.filter(show=show, subject="the show").count() == 1


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"ends_on": "2027-05-01"}, "ends_on"),
        ({"judged_on": "2027-06-01"}, "judged_on"),
        ({"name": ""}, "name"),
        ({"starts_on": "soon"}, "starts_on"),
    ],
)
def test_days_that_do_not_go_together_are_refused_at_their_field(
    show: Show, office: Person, more: dict[str, str], field: str
) -> None:
    answer = post(office, f"shows/{show.slug}/facts", FACTS | more)
    assert answer.status_code == 422
    assert field in answer.json()["errors"]
    show.refresh_from_db()
    assert show.name == "Three Kettles Chuckwagon Days"


def test_a_class_is_added_said_otherwise_and_taken_away(show: Show, office: Person) -> None:
    made = took(post(office, f"shows/{show.slug}/classes", CLASS), 201)
    assert (made["code"], made["places_awarded"]) == ("open_wagon", 2)
    other = CLASS | {"name": "Any wagon"}
    assert took(post(office, f"classes/{made['id']}", other), 200)["name"] == "Any wagon"
    assert [one["name"] for one in get(office, f"shows/{show.slug}").json()["classes"]] == [
        *show.classes.exclude(pk=made["id"]).values_list("name", flat=True),
        "Any wagon",
    ]
    assert post(office, f"classes/{made['id']}/remove").status_code == 204
    assert not ShowClass.objects.filter(pk=made["id"]).exists()


def test_what_the_rules_refuse_is_a_conflict(show: Show, office: Person) -> None:
    entered = class_of(show)
    problem(post(office, f"classes/{entered.pk}/remove"), 409, "conflict")
    mark_everything(show)
    problem(post(office, f"shows/{show.slug}/classes", CLASS), 409, "conflict")
    assert post(office, f"classes/{entered.pk}", CLASS).status_code == 409
