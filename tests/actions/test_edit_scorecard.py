"""A draft is edited section by section and row by row; what judges mark on is not."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from judging.actions.adopt_scorecard import begin_scorecard
from judging.actions.edit_row import add_row, change_row, move_row, remove_row
from judging.actions.edit_scorecard import (
    add_section,
    change_section,
    discard_draft,
    move_section,
    remove_section,
    rename_scorecard,
    take_section,
)
from judging.actions.version_scorecard import new_version, use_scorecard
from judging.models import Criterion, Scorecard, Section
from judging.queries.cards import card_data, card_version
from judging.queries.library import library_cards
from showrun.errors import Conflict, InvalidInput, NotFound
from showrun.shows.models import AuditEntry, Show
from tests.judged_show import AT, build_show, mark_everything, office_of

pytestmark = pytest.mark.django_db

SECTION: dict[str, Any] = {
    "name": "Cooks' table",
    "points": Decimal(30),
    "minutes": 4,
    "form": "points",
    "all_or_nothing": False,
    "quick_phrases": ["Clean hands"],
}
ROW: dict[str, Any] = {
    "name": "Lay of the table",
    "guidance": "Look <under> the cloth.",
    "danger": "B",
    "max_mark": Decimal(10),
    "step": Decimal("0.5"),
    "weight": Decimal(2),
    "applies": [{"tongue": ["drop"]}, {"hitch": ["six_up"]}],
    "parts": [],
}


@pytest.fixture
def show() -> Show:
    return build_show()


@pytest.fixture
def who(show: Show) -> dict[str, Any]:
    return {"by": office_of(show), "at": AT}


@pytest.fixture
def draft(show: Show, who: dict[str, Any]) -> Scorecard:
    return new_version(card=Scorecard.objects.get(show=show, in_use=True), **who)


def section_of(card: Scorecard, code: str = "harness") -> Section:
    return Section.objects.select_related("scorecard").get(scorecard=card, code=code)


def codes(section: Section) -> list[str]:
    return [row.code for row in section.criteria.order_by("position")]


def test_a_card_is_built_from_nothing(show: Show, who: dict[str, Any]):
    card = begin_scorecard(show=show, name="Food", **who)
    section = add_section(card=card, fields=SECTION, **who)
    row = add_row(section=section, fields=ROW, **who)
    assert (section.code, row.code) == ("cooks_table", "lay_of_the_table")
    again = add_row(section=section, fields={**ROW, "name": "Lay of the  table!"}, **who)
    assert again.code == "lay_of_the_table_2"
    kept = card_data(card_version(show, card.pk))["sections"][0]
    assert kept["criteria"][0] == {
        "code": "lay_of_the_table",
        "name": "Lay of the table",
        "guidance": "Look <under> the cloth.",
        "danger": "B",
        "max_mark": 10,
        "step": 0.5,
        "weight": 2,
        "applies": [{"tongue": ["drop"]}, {"hitch": ["six_up"]}],
    }
    verbs = AuditEntry.objects.filter(subject__contains="Food").order_by("pk")
    assert list(verbs.values_list("verb", flat=True)) == ["began", "added", "added", "added"]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"points": Decimal(-1)}, "points"),
        ({"points": Decimal(0)}, "points"),
        ({"minutes": 0}, "minutes"),
        ({"name": " "}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"form": "guess"}, "form"),
        ({"all_or_nothing": True}, "all_or_nothing"),
        ({"code": "Not A Code"}, "code"),
        ({"code": "harness"}, "code"),
    ],
)
def test_a_section_that_cannot_work_is_refused_by_field(
    draft: Scorecard, who: dict[str, Any], change: dict[str, Any], field: str
):
    with pytest.raises(InvalidInput) as refused:
        add_section(card=draft, fields={**SECTION, **change}, **who)
    assert list(refused.value.fields) == [field]
    assert draft.sections.count() == 3


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"max_mark": Decimal(0)}, "max_mark"),
        ({"max_mark": Decimal(-5)}, "max_mark"),
        ({"step": Decimal(3)}, "step"),
        ({"step": Decimal(0)}, "step"),
        ({"weight": Decimal(-1)}, "weight"),
        ({"name": ""}, "name"),
        ({"code": "rg_wheels"}, "code"),
        ({"danger": "D"}, "danger"),
        ({"applies": {"wheels": ["rubber"]}}, "applies"),
        ({"applies": [{"tongue": ["drop"]}, {"tongue": ["drop"]}]}, "applies"),
        ({"parts": ["no_such_part"]}, "parts"),
        ({"guidance": "bell \x07"}, "guidance"),
    ],
)
def test_a_row_that_cannot_work_is_refused_by_field(
    draft: Scorecard, who: dict[str, Any], change: dict[str, Any], field: str
):
    with pytest.raises(InvalidInput) as refused:
        add_row(section=section_of(draft), fields={**ROW, **change}, **who)
    assert list(refused.value.fields) == [field]
    assert len(codes(section_of(draft))) == 4


def test_a_change_keeps_the_row_itself(draft: Scorecard, who: dict[str, Any]):
    row = Criterion.objects.select_related("section__scorecard").get(
        section__scorecard=draft, code="hn_lines"
    )
    changed = change_row(row=row, fields={**ROW, "code": "", "name": "Lines alone"}, **who)
    assert (changed.pk, changed.code) == (row.pk, "hn_lines")
    assert Criterion.objects.get(pk=row.pk).name == "Lines alone"
    line = AuditEntry.objects.latest("pk")
    assert (line.before["name"], line.after["name"]) == ("Lines and bits", "Lines alone")
    lines = AuditEntry.objects.count()
    change_row(row=changed, fields={**ROW, "name": "Lines alone"}, **who)
    assert AuditEntry.objects.count() == lines, "nothing changed, nothing recorded"


def test_rows_move_within_their_section_and_to_another(draft: Scorecard, who: dict[str, Any]):
    harness, gear = section_of(draft), section_of(draft, "running_gear")
    first = harness.criteria.get(code="hn_leather")
    move_row(row=first, by_places=1, **who)
    assert codes(harness) == ["hn_lines", "hn_leather", "hn_leaders", "hn_pole_straps"]
    move_row(row=first, by_places=-9, **who)
    assert codes(harness)[0] == "hn_leather"
    change_row(row=first, fields=ROW, section=gear, **who)
    assert codes(harness) == ["hn_lines", "hn_leaders", "hn_pole_straps"]
    assert codes(gear)[-1] == "hn_leather"
    other = section_of(Scorecard.objects.get(in_use=True), "camp_kit")
    with pytest.raises(InvalidInput, match="another card"):
        change_row(row=first, fields=ROW, section=other, **who)


def test_sections_move_and_go(draft: Scorecard, who: dict[str, Any]):
    move_section(section=section_of(draft), by_places=-2, **who)
    order = draft.sections.order_by("position").values_list("code", flat=True)
    assert list(order) == ["harness", "running_gear", "camp_kit"]
    remove_section(section=section_of(draft, "camp_kit"), **who)
    assert list(order.all()) == ["harness", "running_gear"]
    remove_row(row=section_of(draft).criteria.get(code="hn_lines"), **who)
    assert AuditEntry.objects.latest("pk").before["code"] == "hn_lines"


def test_a_section_of_pass_or_fail_changes_what_its_rows_take(
    draft: Scorecard, who: dict[str, Any]
):
    section = section_of(draft, "camp_kit")
    fields = {**SECTION, "form": "pass_fail", "all_or_nothing": True, "points": Decimal(0)}
    change_section(section=section, fields=fields, **who)
    assert set(section.criteria.values_list("max_mark", "step")) == {(Decimal(1), Decimal(1))}
    row = add_row(section=section, fields={**ROW, "max_mark": Decimal(10)}, **who)
    assert [row.max_mark, row.step] == [1, 1]


def test_a_section_of_the_library_is_copied_with_codes_of_its_own(show: Show, who: dict[str, Any]):
    card = begin_scorecard(show=show, name="Copied", **who)
    code, line = next(
        (code, line)
        for code, whole in library_cards().items()
        for line in whole["sections"]
        if "take" not in line
    )
    other = add_section(card=card, fields=SECTION, **who)
    taken = line["criteria"][0]["code"]
    add_row(section=other, fields={**ROW, "code": taken}, **who)
    section = take_section(card=card, library_card=code, section=line["code"], **who)
    assert section.position == 1
    assert codes(section)[0] == f"{taken}_2"
    assert codes(section)[1:] == [row["code"] for row in line["criteria"][1:]]
    with pytest.raises(Conflict, match="already"):
        take_section(card=card, library_card=code, section=line["code"], **who)
    for one, two in (("no_such", "x"), (code, "no_such")):
        with pytest.raises(NotFound):
            take_section(card=card, library_card=one, section=two, **who)


def test_a_name_another_version_has_gets_the_next_number(draft: Scorecard, who: dict[str, Any]):
    named = rename_scorecard(card=draft, name="Sunday card", notice=" Read me. ", **who)
    assert (named.name, named.version, named.notice) == ("Sunday card", 2, "Read me.")
    back = rename_scorecard(card=named, name="Wagon, camp and harness", notice="", **who)
    assert back.version == 2
    other = new_version(card=back, **who)
    rename_scorecard(card=other, name="Sunday card", notice="", **who)
    clash = rename_scorecard(card=other, name="Wagon, camp and harness", notice="", **who)
    assert clash.version == 3


def test_a_draft_is_thrown_away_and_its_copies_stay(draft: Scorecard, who: dict[str, Any]):
    copy = new_version(card=draft, **who)
    discard_draft(card=draft, **who)
    copy.refresh_from_db()
    assert copy.copied_from == Scorecard.objects.get(in_use=True)
    assert not Scorecard.objects.filter(pk=draft.pk).exists()


def every_edit(card: Scorecard, who: dict[str, Any]) -> list[Any]:
    section = section_of(card)
    row = section.criteria.select_related("section__scorecard").get(code="hn_lines")
    return [
        lambda: rename_scorecard(card=card, name="Other", notice="", **who),
        lambda: discard_draft(card=card, **who),
        lambda: add_section(card=card, fields=SECTION, **who),
        lambda: change_section(section=section, fields=SECTION, **who),
        lambda: move_section(section=section, by_places=-1, **who),
        lambda: remove_section(section=section, **who),
        lambda: take_section(card=card, library_card="any", section="any", **who),
        lambda: add_row(section=section, fields=ROW, **who),
        lambda: change_row(row=row, fields=ROW, **who),
        lambda: move_row(row=row, by_places=1, **who),
        lambda: remove_row(row=row, **who),
    ]


def test_what_judges_mark_on_is_not_edited(show: Show, who: dict[str, Any]):
    card = Scorecard.objects.get(show=show, in_use=True)
    before = card_data(card_version(show, card.pk))
    for edit in every_edit(card, who):
        with pytest.raises(Conflict, match=r"in use.*Make a new version"):
            edit()
    mark_everything(show)
    for edit in every_edit(card, who):
        with pytest.raises(Conflict, match=r"frozen.*Make a new version"):
            edit()
    use_scorecard(card=new_version(card=card, **who), reason="Tried.", **who)
    for edit in every_edit(card, who):
        with pytest.raises(Conflict, match=r"was in use before.*Make a new version"):
            edit()
    assert card_data(card_version(show, card.pk)) == before
