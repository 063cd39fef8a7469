"""The scorecard as the office reads it: every row, or those of one rig."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from judging.rules.cards.condition import Condition
from judging.web.card_view import Fit, fit_of
from showrun.shows.models import Show
from tests.judged_show import (
    RIGS,
    build_show,
    draw_panel,
    judge_of,
    mark,
    office_of,
    pair,
    rows_of,
    send,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


def read(show: Show, query: str = "") -> str:
    client = Client()
    client.force_login(office_of(show))
    answer = client.get(reverse("judging:scorecard", args=[show.slug]) + query)
    assert answer.status_code == 200
    return answer.content.decode()


def rows_shown(text: str) -> set[str]:
    return set(re.findall(r'<tr id="row-\d+">\s*<th scope="row"><bdi>([^<]+)</bdi>', text))


def test_without_a_rig_every_row_stands_with_when_it_is_judged(show: Show):
    text = read(show)
    assert {"Queen bolt and drop-tongue hounds", "Leaders&#x27; harness"} <= rows_shown(text)
    assert "four-up or six-up" in text
    assert "every rig" in text
    assert "not on this rig" not in text


def test_with_a_rig_only_its_rows_stand_and_are_worth_the_sections_points(show: Show):
    stiff_team = {**RIGS[3]}
    text = read(show, "?" + "&".join(f"{k}={v}" for k, v in stiff_team.items()))
    shown = rows_shown(text)
    assert "Leather, condition" in shown
    assert not {"Queen bolt and drop-tongue hounds", "Pole straps"} & shown
    assert "2 of 4 rows on this rig" in text
    worth = [Decimal(w) for w in re.findall(r'data-label="Worth">([\d.]+)<', text)]
    # 40 points over weights 2 and 1, 25 over two rows, 35 over two rows
    assert worth == [Decimal(w) for w in ("26.67", "13.33", "12.50", "12.50", "17.50", "17.50")]


def test_a_fact_left_open_leaves_its_rows_open(show: Show):
    text = read(show, "?tongue=drop&hitch=")
    assert "Queen bolt and drop-tongue hounds" in rows_shown(text)
    assert "2 of 4 rows on this rig, 2 more depending on what is left open" in text
    assert "depends on what is left open" in text


def test_a_fact_nobody_knows_counts_as_left_open(show: Show):
    text = read(show, "?tongue=rubber")
    assert rows_shown(text) == rows_shown(read(show))
    assert "Select a valid choice" in text


def test_danger_and_guidance_are_in_words(show: Show):
    text = read(show)
    assert "do not move the team" in text
    assert "mend before moving" in text
    assert "Both shoes meet their wheels together." in text


def test_the_card_says_when_it_froze(show: Show):
    draw_panel(show)
    assert "freezes with the first mark" in read(show)
    judge = judge_of(show)
    seat = judge.seats.select_related("entry").first()
    assert seat is not None
    send(pair(judge)[0], [mark(seat.entry, rows_of(judge, seat.entry)[0].code, 7)])
    assert "Frozen since May 15, 9:00 AM" in read(show)


def test_classes_say_how_they_count_the_card(show: Show):
    text = read(show)
    assert "Working harness" in text
    assert "Judge-adjusted total" in text
    assert "parted by Running gear, then by Camp kit" in text


@pytest.mark.parametrize(
    ("applies", "facts", "fit"),
    [
        ({}, {}, Fit.YES),
        ({"tongue": ["drop"]}, {}, Fit.OPEN),
        ({"tongue": ["drop"]}, {"tongue": "drop"}, Fit.YES),
        ({"tongue": ["drop"]}, {"tongue": "stiff"}, Fit.NO),
        ({"tongue": ["drop"], "hitch": ["team"]}, {"tongue": "drop"}, Fit.OPEN),
        ({"tongue": ["drop"], "hitch": ["team"]}, {"hitch": "four_up"}, Fit.NO),
        ({"hitch": ["four_up", "six_up"]}, {"hitch": "six_up", "tongue": "drop"}, Fit.YES),
        ([{"tongue": ["drop"]}, {"hitch": ["six_up"]}], {}, Fit.OPEN),
        ([{"tongue": ["drop"]}, {"hitch": ["six_up"]}], {"tongue": "drop"}, Fit.YES),
        ([{"tongue": ["drop"]}, {"hitch": ["six_up"]}], {"tongue": "stiff"}, Fit.OPEN),
        ([{"tongue": ["drop"]}, {"tongue": ["stiff"]}], {}, Fit.YES),
    ],
)
def test_whether_a_row_is_on_a_rig_known_in_part(
    applies: Condition, facts: dict[str, str], fit: Fit
):
    assert fit_of(applies, facts) is fit
