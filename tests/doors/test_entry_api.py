"""Entering and deciding about entries over the API."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from entries.actions.enter import enter
from entries.models import CampSpot, Entry
from entries.rules.eligibility import CREW_NAME_MAX, HISTORY_MAX, OUTFIT_MAX, WAGON_NAME_MAX
from entries.rules.places import Status
from judging.models import Judge
from showrun.errors import Gone, InvalidInput
from showrun.shows.models import AuditEntry, Person, Show, ShowClass
from showrun.shows.rules.access import Role
from tests.people import RIG, EntryFactory, PersonFactory, ShowFactory, give
from tests.problems import problem

pytestmark = pytest.mark.django_db

CREW = [{"name": "Ada Moor", "role": "head_cook"}, {"name": "Ben Oak", "role": "cook"}]


@pytest.fixture
def show(show: Show) -> Show:
    """The show of the cast, a month from now, whenever the tests run."""
    show.starts_on = timezone.localdate() + timedelta(days=30)
    show.ends_on = show.starts_on + timedelta(days=2)
    show.save()
    return show


def body(**other: Any) -> dict[str, Any]:
    whole = {
        "wagon_name": "Tin Sparrow",
        "outfit": "Sparrow Outfit",
        "history": "Box of 1902.\nWheels new.",
        "rig": RIG,
        "classes": ["trail", "ranch"],
        "crew": CREW,
    }
    return {key: value for key, value in {**whole, **other}.items() if value is not ...}


def as_(person: Person | None) -> Client:
    client = Client()
    if person:
        client.force_login(person)
    return client


def post(person: Person | None, path: str, sent: Any = None) -> Any:
    text = json.dumps({} if sent is None else sent)
    return as_(person).post(f"/api/v1/{path}", text, content_type="application/json")


def enter_as(person: Person | None, show: Show, **other: Any) -> Any:
    return post(person, f"shows/{show.slug}/entries", body(**other))


# --- Entering ------------------------------------------------------------------------------


def test_an_entry_takes_a_place_and_comes_back_as_sent(show: Show, stranger: Person):
    answered = enter_as(stranger, show)
    assert answered.status_code == 201
    taken = answered.json()
    assert taken == {
        "id": Entry.objects.get().pk,
        "number": None,
        "wagon_name": "Tin Sparrow",
        "outfit": "Sparrow Outfit",
        "status": "entered",
        "status_reason": "",
        "place_in_line": None,
        "rig": RIG,
        "classes": ["trail", "ranch"],
        "crew": CREW,
        "spot": None,
    }
    told = as_(stranger).get(f"/api/v1/entries/{taken['id']}").json()
    assert {name: told[name] for name in taken} == taken
    assert AuditEntry.objects.filter(verb="entered", actor=stranger).count() == 1


def test_after_the_cap_entries_wait_in_their_order_and_move_up_in_it(show: Show, office: Person):
    people = PersonFactory.create_batch(6)
    taken = [enter_as(one, show, wagon_name=f"Wagon {n}") for n, one in enumerate(people)]
    assert [one.status_code for one in taken] == [201] * 6
    standing = [(one.json()["status"], one.json()["place_in_line"]) for one in taken]
    waiting = [("waiting", 1), ("waiting", 2), ("waiting", 3)]
    assert standing == [("entered", None)] * 3 + waiting
    ids = [one.json()["id"] for one in taken]

    refused = problem(post(office, f"entries/{ids[3]}/confirm"), 409, "not-yet")
    assert "All 3 places are taken" in refused["detail"]
    assert post(office, f"entries/{ids[0]}/scratch", {"reason": "axle"}).status_code == 200
    # a place is free: it is the first one's in line, and nobody overtakes
    overtaking = problem(post(office, f"entries/{ids[5]}/confirm"), 409, "not-yet")
    assert "2 entered before" in overtaking["detail"]
    late = enter_as(PersonFactory.create(), show, wagon_name="Latecomer").json()
    assert (late["status"], late["place_in_line"]) == ("waiting", 4)
    promoted = post(office, f"entries/{ids[3]}/confirm").json()
    assert (promoted["status"], promoted["place_in_line"]) == ("confirmed", None)
    line = [as_(office).get(f"/api/v1/entries/{pk}").json()["place_in_line"] for pk in ids[4:]]
    assert line == [1, 2]
    problem(post(office, f"entries/{ids[4]}/confirm"), 409, "not-yet")
    assert Entry.objects.holding_a_place().count() == show.entry_cap


FAULTS: list[tuple[dict[str, Any], str]] = [
    ({"wagon_name": "  "}, "wagon_name"),
    ({"wagon_name": "W" * (WAGON_NAME_MAX + 1)}, "wagon_name"),
    ({"wagon_name": "Tin\0Sparrow"}, "wagon_name"),
    ({"wagon_name": "Tin\nSparrow"}, "wagon_name"),
    ({"wagon_name": "Tin\ud800"}, "wagon_name"),
    ({"wagon_name": None}, "wagon_name"),
    ({"wagon_name": ...}, "wagon_name"),
    ({"outfit": "O" * (OUTFIT_MAX + 1)}, "outfit"),
    ({"history": "H" * (HISTORY_MAX + 1)}, "history"),
    ({"classes": []}, "classes"),
    ({"classes": ["rodeo"]}, "classes"),
    ({"classes": "trail"}, "classes"),
    ({"classes": [["trail"]]}, "classes"),
    ({"rig": {**RIG, "tongue": "rope"}}, "rig"),
    ({"rig": {**RIG, "hitch": ""}}, "rig"),
    ({"rig": {"tongue": "drop"}}, "rig"),
    ({"rig": {}}, "rig"),
    ({"rig": None}, "rig"),
    ({"rig": "drop"}, "rig"),
    ({"rig": ...}, "rig"),
    ({"crew": []}, "crew"),
    ({"crew": CREW[:1]}, "crew"),
    ({"crew": CREW[1:] + [{"name": "C", "role": "cook"}]}, "crew"),
    ({"crew": CREW + [{"name": "C", "role": "head_cook"}]}, "crew"),
    ({"crew": CREW + [{"name": "C", "role": "judge"}]}, "crew"),
    ({"crew": CREW + [{"name": " ada  MOOR", "role": "helper"}]}, "crew"),
    ({"crew": CREW + [{"name": "N" * (CREW_NAME_MAX + 1), "role": "cook"}]}, "crew"),
    ({"crew": CREW + [{"name": f"C{n}", "role": "helper"} for n in range(5)]}, "crew"),
    ({"crew": [{"name": f"C{n}", "role": "helper"} for n in range(51)]}, "crew"),
    ({"crew": ["Ada Moor"]}, "crew"),
    ({"crew": {"name": "Ada"}}, "crew"),
    ({"crew": ...}, "crew"),
]


@pytest.mark.parametrize(("wrong", "field"), FAULTS, ids=lambda v: str(v)[:50])
def test_a_faulty_entry_names_its_field_and_takes_no_place(
    show: Show, stranger: Person, wrong: dict[str, Any], field: str
):
    refused = problem(enter_as(stranger, show, **wrong), 422, "invalid-input")
    assert {place.split(".")[0] for place in refused["errors"]} == {field}
    assert not Entry.objects.exists()
    assert not stranger.roles.exists()


def test_a_fault_of_the_whole_and_one_deep_inside_are_told_by_their_place(
    show: Show, stranger: Person
):
    whole = post(stranger, f"shows/{show.slug}/entries", [])
    assert set(problem(whole, 422, "invalid-input")["errors"]) == {"body"}
    deep = enter_as(stranger, show, crew=[CREW[0], {"name": "Ben Oak"}])
    said = problem(deep, 422, "invalid-input")["errors"]
    assert said == {"crew.1.role": ["This field is required."]}


def test_all_faults_are_told_at_once(show: Show, stranger: Person):
    sent = body(
        wagon_name="", classes=["rodeo"], crew=[], rig={**RIG, "hitch": "nine", "draft": "rope"}
    )
    answered = post(stranger, f"shows/{show.slug}/entries", sent)
    errors = problem(answered, 422, "invalid-input")["errors"]
    assert set(errors) == {"wagon_name", "classes", "crew", "rig"}
    assert all(isinstance(sentences, list) for sentences in errors.values())
    assert "Hitch" in errors["rig"][0]
    assert "Draft" in errors["rig"][0]


def test_the_longest_texts_are_taken(show: Show, stranger: Person):
    long_crew = [{"name": "N" * CREW_NAME_MAX, "role": "head_cook"}, CREW[1]]
    sent = {
        "wagon_name": "W" * WAGON_NAME_MAX,
        "outfit": "O" * OUTFIT_MAX,
        "history": "é" * HISTORY_MAX,
        "crew": long_crew,
    }
    assert enter_as(stranger, show, **sent).status_code == 201
    entry = Entry.objects.get()
    assert (len(entry.wagon_name), len(entry.outfit), len(entry.history)) == (80, 80, 2000)


def test_a_wagon_is_entered_once_a_show(show: Show, stranger: Person, exhibitor: Person):
    first = enter_as(stranger, show).json()
    for name in ("Tin Sparrow", "tin  SPARROW ", "TIN SPARROW"):
        refused = problem(enter_as(stranger, show, wagon_name=name), 422, "invalid-input")
        assert refused["errors"] == {"wagon_name": ["You have entered this wagon already."]}
    # somebody else may have a wagon of that name, and a second wagon is welcome
    assert enter_as(exhibitor, show).status_code == 201
    assert enter_as(stranger, show, wagon_name="Copper Moth").status_code == 201
    other = ShowFactory.create(starts_on=show.starts_on, ends_on=show.ends_on)
    ShowClass.objects.create(show=other, code="trail", name="Trail")
    assert enter_as(stranger, other, classes=["trail"]).status_code == 201
    Entry.objects.filter(pk=first["id"]).update(status=Status.SCRATCHED.value)
    assert enter_as(stranger, show).status_code == 201


def test_page_and_api_refuse_the_same(show: Show, stranger: Person):
    enter_as(stranger, show)
    page = as_(stranger).post(
        f"/shows/{show.slug}/enter/",
        {"wagon_name": "tin  sparrow", "classes": "trail", **RIG, "crew_name_1": "A\0B"},
    )
    faults = page.context["form"].faults
    assert faults["wagon_name"] == "You have entered this wagon already."
    assert set(faults) == {"wagon_name", "crew"}
    long = as_(stranger).post(f"/shows/{show.slug}/enter/", {"history": "H" * (HISTORY_MAX + 1)})
    assert "longer than 2000 letters" in long.context["form"].faults["history"]


# --- Once the show has begun ---------------------------------------------------------------


def take(show: Show, person: Person, at: datetime) -> Entry:
    return enter(
        show=show, exhibitor=person, wagon_name="Late Wagon", rig=RIG, classes=["trail"],
        crew=CREW, at=at,
    )  # fmt: skip


def test_entries_close_at_midnight_where_the_show_is(show: Show, stranger: Person):
    show.starts_on, show.ends_on = date(2027, 5, 14), date(2027, 5, 16)
    show.save()
    # midnight in Denver is 6:00 UTC in May
    with pytest.raises(Gone, match="has begun"):
        take(show, stranger, datetime(2027, 5, 14, 6, 0, tzinfo=UTC))
    with pytest.raises(Gone, match="is over"):
        take(show, stranger, datetime(2027, 5, 17, 6, 0, tzinfo=UTC))
    assert not Entry.objects.exists()
    assert take(show, stranger, datetime(2027, 5, 14, 5, 59, 59, tzinfo=UTC)).pk


def test_a_show_that_has_begun_answers_410_on_page_and_api(show: Show, stranger: Person):
    show.starts_on = timezone.localdate(timezone=show.tz)
    show.save()
    closed = problem(enter_as(stranger, show), 410, "entries-closed")
    assert "has begun" in closed["detail"]
    page = as_(stranger).post(f"/shows/{show.slug}/enter/", {"wagon_name": "Tin Sparrow"})
    assert page.status_code == 410
    assert b"has begun" in page.content
    assert not Entry.objects.exists()


def test_the_action_itself_refuses_what_no_form_checked(show: Show, stranger: Person, at: datetime):
    early = at - timedelta(days=365)
    with pytest.raises(InvalidInput) as refused:
        enter(
            show=show, exhibitor=stranger, wagon_name="W" * 81, outfit="O" * 81, history="H" * 2001,
            rig={}, classes=["trail"], crew=[{"name": "N" * 121, "role": "head_cook"}, CREW[1]],
            at=early,
        )  # fmt: skip
    assert set(refused.value.fields) == {"wagon_name", "outfit", "history", "rig", "crew"}


# --- Who sees and who decides --------------------------------------------------------------


def test_without_signing_in_nothing_is_taken(show: Show, entry: Entry):
    """Session sign-in has no challenge to send, so the framework answers 403, not 401."""
    answers = [
        enter_as(None, show),
        as_(None).get(f"/api/v1/entries/{entry.pk}"),
        as_(None).get(f"/api/v1/shows/{show.slug}/entries"),
        *(post(None, f"entries/{entry.pk}/{deed}") for deed in ("confirm", "wait", "scratch")),
    ]
    for answered in answers:
        problem(answered, 403, "not-authenticated")
    assert Entry.objects.count() == 1


def test_a_post_from_another_site_is_refused(show: Show, stranger: Person, office: Person):
    for person, path in ((stranger, f"shows/{show.slug}/entries"), (office, "entries/1/confirm")):
        client = Client(enforce_csrf_checks=True)
        client.force_login(person)
        sent = client.post(f"/api/v1/{path}", json.dumps(body()), content_type="application/json")
        assert "CSRF" in problem(sent, 403, "permission-denied")["detail"]
    assert not Entry.objects.exists()


def test_a_foreign_entry_is_not_there(
    entry: Entry, other_exhibitor: Person, stranger: Person, judge: Judge
):
    for person in (other_exhibitor, stranger, judge.person):
        answered = as_(person).get(f"/api/v1/entries/{entry.pk}")
        refused = problem(answered, 404, "not-found")
        nowhere = as_(person).get("/api/v1/entries/999999").json()
        assert refused == nowhere, "a foreign entry and none at all look the same"


def test_the_owner_the_office_and_the_steward_see_it(
    entry: Entry, exhibitor: Person, office: Person, steward: Person
):
    for person in (exhibitor, office, steward):
        seen = as_(person).get(f"/api/v1/entries/{entry.pk}")
        assert seen.status_code == 200
        assert [member["name"] for member in seen.json()["crew"]] == ["Crew 0", "Crew 1"]


def test_only_the_office_lists_and_decides(
    show: Show, entry: Entry, exhibitor: Person, other_exhibitor: Person, steward: Person,
    stranger: Person, judge: Judge, office: Person,
):  # fmt: skip
    others = {exhibitor: 403, other_exhibitor: 403, steward: 403, judge.person: 403, stranger: 404}
    for person, status in others.items():
        listed = as_(person).get(f"/api/v1/shows/{show.slug}/entries")
        code = {403: "not-allowed", 404: "not-found"}[status]
        problem(listed, status, code)
        for deed in ("confirm", "wait", "scratch"):
            problem(post(person, f"entries/{entry.pk}/{deed}", {"reason": "x"}), status, code)
    entry.refresh_from_db()
    assert entry.status == Status.ENTERED
    assert len(as_(office).get(f"/api/v1/shows/{show.slug}/entries").json()) == 1
    assert post(office, f"entries/{entry.pk}/confirm").status_code == 200


def test_the_office_of_another_show_is_a_stranger(entry: Entry):
    elsewhere = give(PersonFactory.create(), ShowFactory.create(), Role.OFFICE)
    problem(as_(elsewhere).get(f"/api/v1/entries/{entry.pk}"), 404, "not-found")
    problem(post(elsewhere, f"entries/{entry.pk}/confirm"), 404, "not-found")
    problem(as_(elsewhere).get(f"/api/v1/shows/{entry.show.slug}/entries"), 404, "not-found")


# --- Deciding ------------------------------------------------------------------------------


def test_confirming_gives_number_and_the_spot_asked_for(entry: Entry, office: Person):
    confirmed = post(office, f"entries/{entry.pk}/confirm", {"spot": 2}).json()
    assert (confirmed["status"], confirmed["number"], confirmed["spot"]) == ("confirmed", 1, 2)
    problem(post(office, f"entries/{entry.pk}/confirm"), 409, "not-yet")


@pytest.mark.parametrize("spot", [0, -1, "first", 1.5, [1]])
def test_a_spot_that_is_none_is_refused(entry: Entry, office: Person, spot: Any):
    refused = problem(post(office, f"entries/{entry.pk}/confirm", {"spot": spot}), 422,
                      "invalid-input")  # fmt: skip
    assert set(refused["errors"]) == {"spot"}


@pytest.mark.parametrize("spot", [1, 99, 10**30])
def test_a_spot_that_is_not_free_is_refused(
    entry: Entry, other_entry: Entry, office: Person, spot: int
):
    refused = problem(post(office, f"entries/{entry.pk}/confirm", {"spot": spot}), 409, "conflict")
    assert set(refused["errors"]) == {"spot"}
    entry.refresh_from_db()
    assert (entry.status, entry.number) == (Status.ENTERED, None)


@pytest.mark.parametrize("sent", [{}, {"reason": ""}, {"reason": "  "}, {"reason": "x" * 201}])
def test_scratching_needs_a_reason(entry: Entry, office: Person, sent: dict[str, str]):
    refused = problem(post(office, f"entries/{entry.pk}/scratch", sent), 422, "invalid-input")
    assert set(refused["errors"]) == {"reason"}
    entry.refresh_from_db()
    assert entry.status == Status.ENTERED


def test_a_scratched_number_and_its_spot(show: Show, other_entry: Entry, office: Person):
    """The number stays dead; the camp spot is free again."""
    gone = post(office, f"entries/{other_entry.pk}/scratch", {"reason": "Broken axle"}).json()
    assert (gone["status"], gone["status_reason"], gone["number"]) == (
        "scratched",
        "Broken axle",
        1,
    )
    problem(post(office, f"entries/{other_entry.pk}/scratch", {"reason": "again"}), 409, "not-yet")
    problem(post(office, f"entries/{other_entry.pk}/confirm"), 409, "not-yet")
    problem(post(office, f"entries/{other_entry.pk}/wait"), 409, "not-yet")
    next_one = EntryFactory.create(show=show)
    confirmed = post(office, f"entries/{next_one.pk}/confirm").json()
    assert (confirmed["number"], confirmed["spot"]) == (2, 1)
    assert CampSpot.objects.filter(show=show).count() == 3


def test_waiting_gives_the_place_back_and_keeps_the_turn(
    show: Show, other_entry: Entry, office: Person
):
    later = EntryFactory.create(show=show, status=Status.WAITING.value)
    moved = post(office, f"entries/{other_entry.pk}/wait", {"reason": "Papers missing"}).json()
    assert (moved["status"], moved["place_in_line"], moved["spot"]) == ("waiting", 1, None)
    problem(post(office, f"entries/{later.pk}/confirm"), 409, "not-yet")
    assert post(office, f"entries/{other_entry.pk}/confirm").json()["number"] == 1
