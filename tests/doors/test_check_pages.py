"""The checks in the office, the agreement of judges, and each judge's own report."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.html import escape

from judging.models import Judge, Question, Result
from judging.rules.results.panel_checks import MEANINGS
from showrun.shows.models import Person, Show
from tests.judged_show import (
    build_show,
    entry_of,
    judge_of,
    mark_everything,
    office_of,
    release_results,
    steward_of,
)
from tests.kept import kept_for_module
from tests.panel_stage import clean_marks, judged_as, with_severe_judge, with_swap
from tests.people import PersonFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def kept(django_db_setup: None, django_db_blocker: Any) -> Iterator[dict[str, int]]:
    """Simulated shows: one with a severe judge, one with a swap; and a small one, released."""
    with kept_for_module(django_db_blocker):
        severe = judged_as(with_severe_judge(), slug="severe")
        swapped = judged_as(with_swap(), slug="swapped")
        small = build_show(slug="small", n_judges=3, judges_per_section=3, kin=False)
        mark_everything(small)
        yield {"severe": severe.pk, "swapped": swapped.pk, "small": small.pk}


@pytest.fixture
def severe(kept: dict[str, int], db: None) -> Show:
    return Show.objects.get(pk=kept["severe"])


@pytest.fixture
def swapped(kept: dict[str, int], db: None) -> Show:
    return Show.objects.get(pk=kept["swapped"])


@pytest.fixture
def small(kept: dict[str, int], db: None) -> Show:
    return Show.objects.get(pk=kept["small"])


def address(name: str, show: Show) -> str:
    return reverse(f"judging:{name}", args=[show.slug])


def get(client: Client, path: str, person: Person | None) -> Any:
    client.logout()
    if person:
        client.force_login(person)
    return client.get(path)


def page(client: Client, name: str, show: Show) -> str:
    answered = get(client, address(name, show), steward_of(show))
    assert answered.status_code == 200
    return str(answered.content.decode())


def block(text: str, check: str) -> str:
    found = re.search(rf'<section class="block" id="check-{check}".*?</section>', text, re.S)
    assert found
    return found[0]


# --- The checks -------------------------------------------------------------------------------


def test_every_check_says_what_it_looks_at_and_what_a_finding_means(client: Client, swapped: Show):
    text = page(client, "checks", swapped)
    for name, meaning in MEANINGS.items():
        of_check = block(text, name)
        for words in (meaning.looks_at, meaning.means, meaning.does_not_mean):
            assert escape(words) in of_check
        assert "in up to 5 of 100 clean shows" in of_check
    assert "in up to 40 of 100 shows" in text
    assert "Three judges: two who err alike make the third look odd" in text
    found = block(text, "swaps")
    judge = judge_of(swapped, "J2")
    first, second = entry_of(swapped, 2), entry_of(swapped, 7)
    assert f"{judge}: the cards of wagons {first} and {second} fit much better exchanged." in found
    assert "Statistic" in found
    assert "Nothing stands out." in block(text, "same")
    assert Question.objects.count() == 0, "looking asks nobody"


def test_pictures_have_titles_and_the_same_figures_in_tables(client: Client, severe: Show):
    text = page(client, "checks", severe)
    pictures = re.findall(r"<svg.*?</svg>", text, re.S)
    assert len(pictures) == 11, "the judges' severity, and ten wagons"
    names = [re.search(r'aria-labelledby="([^"]+)"', one) for one in pictures]
    titles = [re.search(r'<title id="([^"]+)">[^<]+</title>', one) for one in pictures]
    assert all(a and b and a[1] == b[1] for a, b in zip(names, titles, strict=True))
    assert len({a[1] for a in names if a}) == 11
    assert not re.search(r'(fill|stroke)="(?!none|currentColor)', "".join(pictures))
    for judge in Judge.objects.filter(show=severe).select_related("person"):
        assert text.count(f'<th scope="row">{judge}</th>') == 11


def test_a_finding_about_the_day_is_put_to_its_judge_once(client: Client, severe: Show):
    judge = judge_of(severe, "J2")
    of_check = block(page(client, "checks", severe), "severity")
    assert f"{judge} marks " in of_check
    assert "lower than the other judges of the same wagons" in of_check
    form = {"do": "put", "check": "severity", "judge": str(judge.pk)}
    answered: Any = client.post(address("checks", severe), form)
    assert answered.url == address("checks", severe)
    (asked,) = Question.objects.filter(check_name="severity")
    assert (asked.judge, asked.kind) == (judge, "day")
    of_check = block(page(client, "checks", severe), "severity")
    assert f"#question-{asked.pk}" in of_check
    assert f'name="judge" value="{judge.pk}"' not in of_check
    again = client.post(address("checks", severe), form)
    words = [str(one) for one in get_messages(again.wsgi_request)]
    assert words[-1] == "This was asked before."
    text = page(client, "questions", severe)
    assert "the whole day" in text
    assert "Rows are wrong" not in text


def test_the_pages_take_as_many_reads_for_ten_wagons_as_for_five(
    client: Client, severe: Show, small: Show
):
    for name in ("checks", "agreement"):
        counts = []
        for show in (small, severe):
            get(client, address(name, show), steward_of(show))
            with CaptureQueriesContext(connection) as seen:
                client.get(address(name, show))
            counts.append(len(seen))
        assert counts[0] == counts[1], name
        assert counts[0] < 25, name


def test_without_cards_there_is_nothing_to_check(client: Client):
    show = build_show(slug="bare", n_entries=1)
    assert "No card is in yet" in page(client, "checks", show)
    assert "No card is in yet" in page(client, "agreement", show)


# --- Agreement --------------------------------------------------------------------------------


def test_agreement_is_given_section_by_section_with_intervals(client: Client, severe: Show):
    text = page(client, "agreement", severe)
    for name in ("Running gear", "Camp kit", "Harness"):
        row = re.search(rf'<th scope="row">{name}<small>(.*?)</small></th>(.*?)</tr>', text, re.S)
        assert row
        assert row[1].startswith("Agreement ")
        figures = re.findall(r"-?\d+\.\d\d", row[2])
        assert len(figures) == 6, "correlation, its two ends, without severity, W, alpha"
        value, low, high = map(float, figures[:3])
        assert low < value < high <= 1
    for judge in Judge.objects.filter(show=severe).select_related("person"):
        assert f'{reverse("judging:judge-report", args=[judge.pk])}">{judge}</a>' in text


# --- A judge's own report ---------------------------------------------------------------------


def report_of(judge: Judge) -> str:
    return reverse("judging:judge-report", args=[judge.pk])


def test_only_the_judge_reads_the_own_report_and_only_after_release(client: Client, small: Show):
    judge, other = judge_of(small, "J1"), judge_of(small, "J2")
    elsewhere = build_show(slug="elsewhere", n_entries=1, n_judges=1)
    path = report_of(judge)
    assert get(client, path, judge.person).status_code == 404
    for officer in (office_of(small), steward_of(small)):
        assert get(client, path, officer).status_code == 200
    release_results(small)
    answered = get(client, path, judge.person)
    assert answered.status_code == 200
    assert "no-store" in answered["Cache-Control"]
    strangers = (
        None, PersonFactory.create(), other.person, entry_of(small, 1).exhibitor,
        judge_of(elsewhere, "J1").person, office_of(elsewhere),
    )  # fmt: skip
    for person in strangers:
        assert get(client, path, person).status_code == 404, person
    assert get(client, report_of(other), judge.person).status_code == 404
    assert (
        get(client, reverse("judging:judge-report", args=[987654]), judge.person).status_code == 404
    )
    text = get(client, address("show", small), judge.person).content.decode()
    assert path in text
    assert (
        "/report/"
        not in get(client, address("show", small), entry_of(small, 1).exhibitor).content.decode()
    )
    text = answered.content.decode()
    others = Judge.objects.filter(show=small).exclude(pk=judge.pk).select_related("person")
    assert [one for one in others if one.person.name in text or f"({one.code})" in text] == []


def test_the_report_waits_for_every_class_the_judge_counts_in(client: Client, small: Show):
    judge = judge_of(small, "J1")
    release_results(small)
    harness = Result.objects.filter(show_class__code="working_harness", show_class__show=small)
    harness.update(released_at=None)
    assert get(client, report_of(judge), judge.person).status_code == 404


def test_the_report_says_what_is_clear_and_what_is_not(client: Client, severe: Show):
    strict, like_the_others = judge_of(severe, "J2"), judge_of(severe, "J1")
    text = get(client, report_of(strict), office_of(severe)).content.decode()
    assert "Your marks were lower than the other judges&#x27; marks of the same wagons" in text
    assert "It does not say who was right" in text
    clean = judged_as(clean_marks(), slug="clean")
    text = get(client, report_of(judge_of(clean, "J1")), office_of(clean)).content.decode()
    assert "Your marks were not clearly higher or lower" in text
    assert (
        like_the_others.person.name
        in get(client, report_of(like_the_others), office_of(severe)).content.decode()
    )
