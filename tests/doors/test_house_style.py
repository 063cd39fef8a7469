"""The page of the house style, and the title of a page that refuses something."""

from __future__ import annotations

import re

import pytest
from django.http import HttpRequest, HttpResponse
from django.test import Client

from showrun.project.house_style.tokens import PAIRS, THEMES, measured, tokens_of
from showrun.shows.web.error_title import ErrorTitleMiddleware

pytestmark = pytest.mark.django_db


def page(query: str = "") -> str:
    answer = Client().get(f"/house-style/{query}")
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("theme", THEMES)
def test_it_shows_every_token_and_the_measure_of_every_pair(theme):
    text = page(f"?theme={theme}")
    for name, value in tokens_of(theme).items():
        if value.startswith("#"):
            assert f"<code>--{name}</code> {value}" in text
    row = r'<th scope="row">(.+?) on (.+?)</th>.*?data-label="Contrast">([\d.]+)</td>'
    rows = re.findall(row, text, re.DOTALL)
    assert sorted(rows) == sorted(
        (pair.front, pair.ground, f"{measured(pair, theme).ratio:.2f}") for pair in PAIRS
    )


def test_a_theme_is_worn_only_when_it_is_asked_for():
    assert '<html lang="en">' in page()
    assert '<html lang="en" data-theme="dark">' in page("?theme=dark")
    assert 'data-light="sun"' in page("?theme=sun")
    assert '<html lang="en">' in page("?theme=%22%3E%3Cscript%3E")


def test_a_summary_shown_as_a_sample_takes_no_focus_and_no_title():
    text = page()
    assert "Not sent yet" in text and "autofocus" not in text
    assert "<title>House style" in text


def test_a_refused_form_says_so_first_in_the_title_and_once_in_a_summary_with_the_focus():
    answer = Client().post("/sign-in/", {"email": "no address"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "<title>Error: Sign in</title>" in text
    assert (
        len(re.findall(r'role="alert" id="faults" tabindex="-1" autofocus data-faults', text)) == 1
    )
    assert '<a href="#email">' in text
    assert int(answer["Content-Length"]) == len(answer.content)


@pytest.mark.parametrize(
    ("body", "kind", "title"),
    [
        ("<title>Crew</title><div data-faults>", "text/html", "Error: Crew"),
        ("<title>Error: Crew</title><div data-faults>", "text/html", "Error: Crew"),
        ("<title>Crew</title><div>", "text/html", "Crew"),
        ("<title>Crew</title><div data-faults>", "text/plain", "Crew"),
    ],
)
def test_a_title_says_it_once_and_only_where_there_is_a_summary(body, kind, title):
    answer = ErrorTitleMiddleware(lambda _: HttpResponse(body, content_type=kind))(HttpRequest())
    assert f"<title>{title}</title>" in answer.content.decode()
