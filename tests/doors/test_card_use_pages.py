"""Putting a version of the card in use, and declaring how a class counts it, as pages."""

from __future__ import annotations

import html
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from judging.actions.adopt_scorecard import begin_scorecard
from judging.actions.version_scorecard import new_version
from judging.models import CardMark, ClassCard, Criterion, Scorecard, Section
from judging.queries.cards import demand_card
from judging.rules.results.methods import WHEN
from showrun.shows.models import Show
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    mark_everything,
    office_of,
    steward_of,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def show() -> Show:
    return build_show()


@pytest.fixture
def draft(show: Show) -> Scorecard:
    card = Scorecard.objects.get(show=show, in_use=True)
    return new_version(card=card, by=office_of(show), at=AT)


def at(show: Show, name: str, *ids: Any) -> str:
    return reverse(f"judging:{name}", args=[show.slug, *ids])


def as_office(show: Show) -> Client:
    client = Client()
    client.force_login(office_of(show))
    return client


def read(show: Show, name: str, *ids: Any) -> str:
    answer = as_office(show).get(at(show, name, *ids))
    assert answer.status_code == 200
    return answer.content.decode()


# --- Put in use ------------------------------------------------------------------------------


def test_a_version_is_put_in_use_after_a_look_at_what_it_touches(show: Show, draft: Scorecard):
    mark_everything(show)
    Criterion.objects.filter(section__scorecard=draft, code="ck_fire").update(max_mark=5)
    text = read(show, "card-use", draft.pk)
    marks = CardMark.objects.filter(criterion__code="ck_fire").count()
    assert f"{marks} marks on {marks} cards would be set aside" in text
    assert f"{marks} cards handed in would open again" in text
    assert "the highest mark was 10 and is 5" in text
    assert "Say why the card changes" in text
    client = as_office(show)
    answer = client.post(at(show, "card-use", draft.pk), {"use-reason": ""})
    assert answer.status_code == 422
    assert "Why does the card change now?" in answer.content.decode()
    client.post(at(show, "card-use", draft.pk), {"reason": "Fire counts less."})
    draft.refresh_from_db()
    assert draft.in_use
    assert "was in use before" in read(show, "scorecard")
    assert client.get(at(show, "card-use", draft.pk)).status_code == 302
    assert client.post(at(show, "card-use", draft.pk), {"reason": "x"}).status_code == 409


def test_an_unfinished_draft_says_what_is_missing_and_has_no_button(show: Show):
    card = begin_scorecard(show=show, name="Empty", by=office_of(show), at=AT)
    text = read(show, "card-use", card.pk)
    assert "This keeps the card from being used" in text
    assert "Put it in use</button>" not in text
    assert as_office(show).post(at(show, "card-use", card.pk), {}).status_code == 422
    card.refresh_from_db()
    assert not card.in_use


# --- Classes ---------------------------------------------------------------------------------

CLASS: dict[str, Any] = {
    "class-sections": ["camp_kit", "harness"],
    "class-method": "plain",
    "class-judges_per_section": "2",
    "class-rung_1": "harness",
    "class-rung_2": "",
    "class-marking": "deduct_from_full",
    "class-gear_credit": "original_first",
    "class-modern_items": "zero_row",
    "class-period_from": "1866",
    "class-period_to": "1895",
    "class-not_inspected": "zero",
    "class-note": "Rubber under the fly is fine.",
}


def declare(show: Show, **change: Any) -> Any:
    address = at(show, "declare", class_of(show).pk)
    return as_office(show).post(address, {**CLASS, **change})


def class_sections(show: Show) -> list[Section]:
    return [one for one in demand_card(show).sections.all() if one.code in CLASS["class-sections"]]


def test_a_class_is_declared_and_read_as_exhibitors_read_it(show: Show):
    assert declare(show).status_code == 302
    card = ClassCard.objects.get(show_class=class_of(show))
    assert (card.tie_ladder, card.marking, card.period_to) == (
        ["harness"],
        "deduct_from_full",
        1895,
    )
    sentences = (
        "Each row starts at its full mark and loses for every fault found.",
        "In period means from 1866 to 1895.",
        "Rubber under the fly is fine.",
    )
    public = Client().get(reverse("judging:show", args=[show.slug])).content.decode()
    page = read(show, "declare", class_of(show).pk)
    for sentence in sentences:
        assert f"<bdi>{sentence}</bdi>" in page
        assert sentence in public


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"class-sections": []}, "Choose at least one section."),
        ({"class-judges_per_section": "3"}, "Working harness counts one of these sections with 2"),
        ({"class-rung_2": "harness"}, "stands twice in the tie ladder"),
        ({"class-rung_1": "running_gear"}, "does not count"),
        ({"class-period_to": "1800"}, "before it begins in 1866"),
        ({"class-period_from": "18"}, "A year from 1600"),
        ({"class-marking": "guess"}, "Select a valid choice"),
        ({"class-note": "w" * 601}, "at most 600"),
    ],
)
def test_a_class_that_cannot_work_is_shown_again_with_the_fault(
    show: Show, change: dict[str, Any], sentence: str
):
    answer = declare(show, **change)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert ClassCard.objects.get(show_class=class_of(show)).policy_note == ""


