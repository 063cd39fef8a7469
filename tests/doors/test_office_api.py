"""The office over the API: judges, conflicts, panel, window, what phones bring in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from judging.models import (
    Conflict,
    Judge,
    PairingCode,
    RoundEvent,
    SafetyConcern,
    Seat,
    Visit,
)
from showrun.shows.models import AuditEntry, Person, Show
from tests.http_api import get, post, took
from tests.judged_show import (
    build_show,
    concern,
    entry_of,
    judge_of,
    mark,
    office_of,
    open_window,
    pair,
    send,
    steward_of,
)
from tests.kept import kept_for_module
from tests.problems import problem

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def built(django_db_setup: None, django_db_blocker: Any) -> Iterator[int]:
    """A show up to the point where the panel can be drawn."""
    with kept_for_module(django_db_blocker):
        yield build_show().pk


@pytest.fixture
def show(built: int, db: None) -> Show:
    return Show.objects.get(pk=built)


@pytest.fixture
def office(show: Show) -> Person:
    return office_of(show)


@pytest.fixture
def steward(show: Show) -> Person:
    return steward_of(show)


# --- Judges and conflicts ------------------------------------------------------------------

JUDGE = {
    "email": "New.Judge@showrun.example",
    "name": "Nadia Ruiz",
    "code": "J9",
    "sections": ["harness", "camp_kit"],
}


def test_a_judge_is_engaged_and_listed(show: Show, office: Person):
    made = took(post(office, f"shows/{show.slug}/judges", JUDGE), 201)
    assert made["sections"] == ["camp_kit", "harness"]
    assert (made["code"], made["name"], made["seniority"]) == ("J9", "Nadia Ruiz", "senior")
    listed = took(get(office, f"shows/{show.slug}/judges"))
    assert [judge["code"] for judge in listed] == ["J1", "J2", "J3", "J4", "J9"]
    assert listed[1]["conflicts"] == [entry_of(show, 1).pk]
    assert made in listed


@pytest.mark.parametrize(
    ("wrong", "status", "field"),
    [
        ({"email": "no address"}, 422, "email"),
        ({"name": ""}, 422, "name"),
        ({"code": "J 9"}, 422, "code"),
        ({"sections": []}, 422, "sections"),
        ({"sections": ["tap_dance"]}, 422, "sections"),
        ({"sections": "harness"}, 422, "sections"),
        ({"seniority": "royal"}, 422, "seniority"),
        ({"code": "J1"}, 409, None),
        ({"email": "j1.three-kettles@showrun.example"}, 409, None),
    ],
)
def test_a_judge_who_cannot_be_engaged_leaves_nothing_behind(
    show: Show, office: Person, wrong: dict[str, Any], status: int, field: str | None
):
    people = Person.objects.count()
    answered = post(office, f"shows/{show.slug}/judges", {**JUDGE, **wrong})
    refused = problem(answered, status, "invalid-input" if field else "conflict")
    assert set(refused.get("errors", {})) == ({field} if field else set())
    assert Judge.objects.filter(show=show).count() == 4
    assert Person.objects.count() == people


def test_conflicts_are_declared_once_and_about_this_show(show: Show, office: Person):
    judge, entry = judge_of(show, "J3"), entry_of(show, 2)
    path, sent = f"judges/{judge.pk}/conflicts", {"entry": entry.pk, "kind": "crew"}
    assert took(post(office, path, sent), 201)["conflicts"] == [entry.pk]
    problem(post(office, path, sent), 409, "conflict")
    kind = problem(post(office, path, {**sent, "kind": "envy"}), 422, "invalid-input")
    assert set(kind["errors"]) == {"kind"}
    other = build_show(slug="other-ground", n_entries=1, n_judges=1)
    for pk in (entry_of(other, 1).pk, 999_999, 10**30):
        problem(post(office, path, {**sent, "entry": pk}), 404, "not-found")
    assert Conflict.objects.filter(judge=judge).count() == 1


def test_a_pairing_code_is_made_and_only_its_hash_kept(show: Show, office: Person):
    judge = judge_of(show, "J1")
    made = took(post(office, f"judges/{judge.pk}/pairings"), 201)
    assert made["link"] == f"http://testserver/round/#pair={made['code']}"
    assert made["code"] not in str(list(PairingCode.objects.values()))
    assert made["code"].replace("-", "") not in str(list(AuditEntry.objects.values()))


# --- Panel and window ----------------------------------------------------------------------


def test_nobody_is_seated_where_a_conflict_bars_them(show: Show, office: Person):
    for code, number in (("J1", 2), ("J3", 3), ("J4", 4)):
        sent = {"entry": entry_of(show, number).pk, "kind": "kin"}
        took(post(office, f"judges/{judge_of(show, code).pk}/conflicts", sent), 201)
    barred = set(Conflict.objects.values_list("judge__code", "entry__number"))
    assert barred == {("J1", 2), ("J2", 1), ("J3", 3), ("J4", 4)}
    for seed in range(5):
        panel = took(post(office, f"shows/{show.slug}/panel", {"seed": seed}), 201)
        seated = [(seat["judge"], seat["entry"]) for seat in panel["seats"]]
        assert not barred & set(seated)
        looks = [(seat["entry"], seat["section"]) for seat in panel["seats"]]
        assert len(looks) == 5 * 3 * 2
        assert all(looks.count(place) == 2 for place in looks)
        assert sum(panel["loads"].values()) == len(looks)
    again = took(post(office, f"shows/{show.slug}/panel", {"seed": 4}), 201)
    assert again == panel == took(get(office, f"shows/{show.slug}/panel"))


def test_an_impossible_panel_says_who_is_short_and_keeps_the_old_one(show: Show, office: Person):
    took(post(office, f"shows/{show.slug}/panel"), 201)
    before = set(Seat.objects.values_list("judge", "entry", "section"))
    for code in ("J1", "J3", "J4"):
        sent = {"entry": entry_of(show, 1).pk, "kind": "guest"}
        took(post(office, f"judges/{judge_of(show, code).pk}/conflicts", sent), 201)
    answered = post(office, f"shows/{show.slug}/panel", {"seed": 2})
    refused = problem(answered, 409, "panel-impossible")
    assert refused["short"] == 3 * 2  # three sections, two judges each, and nobody is free
    assert "1" in refused["detail"] and "short" in refused["detail"]
    assert set(Seat.objects.values_list("judge", "entry", "section")) == before


@pytest.mark.parametrize("seed", [-1, 2**31, "one", None, 1.5])
def test_a_seed_that_is_none_is_refused(show: Show, office: Person, seed: Any):
    refused = problem(
        post(office, f"shows/{show.slug}/panel", {"seed": seed}), 422, "invalid-input"
    )
    assert set(refused["errors"]) == {"seed"}


def test_the_panel_is_not_drawn_again_over_cards_in_work(show: Show, office: Person):
    took(post(office, f"shows/{show.slug}/panel"), 201)
    device, _ = pair(judge_of(show, "J1"))
    seat = device.judge.seats.select_related("entry", "section").first()
    assert seat
    row = seat.section.criteria.first()
    assert row
    send(device, [mark(seat.entry, row.code, 7)])
    problem(post(office, f"shows/{show.slug}/panel", {"seed": 3}), 409, "conflict")


def test_the_window_is_sized_published_and_then_stays(show: Show, office: Person):
    path = f"shows/{show.slug}/window"
    problem(get(office, path), 404, "not-found")
    problem(post(office, path), 409, "not-yet")  # no panel yet
    problem(post(office, f"{path}/publish"), 409, "not-yet")
    took(post(office, f"shows/{show.slug}/panel"), 201)
    sized = took(post(office, path), 201)
    assert sized["fits"] and sized["published_at"] is None
    assert sized["bound_minutes"] <= sized["needed_minutes"] <= sized["available_minutes"]
    assert len(sized["visits"]) == Visit.objects.count() > 0
    assert sized["advice"]
    published = took(post(office, f"{path}/publish"))
    assert published["published_at"] is not None
    assert took(post(office, f"{path}/publish")) == published
    problem(post(office, path), 409, "conflict")
    assert took(get(office, path)) == published


def test_a_window_that_does_not_hold_is_not_published(show: Show, office: Person):
    Show.objects.filter(pk=show.pk).update(judging_minutes=10)
    took(post(office, f"shows/{show.slug}/panel"), 201)
    sized = took(post(office, f"shows/{show.slug}/window"), 201)
    assert not sized["fits"]
    assert len(sized["advice"]) > 1, "the sentence and at least one way out"
    refused = problem(post(office, f"shows/{show.slug}/window/publish"), 409, "not-yet")
    assert f"need {sized['needed_minutes']} minutes" in refused["detail"]


# --- Held events and concerns --------------------------------------------------------------


def test_held_events_and_concerns_reach_the_office_and_are_settled(
    show: Show, office: Person, steward: Person
):
    open_window(show)
    device, _ = pair(judge_of(show, "J1"))
    seat = device.judge.seats.select_related("entry").first()
    assert seat
    send(device, [mark(seat.entry, "no_such_row", 7), concern(seat.entry, "stop", "hame strap")])
    progress = took(get(steward, f"shows/{show.slug}/progress"))
    (held,), (raised,) = progress["held"], progress["concerns"]
    assert (held["judge"], held["code"]) == ("J1", "criterion-not-yours")
    assert (raised["degree"], raised["text"], raised["seen_at"]) == ("stop", "hame strap", None)
    assert progress["cards_expected"] == len(progress["cards"]) > 0
    problem(post(steward, f"events/{held['id']}/settle", {"note": " "}), 422, "invalid-input")
    took(post(steward, f"events/{held['id']}/settle", {"note": "asked the judge"}))
    problem(post(office, f"events/{held['id']}/settle", {"note": "again"}), 409, "conflict")
    seen = took(post(steward, f"concerns/{raised['id']}/seen"))
    assert took(post(office, f"concerns/{raised['id']}/seen"))["seen_at"] == seen["seen_at"]
    after = took(get(office, f"shows/{show.slug}/progress"))
    assert after["held"] == []
    assert RoundEvent.objects.get(pk=held["id"]).settled_note == "asked the judge"
    assert SafetyConcern.objects.get().seen_by == steward
