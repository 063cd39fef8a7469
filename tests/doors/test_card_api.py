"""Scorecards over the API: bring in, read, copy, put in use; declare a class; the schema."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import pytest
from django.test import Client

from judging.models import ClassCard, Scorecard
from judging.queries.library import library_cards
from judging.rules.cards.card_file import SCHEMA
from showrun.shows.models import AuditEntry, Person, Show
from tests.http_api import get, post, took
from tests.judged_show import (
    build_show,
    class_of,
    draw_panel,
    mark_everything,
    office_of,
    steward_of,
)
from tests.kept import kept_for_module
from tests.problems import problem
from tests.small_card import SCORECARD

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """A show whose panel is drawn."""
    with kept_for_module(django_db_blocker):
        show = build_show()
        draw_panel(show)
        yield show.pk


@pytest.fixture
def show(built: int, db: None) -> Show:
    return Show.objects.get(pk=built)


@pytest.fixture
def office(show: Show) -> Person:
    return office_of(show)


def used(show: Show) -> Scorecard:
    return Scorecard.objects.get(show=show, in_use=True)


def path(show: Show) -> str:
    return f"shows/{show.slug}/scorecards"


def test_the_card_goes_out_and_comes_in_as_the_same_file(show: Show, office: Person):
    card = took(get(office, f"scorecards/{used(show).pk}"))
    made = took(post(office, path(show), card), 201)
    assert (made["version"], made["in_use"], made["sections"], made["rows"]) == (2, False, 3, 9)
    again = took(get(office, f"scorecards/{made['id']}"))
    assert again == {**card, "version": 2}
    listed = took(get(steward_of(show), path(show)))
    assert [(one["version"], one["in_use"]) for one in listed] == [(1, True), (2, False)]


def test_a_card_has_a_tag_that_saves_reading_it_twice(show: Show, office: Person):
    address = f"scorecards/{used(show).pk}"
    first = get(office, address)
    client = Client()
    client.force_login(office)
    again = client.get(f"/api/v1/{address}", headers={"if-none-match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    used(show).sections.filter(code="harness").update(points=36)
    changed = client.get(f"/api/v1/{address}", headers={"if-none-match": first["ETag"]})
    assert changed.status_code == 200
    assert changed["ETag"] != first["ETag"]


def test_a_card_of_the_library_is_brought_in_by_its_code(show: Show, office: Person):
    code = next(iter(library_cards()))
    made = took(post(office, path(show), {"library": code}), 201)
    assert made["code"] == code
    problem(post(office, path(show), {"library": "no_such"}), 404, "not-found")


def test_faults_are_told_by_their_place_and_nothing_is_kept(show: Show, office: Person):
    data = deepcopy(SCORECARD)
    data["sections"][0]["points"] = -40
    data["sections"][2]["criteria"][1]["step"] = 3
    data["sections"][2]["criteria"][3]["applies"] = {"wheels": ["rubber"]}
    body = problem(post(office, path(show), data), 422, "invalid-input")
    assert set(body["errors"]) == {
        "sections.0.points",
        "sections.2.criteria.1.step",
        "sections.2.criteria.3.applies",
    }
    assert Scorecard.objects.filter(show=show).count() == 1


@pytest.mark.parametrize("body", [[], "card", 7, {}, {"library": "a", "name": "b"}])
def test_what_is_no_card_is_refused(show: Show, office: Person, body: Any):
    problem(post(office, path(show), body), 422, "invalid-input")


def test_a_version_is_made_and_put_in_use(show: Show, office: Person):
    made = took(post(office, f"scorecards/{used(show).pk}/versions"), 201)
    assert made["copied_from"] == used(show).pk
    mark_everything(show)
    body = problem(post(office, f"scorecards/{made['id']}/use"), 422, "reason-needed")
    assert list(body["errors"]) == ["reason"]
    now = took(post(office, f"scorecards/{made['id']}/use", {"reason": "A slip in a name."}))
    assert now["in_use"] is True
    assert now["frozen_at"]
    assert used(show).pk == made["id"]
    problem(post(office, f"scorecards/{made['id']}/use", {"reason": "Again."}), 409, "conflict")
    assert AuditEntry.objects.filter(verb="put in use").count() == 1


def test_a_version_at_fault_is_refused_by_place(show: Show, office: Person):
    made = took(post(office, f"scorecards/{used(show).pk}/versions"), 201)
    draft = Scorecard.objects.get(pk=made["id"])
    draft.sections.get(code="camp_kit").criteria.all().delete()
    body = problem(post(office, f"scorecards/{draft.pk}/use"), 422, "invalid-input")
    assert list(body["errors"]) == ["sections.1.criteria"]


def test_a_class_is_declared_with_its_policies_in_words(show: Show, office: Person):
    sent = {
        "sections": ["camp_kit", "harness"],
        "method": "plain",
        "judges_per_section": 2,
        "tie_ladder": ["harness"],
        "policies": {"gear_credit": "original_first", "period_from": 1866, "period_to": 1895},
    }
    told = took(post(office, f"classes/{class_of(show).pk}/declare", sent))
    assert told["sections"] == ["camp_kit", "harness"]
    assert told["policies"]["gear_credit"] == "original_first"
    assert told["policies"]["marking"] == "build_from_middle"
    assert "In period means from 1866 to 1895." in told["sentences"]
    kept = ClassCard.objects.get(show_class=class_of(show))
    assert (kept.period_from, kept.gear_credit) == (1866, "original_first")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"sections": []}, "sections"),
        ({"method": "best"}, "method"),
        ({"judges_per_section": 0}, "judges_per_section"),
        ({"policies": {"marking": "guess"}}, "policies.marking"),
        ({"policies": {"period_from": 1900, "period_to": 1800}}, "period_to"),
        ({"judges_per_section": 3}, "judges_per_section"),
        ({"method": "trimmed"}, "method"),
        ({"purse_cents": -1}, "purse_cents"),
        ({"purse_cents": 100}, "purse_weights"),
        ({"purse_cents": 100, "purse_weights": ["1", "2"]}, "purse_weights"),
        ({"purse_weights": ["most"]}, "purse_weights"),
        ({"query_minutes": -1}, "query_minutes"),
    ],
)
def test_a_class_that_cannot_work_is_refused_by_field(
    show: Show, office: Person, change: dict[str, Any], field: str
):
    sent = {"sections": ["harness"], "method": "plain", "judges_per_section": 2, **change}
    body = problem(post(office, f"classes/{class_of(show).pk}/declare", sent), 422, "invalid-input")
    assert field in body["errors"]


def test_a_purse_is_declared_in_cents_with_its_shares(show: Show, office: Person):
    sent = {
        "sections": ["harness"], "method": "placings", "judges_per_section": 2,
        "purse_cents": 100_001, "purse_weights": ["50", "30", "20"], "query_minutes": 30,
    }  # fmt: skip
    told = took(post(office, f"classes/{class_of(show).pk}/declare", sent))
    for name in ("method", "purse_cents", "purse_weights", "query_minutes"):
        assert told[name] == sent[name]
    kept = ClassCard.objects.get(show_class=class_of(show))
    assert (kept.purse_cents, kept.purse_weights) == (100_001, ["50", "30", "20"])


def test_a_class_is_not_declared_once_judging_has_begun(show: Show, office: Person):
    mark_everything(show)
    sent = {"sections": ["harness"], "method": "plain", "judges_per_section": 2}
    problem(post(office, f"classes/{class_of(show).pk}/declare", sent), 409, "conflict")


def test_the_schema_is_anybodys_under_its_own_media_type(client: Client):
    answer = client.get("/api/v1/schemas/scorecard")
    assert answer["Content-Type"] == "application/schema+json"
    assert json.loads(answer.content) == SCHEMA
    plain = client.get("/api/v1/schemas/scorecard", headers={"accept": "application/json"})
    assert plain.json() == SCHEMA
