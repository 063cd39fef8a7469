"""What changed between two versions of a card, in sentences, and which marks carry over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings

from judging.rules.cards.card_file import CardFile, CriterionFile, SectionFile, read_card_file
from judging.rules.cards.difference import Kind, carries, difference
from judging.rules.cards.scorecard import Form
from tests.drawn_cards import cards
from tests.small_card import SCORECARD

OLD = read_card_file(SCORECARD)


def with_row(code: str, **change: Any) -> CardFile:
    """The card with one row changed."""
    return with_sections(
        lambda section: replace(
            section,
            criteria=tuple(
                replace(row, **change) if row.code == code else row for row in section.criteria
            ),
        )
    )


def with_sections(change: Callable[[SectionFile], SectionFile]) -> CardFile:
    return replace(OLD, sections=tuple(change(section) for section in OLD.sections))


def said(new: CardFile, old: CardFile = OLD) -> list[str]:
    return [change.sentence for change in difference(old, new).changes]


@given(cards())
@settings(deadline=None, max_examples=30)
def test_a_card_does_not_differ_from_itself(data: Any) -> None:
    card = read_card_file(data)
    found = difference(card, replace(card, version=card.version + 1))
    assert (found.changes, found.set_aside, found.lacking) == ((), (), ())


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"name": "Hubs"}, "Row Hubs: the name was Spokes and felloes and is Hubs."),
        ({"max_mark": Decimal(5)}, "the highest mark was 10 and is 5."),
        ({"step": Decimal("0.5")}, "the step was 1 and is 0.5."),
        ({"weight": Decimal(1)}, "the weight was 2 and is 1."),
        ({"danger": ""}, "the danger letter was B and is none."),
        ({"applies": {"tongue": ["drop"]}},
         "the rigs it is judged on were every rig and are drop tongue."),
        ({"one_of": "wheel"}, "the group it stands in for was none and is wheel."),
        ({"parts": ("hub", "spoke")}, "the parts of the handbook were none and are hub, spoke."),
        ({"guidance": "Look."}, "Row Spokes and felloes: the guidance reads differently."),
    ],
)  # fmt: skip
def test_every_field_of_a_row_is_told(change: dict[str, Any], sentence: str) -> None:
    (told,) = difference(OLD, with_row("rg_wheels", **change)).changes
    assert told.sentence.endswith(sentence)
    assert (told.kind, told.what, told.code) == (Kind.CHANGED, "row", "rg_wheels")
    assert [told.field] == list(change)


def test_no_field_of_row_section_or_card_is_overlooked() -> None:
    told = [
        with_row("rg_wheels", **{field: "changed"})
        for field in CriterionFile.__dataclass_fields__
        if field not in ("code", "applies", "parts")
    ]
    told += [
        with_sections(lambda section, field=field: replace(section, **{field: "changed"}))  # type: ignore[misc]
        for field in SectionFile.__dataclass_fields__
        if field not in ("code", "criteria")
    ]
    told += [replace(OLD, name="changed"), replace(OLD, notice="changed")]
    assert all(said(card) for card in told)


@pytest.mark.parametrize(
    ("change", "sentences"),
    [
        ({"points": Decimal(30)}, ["Section Camp kit: the points were 25 and are 30."]),
        ({"minutes": 4}, ["Section Camp kit: the minutes were 3 and are 4."]),
        ({"form": Form.PASS_FAIL, "all_or_nothing": True},
         ["Section Camp kit: the form was points and is pass or fail.",
          "Section Camp kit: all or nothing was off and is on."]),
        ({"quick_phrases": ()},
         ["Section Camp kit: the quick phrases were Cook can reach everything and are none."]),
    ],
)  # fmt: skip
def test_fields_of_a_section_are_told(change: dict[str, Any], sentences: list[str]) -> None:
    new = with_sections(
        lambda section: replace(section, **change) if section.code == "camp_kit" else section
    )
    assert said(new) == sentences


def test_the_cards_own_fields_are_told() -> None:
    new = replace(OLD, name="Wagon", notice="Stop first.")
    assert said(new) == [
        "The card: the name was Wagon, camp and harness and is Wagon.",
        "The card: the notice reads differently.",
    ]


def test_rows_and_sections_that_come_and_go() -> None:
    gear, camp, harness = OLD.sections
    fresh = CriterionFile("rg_reach", "Reach", Decimal(10), Decimal(1))
    new = replace(
        OLD,
        sections=(
            replace(gear, criteria=(gear.criteria[0], fresh, gear.criteria[2])),
            replace(harness, code="tack", name="Tack"),
        ),
    )
    found = difference(OLD, new)
    assert [change.sentence for change in found.changes] == [
        "Row Reach of Running gear is new.",
        "Section Tack is new, with 4 rows.",
        "Row Leather, condition has moved from Harness to Tack.",
        "Row Lines and bits has moved from Harness to Tack.",
        "Row Leaders' harness has moved from Harness to Tack.",
        "Row Pole straps has moved from Harness to Tack.",
        "Section Camp kit is gone, which had 2 rows.",
        "Section Harness is gone, which had 4 rows.",
        "Row Brake beam, shoes and rod of Running gear is gone.",
        "Row Order and reach of Camp kit is gone.",
        "Row Fire tools and water of Camp kit is gone.",
    ]
    assert found.set_aside == ("rg_brakes", "ck_order", "ck_fire")
    assert found.lacking == ("rg_reach",)


def test_another_order_is_told_once() -> None:
    gear, camp, harness = OLD.sections
    turned = replace(gear, criteria=gear.criteria[::-1])
    assert said(replace(OLD, sections=(harness, turned, camp))) == [
        "The sections stand in another order.",
        "Section Running gear: its rows stand in another order.",
    ]
    assert difference(OLD, replace(OLD, sections=(harness, turned, camp))).set_aside == ()


def test_a_row_put_between_others_changes_no_order() -> None:
    gear, *rest = OLD.sections
    fresh = CriterionFile("rg_reach", "Reach", Decimal(10), Decimal(1))
    between = replace(gear, criteria=(gear.criteria[0], fresh, *gear.criteria[1:]))
    assert said(replace(OLD, sections=(between, *rest))) == ["Row Reach of Running gear is new."]


@pytest.mark.parametrize(
    ("change", "kept"),
    [
        ({"name": "Wheels", "weight": Decimal(3), "guidance": "Look.", "danger": "A"}, True),
        ({"applies": {"tongue": ["drop"]}}, True),
        ({"max_mark": Decimal(20)}, False),
        ({"step": Decimal("0.5")}, False),
        ({"max_mark": Decimal("10.00")}, True),
    ],
)
def test_marks_stay_good_while_the_row_takes_the_same_marks(
    change: dict[str, Any], kept: bool
) -> None:
    found = difference(OLD, with_row("rg_wheels", **change))
    lost = () if kept else ("rg_wheels",)
    assert (found.set_aside, found.lacking) == (lost, lost)


def test_marks_do_not_stay_good_in_another_form() -> None:
    row = CriterionFile("pin", "Pin", Decimal(1), Decimal(1))
    assert carries(row, Form.PASS_FAIL, row, Form.PASS_FAIL)
    for old_form, new_form in ((Form.POINTS, Form.PASS_FAIL), (Form.PLACINGS, Form.POINTS)):
        assert not carries(row, old_form, row, new_form)
    new = with_sections(lambda section: replace(section, form=Form.PASS_FAIL))
    assert len(difference(OLD, new).set_aside) == OLD.row_count


def test_a_stored_row_compares_like_a_row_of_a_file() -> None:
    row = CriterionFile("pin", "Pin", Decimal(10), Decimal(1))
    assert carries(row.as_criterion(), Form.POINTS, row, Form.POINTS)