PURSE = {"class-purse": "1000.01", "class-purse_weights": "50, 30, 20", "class-query_minutes": "45"}


def test_a_look_shows_what_the_purse_pays_and_declares_nothing(show: Show):
    answer = declare(show, **PURSE, look="1")
    assert answer.status_code == 200
    text = answer.content.decode()
    for line in ("Place 1: $500.01", "Place 2: $300.00", "Place 3: $200.00"):
        assert f"<li>{line}</li>" in text
    assert "<li>Two wagons level for first: $400.01 and $400.00</li>" in text
    assert "Nothing is declared yet." in text
    assert "Harness can decide" in text
    kept = ClassCard.objects.get(show_class=class_of(show))
    assert (kept.purse_cents, kept.policy_note) == (0, "")


def test_a_purse_is_typed_in_dollars_and_kept_in_cents(show: Show):
    assert declare(show, **PURSE).status_code == 302
    kept = ClassCard.objects.get(show_class=class_of(show))
    assert (kept.purse_cents, kept.purse_weights, kept.query_minutes) == (
        100_001,
        ["50", "30", "20"],
        45,
    )
    text = read(show, "declare", class_of(show).pk)
    assert 'value="1000.01"' in text
    assert 'value="50, 30, 20"' in text
    assert "<li>Place 1: $500.01</li>" in text
    client = Client()
    client.force_login(steward_of(show))
    read_only = client.get(at(show, "declare", class_of(show).pk)).content.decode()
    assert "Place 3: $200.00" in read_only
    assert "45 minutes after release" in read_only


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"class-purse_weights": ""}, "Say how the purse is shared among the places."),
        ({"class-purse_weights": "20, 50"}, "Place 2 would get more than place 1."),
        ({"class-purse_weights": "most"}, "“most” is no share"),
        ({"class-purse": "-1"}, "Not below zero, please."),
        ({"class-purse": "10.005"}, "To the cent, please."),
        ({"class-purse": "NaN"}, "An amount in dollars"),
        ({"class-query_minutes": "-5"}, "Not below zero, please."),
        ({"class-query_minutes": "99999"}, "At most 10080, please."),
        ({"class-method": "trimmed"}, "can be dropped with 4 or more"),
        ({"class-method": "best"}, "Select a valid choice"),
    ],
)
def test_a_purse_or_method_that_cannot_be_is_shown_again(
    show: Show, change: dict[str, Any], sentence: str
):
    for look in ({}, {"look": "1"}):
        answer = declare(show, **{**PURSE, **change, **look})
        # A look at what only the action refuses shows the form, and declares nothing.
        assert answer.status_code in ((422,) if not look else (422, 200))
        if answer.status_code == 422:
            assert sentence in html.unescape(answer.content.decode())
        assert ClassCard.objects.get(show_class=class_of(show)).purse_cents == 0


def test_each_method_says_when_to_use_it(show: Show):
    text = html.unescape(read(show, "declare", class_of(show).pk))
    for words in WHEN.values():
        assert words in text


def test_a_rung_that_cannot_decide_is_told(show: Show):
    declare(show, **{"class-sections": ["harness"]})
    assert "can never decide" in read(show, "declare", class_of(show).pk)


def test_points_that_do_not_make_the_total_in_the_rules_are_told(show: Show):
    whole = sum((section.points for section in class_sections(show)), Decimal(0))
    for announced, told in ((whole + 5, True), (whole, False)):
        assert declare(show, **{"class-announced_points": str(announced)}).status_code == 302
        text = read(show, "declare", class_of(show).pk)
        assert (f"announces {announced.normalize():f} points" in text) is told


def test_a_class_is_closed_once_judging_has_begun(show: Show):
    mark_everything(show)
    text = read(show, "declare", class_of(show).pk)
    assert "Judging has begun" in text
    assert '<form method="post" novalidate>' not in text
    answer = declare(show)
    assert answer.status_code == 409
    assert ClassCard.objects.get(show_class=class_of(show)).policy_note == ""


def test_a_steward_reads_how_a_class_is_judged(show: Show):
    client = Client()
    client.force_login(steward_of(show))
    text = client.get(at(show, "declare", class_of(show).pk)).content.decode()
    assert "As exhibitors and judges read it" in text
    assert "Declare" not in text
