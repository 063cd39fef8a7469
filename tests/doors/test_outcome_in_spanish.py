"""What exhibitors and the public read of a released show, in Spanish."""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any

import pytest
from django.urls import reverse

from entries.models import Entry
from judging.actions.compute_result import compute_result
from judging.actions.seasons import add_class, make_season
from judging.models import Criterion, Result, Section
from showrun.shows.models import Person
from showrun.shows.rules.access import Role
from tests import papers_stage as stage
from tests.doors.test_language import data_of, english_in, reading, told
from tests.people import PersonFactory, ShowFactory, give

pytestmark = pytest.mark.django_db
# What stands in English says so and is read out so; what people wrote stands in a `bdi`.
IN_ENGLISH = re.compile(r'<(\w+)\b[^>]*\blang="en"[^>]*>.*?</\1>|<bdi>.*?</bdi>', re.DOTALL)

TITLES = (
    "How to Make Eveners", "American Farming and Stock Raising",
    "Evener Width on Horse Drawn Mowers", "Working Three Horses",
    "Elementary Lessons in the Physics of Agriculture", "Farm Implements",
    "Farrow's Manual of Military Training", "BDS Safety Rules",
)  # fmt: skip


@pytest.fixture
def result(db: None) -> Result:
    show = stage.show()
    return stage.released_class(show, stage.scorecard(show, n_sections=3), n_entries=4)


@pytest.fixture
def entry(result: Result) -> Entry:
    return Entry.objects.get(show=result.show_class.show, number=2)


def own_words(entry: Entry) -> list[str]:
    """The show's, the card's and the entry's own words."""
    show = entry.show
    words = data_of(show, entry)
    words += Section.objects.filter(scorecard__show=show).values_list("name", flat=True)
    rows = Criterion.objects.filter(section__scorecard__show=show)
    words += [one for row in rows for one in (row.name, row.guidance) if one]
    words += Entry.objects.filter(show=show).values_list("wagon_name", flat=True)
    return [one for one in words if one] + [str(one) for one in show.cautions or []]


def english_of(answer: Any, entry: Entry) -> list[str]:
    """The English lines of a page, beside data, titles of books and what is marked as English."""
    page = IN_ENGLISH.sub(" ", answer.content.decode())
    return english_in(SimpleNamespace(content=page.encode()), *own_words(entry), *TITLES)


@pytest.mark.parametrize(
    "name",
    ["home", "show", "show-card", "results", "prepare", "handbook", "show-handbook", "evener",
     "seasons", "my-entry", "my-feedback", "my-outfits", "paper-check-form"],
)  # fmt: skip
def test_an_exhibitor_reads_the_page_in_spanish(entry: Entry, result: Result, name: str) -> None:
    slug = [entry.show.slug]
    addresses: dict[str, tuple[str, list[Any]]] = {
        "home": ("reports:home", []),
        "show": ("judging:show", slug),
        "show-card": ("judging:show-card", slug),
        "results": ("judging:results", slug),
        "prepare": ("judging:prepare", slug),
        "handbook": ("judging:handbook", []),
        "show-handbook": ("judging:show-handbook", slug),
        "evener": ("judging:evener", []),
        "seasons": ("judging:seasons", []),
        "my-entry": ("reports:my-entry", [entry.pk]),
        "my-feedback": ("reports:my-feedback", [entry.pk, result.show_class_id]),
        "my-outfits": ("reports:my-outfits", []),
        "paper-check-form": ("reports:paper-check-form", []),
    }
    view, args = addresses[name]
    answer = reading(entry.exhibitor).get(reverse(view, args=args))
    assert answer.status_code == 200
    assert '<html lang="es"' in answer.content.decode()
    assert english_of(answer, entry) == []
    assert ".m.." not in told(answer)


def test_places_and_dates_are_said_as_spanish_says_them(entry: Entry, result: Result) -> None:
    address = reverse("reports:my-feedback", args=[entry.pk, result.show_class_id])
    page = reading(entry.exhibitor).get(address).content.decode()
    assert "lugar</strong>" in page
    day = reading(None).get(reverse("judging:show", args=[entry.show.slug])).content.decode()
    assert re.search(r"\b\d{1,2} de (enero|febrero|marzo|abril|mayo|junio|julio|agosto)", day)


def test_an_announcer_reads_the_list_out_in_spanish(entry: Entry, result: Result) -> None:
    announcer = PersonFactory.create(name="Obadiah Quillfeather")
    give(announcer, entry.show, Role.ANNOUNCER)
    show = ShowFactory.create(slug="lantern-draw-2")
    give(announcer, show, Role.ANNOUNCER)
    client, address = reading(announcer), reverse("judging:call-list", args=[entry.show.slug])
    people = [announcer.name, *Person.objects.values_list("name", flat=True)]
    released = client.get(address)
    assert "Lista del locutor" in told(released)
    assert "Lugar 1" in told(released)
    assert "place" not in told(released) and "p.m.." not in told(released)
    assert english_in(released, *own_words(entry), *people) == []
    for due in (None, stage.AT):
        Result.objects.filter(pk=result.pk).update(released_at=None, release_due_at=due)
        held = client.get(address)
        assert english_in(held, *own_words(entry), *people) == []
    compute_result(show_class=result.show_class, by=announcer, at=stage.AT)
    newer = client.get(address)
    assert "antes de leer esto en voz alta" in told(newer)
    assert english_in(newer, *own_words(entry), *people) == []
    empty = client.get(reverse("judging:call-list", args=[show.slug]))
    assert english_in(empty, *data_of(show), announcer.name) == []


def test_a_season_is_edited_in_spanish_with_a_fault_on_the_way(
    entry: Entry, result: Result
) -> None:
    show, maker = entry.show, PersonFactory.create(name="Obadiah Quillfeather")
    give(maker, show, Role.OFFICE)
    season = make_season(
        show=show, name="Lantern Season", points=["10", "7"], best_of=None, by=maker, at=stage.AT
    )
    add_class(season=season, show_class=result.show_class, by=maker, at=stage.AT)
    client, address = reading(maker), reverse("judging:edit-season", args=[season.slug])
    own = [*own_words(entry), season.name, maker.name]
    assert english_in(client.get(address), *own) == []
    for sent in ({"do": "change", "points": "5, 9", "best_of": "x"}, {"do": "remove"}):
        refused = client.post(address, sent)
        assert refused.status_code == 422
        assert english_in(refused, *own) == []


def test_a_show_is_planned_in_spanish_with_a_fault_on_the_way(settings: Any) -> None:
    planner = PersonFactory.create(name="Obadiah Quillfeather")
    settings.SHOW_PLANNERS = [planner.email]
    client, address = reading(planner), reverse("shows:plan")
    assert english_in(client.get(address), planner.name) == []
    days = {"starts_on": "2028-06-02", "ends_on": "2028-06-01", "opens": "x", "minutes": "0"}
    for sent in ({}, days, {**days, "minutes": "9999", "classes": "A\n" * 30, "name": "Kettle"}):
        refused = client.post(address, sent)
        assert refused.status_code == 422
        assert english_in(refused, planner.name) == []
