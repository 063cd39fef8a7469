"""The draft's editor, putting a version in use, and declaring classes, as pages."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from judging.actions.version_scorecard import new_version
from judging.models import Criterion, Scorecard, Section
from judging.queries.library import handbook, library_cards
from showrun.shows.models import Show
from tests.judged_show import (
    AT,
    build_show,
    class_of,
    mark_everything,
    office_of,
)

pytestmark = pytest.mark.django_db

ROW: dict[str, Any] = {
    "row-name": "Lay of the table",
    "row-guidance": "Under the cloth too.",
    "row-danger": "B",
    "row-max_mark": "10",
    "row-step": "0.5",
    "row-weight": "2",
}
SECTION: dict[str, Any] = {
    "section-name": "Cooks' table",
    "section-form": "points",
    "section-points": "30",
    "section-minutes": "4",
    "section-quick_phrases": "Clean hands\n\n  Neat   cloth ",
}


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


def press(show: Show, card: Scorecard, do: str) -> Any:
    return as_office(show).post(at(show, "card", card.pk), {"do": do})


def said(answer: Any) -> str:
    return " ".join(str(message) for message in get_messages(answer.wsgi_request))


def section_of(card: Scorecard, code: str = "harness") -> Section:
    return Section.objects.get(scorecard=card, code=code)


def order(section: Section) -> list[str]:
    return list(section.criteria.order_by("position").values_list("code", flat=True))


# --- Build -----------------------------------------------------------------------------------


def test_a_card_is_built_from_nothing(show: Show):
    client = as_office(show)
    client.post(at(show, "card-library"), {"do": "begin", "begin-name": "Food"})
    card = Scorecard.objects.get(name="Food")
    text = read(show, "card", card.pk)
    assert "This keeps the card from being used" in text
    client.post(at(show, "card-new-section", card.pk), SECTION)
    section = section_of(card, "cooks_table")
    assert section.quick_phrases == ["Clean hands", "Neat cloth"]
    rig = {"row-b0_hitch": ["four_up", "six_up"], "row-b1_tongue": ["drop"]}
    answer = client.post(
        at(show, "card-new-row", card.pk, section.pk),
        {**ROW, **rig, "row-section": section.pk, "row-parts": [next(iter(handbook()))]},
    )
    row = section.criteria.get()
    assert answer["Location"] == f"{at(show, 'card', card.pk)}#row-{row.pk}"
    assert "Judged on: four-up or six-up – or drop tongue." in said(answer)
    assert "40 of the 48 rigs" in said(answer)
    assert row.applies == [{"hitch": ["four_up", "six_up"]}, {"tongue": ["drop"]}]
    assert row.parts == [next(iter(handbook()))]
    text = read(show, "card", card.pk)
    assert "four-up or six-up – or drop tongue" in text
    assert "has no row on 1 of 5 wagons" in text, "one wagon has neither"


def test_a_row_without_ticks_is_for_every_rig(show: Show, draft: Scorecard):
    section = section_of(draft)
    sent = {**ROW, "row-section": section.pk, "another": "yes"}
    answer = as_office(show).post(at(show, "card-new-row", draft.pk, section.pk), sent)
    assert answer["Location"] == at(show, "card-new-row", draft.pk, section.pk)
    assert section.criteria.get(code="lay_of_the_table").applies == {}
    assert "Judged on: every rig." in said(answer)
    assert "rigs there can be" not in said(answer)


def test_the_form_of_a_row_shows_what_it_says(show: Show, draft: Scorecard):
    row = section_of(draft, "running_gear").criteria.get(code="rg_queen_bolt")
    Criterion.objects.filter(pk=row.pk).update(
        applies=[{"tongue": [t], "hitch": [h]} for t, h in
                 (("drop", "team"), ("drop", "six_up"), ("stiff", "team"), ("stiff", "four_up"))]
    )  # fmt: skip
    text = read(show, "card-row", draft.pk, row.pk)
    assert "Judged on: drop tongue; team of two – or drop tongue; six-up" in text
    ticked = re.findall(r'name="row-(b\d)_(\w+)" value="(\w+)"[^>]* checked', text)
    assert ("b3", "hitch", "four_up") in ticked
    assert len(ticked) == 8
    assert 'name="row-b4_tongue"' in text, "room for one more"
    fields = {f"row-{branch}_{fact}": value for branch, fact, value in ticked} | {
        **ROW,
        "row-code": row.code,
        "row-section": row.section_id,
    }
    as_office(show).post(at(show, "card-row", draft.pk, row.pk), fields)
    before = row.applies
    row.refresh_from_db()
    assert len(row.applies) == 4
    assert row.applies != before


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"row-name": " "}, "A name for the row"),
        ({"row-max_mark": "-1"}, "greater than or equal to 0"),
        ({"row-step": "3"}, "do not lead to 10"),
        ({"row-step": "a few"}, "A number, please."),
        ({"row-code": "no good!"}, "Letters, digits"),
        ({"row-code": "rg_wheels"}, "Another code, please."),
        ({"row-parts": ["no_such_part"]}, "no such part"),
        ({"row-guidance": "w" * 2001}, "at most 2000"),
        ({"row-b0_tongue": ["drop"], "row-b1_tongue": ["drop"]}, "is there twice"),
        ({"row-b0_tongue": ["rubber"]}, "rubber is not one"),
        ({"row-section": "999999"}, "Select a valid choice"),
    ],
)
def test_a_row_that_cannot_work_is_shown_again_with_the_fault(
    show: Show, draft: Scorecard, change: dict[str, Any], sentence: str
):
    section = section_of(draft)
    sent = {**ROW, "row-section": section.pk, **change}
    answer = as_office(show).post(at(show, "card-new-row", draft.pk, section.pk), sent)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "The row is not saved" in text
    assert sentence in text
    if "row-name" not in change:
        assert 'value="Lay of the table"' in text, "what was typed stays"
    assert len(order(section)) == 4


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"section-points": "-30"}, "Points are not below zero."),
        ({"section-points": "0"}, "More than zero"),
        ({"section-minutes": "0"}, "At least a minute"),
        ({"section-all_or_nothing": "on"}, "Only a section of pass or fail"),
        ({"section-code": "harness"}, "Another code, please."),
        ({"section-quick_phrases": "w" * 61}, "At most 30 phrases"),
    ],
)
def test_a_section_that_cannot_work_is_shown_again_with_the_fault(
    show: Show, draft: Scorecard, change: dict[str, Any], sentence: str
):
    answer = as_office(show).post(at(show, "card-new-section", draft.pk), {**SECTION, **change})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert draft.sections.count() == 3


def test_buttons_move_and_remove(show: Show, draft: Scorecard):
    harness = section_of(draft)
    lines = harness.criteria.get(code="hn_lines")
    answer = press(show, draft, f"row-up {lines.pk}")
    assert answer["Location"].endswith(f"#row-{lines.pk}")
    assert order(harness)[:2] == ["hn_lines", "hn_leather"]
    press(show, draft, f"row-down {lines.pk}")
    assert order(harness)[:2] == ["hn_leather", "hn_lines"]
    press(show, draft, f"row-remove {lines.pk}")
    assert "hn_lines" not in order(harness)
    press(show, draft, f"section-up {harness.pk}")
    sections = draft.sections.order_by("position").values_list("code", flat=True)
    assert list(sections) == ["running_gear", "harness", "camp_kit"]
    press(show, draft, f"section-remove {harness.pk}")
    assert list(sections.all()) == ["running_gear", "camp_kit"]
    code, section = next(
        (code, line["code"])
        for code, whole in library_cards().items()
        for line in whole["sections"]
        if "take" not in line and line["code"] not in sections.all()
    )
    press(show, draft, f"take {code} {section}")
    assert list(sections.all()) == ["running_gear", "camp_kit", section]
    assert "already" in said(press(show, draft, f"take {code} {section}"))


@pytest.mark.parametrize(
    "do", ["", " ", "row-up", "row-up x", "row-up 99999999999999999999", "fly 1"]
)
def test_a_button_nobody_knows_does_nothing(show: Show, draft: Scorecard, do: str):
    answer = press(show, draft, do)
    assert answer.status_code == 302
    assert "does not know that button" in said(answer)


def test_a_name_and_a_notice_are_saved(show: Show, draft: Scorecard):
    sent = {"do": "name", "card-name": "Sunday card", "card-notice": "Read me."}
    as_office(show).post(at(show, "card", draft.pk), sent)
    draft.refresh_from_db()
    assert (draft.name, draft.notice) == ("Sunday card", "Read me.")
    answer = as_office(show).post(at(show, "card", draft.pk), {**sent, "card-name": ""})
    assert answer.status_code == 422
    assert "A name for the card, please." in answer.content.decode()


def test_a_draft_is_discarded(show: Show, draft: Scorecard):
    assert press(show, draft, "discard")["Location"] == at(show, "scorecard")
    assert not Scorecard.objects.filter(pk=draft.pk).exists()


# --- What is not edited ----------------------------------------------------------------------


def test_a_frozen_card_says_so_and_offers_a_new_version(show: Show):
    mark_everything(show)
    card = Scorecard.objects.get(show=show)
    text = read(show, "card", card.pk)
    assert "This card is frozen since May 15, 9:00 AM" in text
    assert "Make a new version" in text
    assert "Add a row" not in text
    section = section_of(card)
    for name, ids in (
        ("card-new-section", []),
        ("card-section", [section.pk]),
        ("card-new-row", [section.pk]),
        ("card-row", [section.criteria.get(code="hn_lines").pk]),
    ):
        client = as_office(show)
        for answer in (
            client.get(at(show, name, card.pk, *ids)),
            client.post(
                at(show, name, card.pk, *ids), {**SECTION, **ROW, "row-section": section.pk}
            ),
        ):
            assert answer.status_code == 409
            assert "Make a new version" in answer.content.decode()
    assert "frozen" in said(press(show, card, f"section-remove {section.pk}"))
    answer = press(show, card, "version")
    made = Scorecard.objects.get(version=2)
    assert answer["Location"] == at(show, "card", made.pk)


def test_another_shows_card_is_not_there(show: Show, draft: Scorecard):
    other = build_show(slug="other-ground")
    section = section_of(draft)
    row = section.criteria.get(code="hn_lines")
    own = new_version(
        card=Scorecard.objects.get(show=other, in_use=True), by=office_of(other), at=AT
    )
    client = as_office(other)
    for address in (
        at(other, "card", draft.pk),
        at(other, "card-file", draft.pk, "yaml"),
        at(other, "card-phone", draft.pk),
        at(other, "card-use", draft.pk),
        at(other, "card-section", own.pk, section.pk),
        at(other, "card-new-row", own.pk, section.pk),
        at(other, "card-row", own.pk, row.pk),
        at(other, "declare", class_of(show).pk),
    ):
        assert client.get(address).status_code == 404, address
    for do in (f"row-remove {row.pk}", f"section-remove {section.pk}"):
        answer = client.post(at(other, "card", own.pk), {"do": do})
        assert answer.status_code == 404
    moved = {**ROW, "row-section": section.pk}
    theirs = section_of(own)
    answer = client.post(at(other, "card-new-row", own.pk, theirs.pk), moved)
    assert answer.status_code == 422
    assert len(order(section)) == 4
