"""An entry's feedback as a page: the same as the sheet, and for the same eyes."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from entries.models import Entry
from judging.models import CardMark, Criterion, Result
from judging.rules.cards.scorecard import Form
from judging.rules.results.methods import METHODS
from reports.actions.draw_paper import lay_out
from reports.queries.sheets import feedback_of
from showrun.shows.models import Person
from tests import counted_stage
from tests import papers_stage as stage
from tests.drawn_papers import paper_of, text

pytestmark = pytest.mark.django_db


@pytest.fixture
def result(db: None) -> Result:
    show = stage.show()
    return stage.released_class(show, stage.scorecard(show, n_sections=3), n_entries=4)


def entry_of(result: Result, number: int = 2) -> Entry:
    return Entry.objects.get(show=result.show_class.show, number=number)


def address(result: Result, number: int = 2) -> str:
    entry = entry_of(result, number)
    return reverse("reports:my-feedback", args=[entry.pk, result.show_class_id])


def ask(result: Result, person: Person | None, number: int = 2):
    client = Client()
    if person:
        client.force_login(person)
    return client.get(address(result, number))


def read(result: Result, number: int = 2) -> str:
    answer = ask(result, entry_of(result, number).exhibitor, number)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_it_tells_points_middle_rows_remarks_and_safety(result: Result) -> None:
    stage.raise_concern(entry_of(result), "mend", "Near line worn thin.")
    Criterion.objects.update(guidance="Look at both ends.")
    page = read(result)
    content = feedback_of(result.show_class, entry_of(result), result)
    for part in content["parts"]:
        figures = part.figures
        assert part.line.name in page
        assert f"<strong>{figures['own']}</strong>" in page
        assert f"{figures['lowest']} to {figures['highest']}" in page
    for row, _, _ in content["worth_work"]:
        assert row.name in page
        assert row.words in page
    assert len(content["strongest"]) == 3
    assert page.count("What judges look for:") == len(content["worth_work"]) == 3
    for words in (
        "Second place",
        "second of 4 entries",
        "Joinery plain and right",
        "Near line worn thin.",
        "That nothing is noted does not prove that all is sound.",
        "local codes and officials decide",
        "Above the middle of the class in every section.",
    ):
        assert words in page
    assert "Judge No" not in page


def test_the_page_and_the_sheet_call_a_judge_the_same(result: Result) -> None:
    on_page = re.findall(r"(Judge [A-C]):</span> <bdi>([^<]*)</bdi>", read(result))
    sheet = text(lay_out(paper_of(result, "feedback", 2)))
    assert len(on_page) > 1
    for letter, words in on_page:
        assert f"{letter}: {words}" in sheet


def test_only_its_exhibitor_and_the_office_read_it(result: Result) -> None:
    show = result.show_class.show
    owner, neighbour = entry_of(result).exhibitor, entry_of(result, 3).exhibitor
    office = stage.person("Olive", "office", show=show)
    steward = stage.person("Stan", "steward", show=show)
    answers = [ask(result, who).status_code for who in (owner, office, steward, neighbour, None)]
    assert answers == [200, 200, 403, 404, 404]


def test_before_release_it_says_so_and_nothing_else(result: Result) -> None:
    Result.objects.update(released_at=None)
    for person in (
        entry_of(result).exhibitor,
        stage.person("O", "office", show=entry_of(result).show),
    ):
        answer = ask(result, person)
        assert answer.status_code == 403
        assert "is not released yet" in answer.content.decode()
        assert "Judge A" not in answer.content.decode()


def test_a_class_the_entry_is_not_in_is_not_there(result: Result) -> None:
    client = Client()
    client.force_login(entry_of(result).exhibitor)
    entry = entry_of(result)
    assert client.get(reverse("reports:my-feedback", args=[entry.pk, 999_999])).status_code == 404


def test_marks_changed_since_are_not_shown(result: Result) -> None:
    mark = CardMark.objects.filter(card__entry=entry_of(result), state="marked").first()
    assert mark is not None and mark.value is not None
    mark.value -= 1
    mark.save()
    answer = ask(result, entry_of(result).exhibitor)
    assert answer.status_code == 409
    assert "stands here again" in answer.content.decode()


@pytest.mark.parametrize("method", METHODS)
def test_every_method_has_its_page(method: str) -> None:
    show = stage.show()
    sections = stage.scorecard(show, n_sections=2, n_rows=4)
    page = read(counted_stage.counted_class(show, sections, method=method))
    assert "How the total adds up" in page
    assert ("comparisons won" in page) == (method == "placings")
    assert ("adjusted <strong>" in page) == (method in ("judge_adjusted", "crossed"))


@pytest.mark.parametrize("method", ["plain", "placings"])
def test_a_wagon_alone_has_nothing_beside_it(method: str) -> None:
    show = stage.show()
    sections = stage.scorecard(show, n_sections=2, n_rows=4)
    result = counted_stage.counted_class(show, sections, method=method, n_entries=1, n_judges=2)
    page = read(result, 1)
    assert "the only entry placed" in page
    assert "the middle of the class" not in page.split("Safety notes")[0]


def test_passes_and_places_are_told_in_their_own_words() -> None:
    show = stage.show()
    sections = stage.scorecard(show, n_sections=3)
    stage.give_form(sections[1], Form.PASS_FAIL, all_or_nothing=True)
    stage.give_form(sections[2], Form.PLACINGS)
    page = read(stage.released_class(show, sections, n_entries=2, n_judges=1))
    assert "One row failed gives the section no points" in page
    assert "places only. Given: Judge A, place 2." in page
