"""Seasons: who makes, fills and edits one, and what anybody reads."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from entries.models import Entry
from judging.actions.release_result import release_result
from judging.actions.seasons import add_class, make_season
from judging.models import Season, SeasonClass
from showrun.shows.models import Person, Show
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    steward_of,
)
from tests.released_show import LATER, announcer_of, released, signed
from tests.remembered import remembered

pytestmark = pytest.mark.django_db


@pytest.fixture
@remembered
def show() -> Show:
    show = build_show(n_entries=3, n_judges=3, judges_per_section=3, kin=False)
    mark_everything(show)
    return show


@pytest.fixture
def season(show) -> Season:
    return make_season(
        show=show, name="Lantern Season", points=["10", "7", "5"], best_of=1,
        by=office_of(show), at=AT,
    )  # fmt: skip


def as_person(person: Person | None) -> Client:
    client = Client()
    if person:
        client.force_login(person)
    return client


def office(show: Show) -> str:
    return reverse("judging:office-seasons", args=[show.slug])


def standings(season: Season) -> str:
    answer = Client().get(reverse("judging:season", args=[season.slug]))
    assert answer.status_code == 200
    return answer.content.decode()


def made(name: str = "Fall Season", points: str = "5, 3", best_of: str = "") -> dict[str, str]:
    return {
        "do": "make",
        "season-name": name,
        "season-points": points,
        "season-best_of": best_of,
    }


def added(season: Season, show: Show) -> dict[str, object]:
    return {"do": "add", "add-season": season.pk, "add-show_class": class_of(show).pk}


def test_the_office_makes_a_season_and_adds_its_own_class(show):
    client = as_person(office_of(show))
    assert client.post(office(show), made(best_of="2")).status_code == 302
    season = Season.objects.get()
    assert (season.points, season.best_of, season.made_by) == (["5", "3"], 2, office_of(show))
    assert client.post(office(show), added(season, show)).status_code == 302
    assert "Trail wagon" in client.get(office(show)).content.decode()
    again = client.post(office(show), added(season, show))
    assert again.status_code == 422
    assert "counts in Fall Season already" in again.content.decode()
    row = SeasonClass.objects.get()
    typed = {"do": "remove", "remove-row": row.pk, "remove-reason": "Not meant."}
    assert client.post(office(show), typed).status_code == 302
    assert not SeasonClass.objects.exists()


def test_nobody_else_of_the_show_makes_or_fills_one(show, season, stranger):
    other = build_show(slug="elsewhere", n_entries=1)
    add_class(season=season, show_class=class_of(show), by=office_of(show), at=AT)
    row = SeasonClass.objects.get()
    removed = {"do": "remove", "remove-row": row.pk, "remove-reason": "Mine."}
    for person, status in (
        (steward_of(show), 403),
        (judge_of(show).person, 403),
        (announcer_of(show), 403),
        (entry_of(show, 1).exhibitor, 403),
        (office_of(other), 404),
        (stranger, 404),
        (None, 404),
    ):
        for typed in (made(), added(season, show), removed):
            assert as_person(person).post(office(show), typed).status_code == status
    # Another office, at its own address, with this show's class.
    for typed in (added(season, show), removed):
        refused = as_person(office_of(other)).post(office(other), typed)
        assert refused.status_code == 422
        assert "Choose a class." in refused.content.decode()
    assert list(SeasonClass.objects.all()) == [row]
    assert Season.objects.count() == 1


def test_another_office_may_add_its_own_class_to_a_season_it_did_not_make(show, season):
    other = build_show(slug="elsewhere", n_entries=1)
    assert as_person(office_of(other)).post(office(other), added(season, other)).status_code == 302
    assert SeasonClass.objects.get().show_class == class_of(other)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (made(name=""), "What is the season called?"),
        (made(name="Lantern season"), "Another name, please."),
        (made(points="3, 5"), "cannot be worth more than the one before it"),
        (made(points="ten"), "is no number of points"),
        (made(best_of="0"), "At least one show."),
    ],
)
def test_what_is_no_season_stands_again_beside_its_fault(show, season, typed, words):
    refused = as_person(office_of(show)).post(office(show), typed)
    assert refused.status_code == 422
    assert words in refused.content.decode()
    assert Season.objects.count() == 1
    assert as_person(office_of(show)).post(office(show), {"do": "sing"}).status_code == 404


def test_the_standings_are_public_and_of_released_results_alone(show, season):
    add_class(season=season, show_class=class_of(show), by=office_of(show), at=AT)
    result = signed(show)
    text = standings(season)
    assert "No result of this season is released yet." in text
    assert "(not released yet)" in text
    assert "Cook 1" not in text
    release_result(result=result, by=office_of(show), at=AT)
    text = standings(season)
    assert "As of May 15, 2027" in text
    assert all(f"Cook {n}" in text for n in (1, 2, 3))
    assert "Points by place, from the first: 10, 7, 5;" in text
    assert season.name in Client().get(reverse("judging:seasons")).content.decode()
    assert Client().get(reverse("judging:season", args=["nowhere"])).status_code == 404


def test_a_dropped_show_stands_in_brackets(show, season):
    other = build_show(slug="fall", n_entries=2, n_judges=3, judges_per_section=3, kin=False)
    mark_everything(other)
    Entry.objects.filter(show=other, number=1).update(exhibitor=entry_of(show, 1).exhibitor)
    for one in (show, other):
        add_class(season=season, show_class=class_of(one), by=office_of(one), at=AT)
        released(one)
    text = standings(season)
    assert text.count("(10)") + text.count("(7)") + text.count("(5)") == 1


def test_only_the_maker_edits_and_points_need_a_reason_once_a_result_counts(show, season, stranger):
    address = reverse("judging:edit-season", args=[season.slug])
    other = build_show(slug="elsewhere", n_entries=1)
    add_class(season=season, show_class=class_of(show), by=office_of(show), at=AT)
    typed = {
        "do": "change", "season-name": season.name, "season-points": "20, 1",
        "season-best_of": "", "season-reason": "",
    }  # fmt: skip
    for person in (None, stranger, office_of(other), steward_of(show), entry_of(show, 1).exhibitor):
        assert as_person(person).get(address).status_code == 403
        assert as_person(person).post(address, typed).status_code == 403
    released(show)
    maker = as_person(office_of(show))
    refused = maker.post(address, typed)
    assert refused.status_code == 422
    assert "Why do the points change?" in refused.content.decode()
    assert maker.post(address, {**typed, "season-reason": "A <b>misprint</b>."}).status_code == 302
    text = standings(season)
    assert "A &lt;b&gt;misprint&lt;/b&gt;." in text
    assert "Before: 10, 7, 5, best 1." in text
    row = SeasonClass.objects.get()
    gone = {"do": "remove", "remove-row": row.pk, "remove-reason": "Not this one."}
    assert maker.post(address, gone).status_code == 302
    assert not SeasonClass.objects.exists()


def test_queries_do_not_grow_with_the_season(season, show):
    def count() -> int:
        address = reverse("judging:season", args=[season.slug])
        with CaptureQueriesContext(connection) as queries:
            assert Client().get(address).status_code == 200
        return len(queries)

    add_class(season=season, show_class=class_of(show), by=office_of(show), at=AT)
    released(show)
    few = count()
    for slug in ("one", "two"):
        other = build_show(slug=slug, n_entries=4, n_judges=3, judges_per_section=3, kin=False)
        mark_everything(other)
        add_class(season=season, show_class=class_of(other), by=office_of(other), at=AT)
        released(other, at=LATER)
    assert count() == few
