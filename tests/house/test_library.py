"""The handbook, its drawings and the starter cards, as they come with the service."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from decimal import Decimal
from pathlib import Path

import jsonschema
import pytest

from judging.queries.library import drawings, handbook, library_cards
from judging.rules.cards.card_file import SCHEMA, CardFile, read_card_file
from judging.rules.cards.card_text import read_text
from judging.rules.cards.check_card import findings
from judging.rules.cards.score import score_section
from judging.rules.cards.scorecard import Form, Mark, MarkState
from tests.house.tree import ROOT

LIBRARY = ROOT / "judging" / "library"
PICTURES = ROOT / "judging" / "static" / "judging" / "drawings"
SVG = "{http://www.w3.org/2000/svg}"
DEFERS = "raise a safety concern; the mark does not replace it"
CARDS = {
    "wagon_harness_camp",
    "harness_in_depth",
    "food_dish",
    "food_five_dishes",
    "wagon_and_food",
    "youth_dessert",
    "best_dish_places",
    "fit_to_show",
}
DISHES = ("meat", "beans", "bread", "potatoes", "dessert")


def card(code: str) -> CardFile:
    return read_card_file(library_cards()[code], library_cards(), parts=handbook())


# --- The cards --------------------------------------------------------------------------------


def test_the_cards_there_are():
    assert set(library_cards()) == CARDS
    assert {path.stem for path in (LIBRARY / "cards").glob("*")} == CARDS


@pytest.mark.parametrize("code", sorted(CARDS))
def test_a_card_reads_and_nothing_is_wrong_with_it(code: str):
    text = (LIBRARY / "cards" / f"{code}.yaml").read_text(encoding="utf-8")
    assert read_text(text) == library_cards()[code], "also without YAML's own shortcuts"
    jsonschema.validate(library_cards()[code], SCHEMA)
    assert findings(card(code), classes=[], rigs=[]) == ()


@pytest.mark.parametrize("code", sorted(CARDS))
def test_a_card_says_where_it_is_from_and_defers(code: str):
    text = (LIBRARY / "cards" / f"{code}.yaml").read_text(encoding="utf-8")
    head = " ".join(line.lstrip("# ") for line in text.splitlines() if line.startswith("#"))
    assert re.search(r"\b(1[89]\d\d|20\d\d|n\.d\.)|no source", head)
    words = " ".join(str(library_cards()[code]["notice"]).split())
    assert re.search(r"not a safety inspection|No score says that food is safe", words)


@pytest.mark.parametrize("code", sorted(CARDS))
def test_rows_fit_a_phone_and_danger_a_defers(code: str):
    for section in card(code).sections:
        assert 4 <= len(section.quick_phrases) <= 8
        for row in section.criteria:
            assert len(row.name) <= 40, row.name
            assert 40 <= len(row.guidance) <= 250, row.code
            assert (row.danger == "A") == (DEFERS in row.guidance), row.code


def test_a_rows_letter_is_the_gravest_of_its_parts():
    for code in ("wagon_harness_camp", "harness_in_depth"):
        for section in card(code).sections:
            for row in section.criteria:
                letters = {handbook()[part].danger for part in row.parts}
                assert row.parts, row.code
                if row.danger == "A":
                    assert "A" in letters, row.code
                elif section.code in ("harness", "running_gear") or code == "harness_in_depth":
                    assert (row.danger or "C") == min(letters), row.code


def test_the_five_dishes_are_one_template():
    (template,) = card("food_dish").sections
    sections = card("food_five_dishes").sections
    assert [section.code for section in sections] == [f"food_{dish}" for dish in DISHES]
    for section in sections:
        same = (section.points, section.minutes, section.quick_phrases)
        assert same == (template.points, template.minutes, template.quick_phrases)
        for row, its in zip(section.criteria, template.criteria, strict=True):
            assert (row.max_mark, row.step, row.weight) == (its.max_mark, its.step, its.weight)
            if not row.code.endswith("_texture"):
                assert row.guidance == its.guidance
            assert row.name == f"{its.name} of the {section.code.removeprefix('food_')}"


def test_the_whole_card_is_taken_from_others():
    written = {s.code: s for code in CARDS - {"wagon_and_food"} for s in card(code).sections}
    whole = card("wagon_and_food")
    assert len(whole.sections) == 10
    assert all(section == written[section.code] for section in whole.sections)


def test_forms():
    forms = {s.code: (s.form, s.all_or_nothing) for code in CARDS for s in card(code).sections}
    assert forms.pop("best_dish") == (Form.PLACINGS, False)
    assert forms.pop("fit_eligible") == (Form.PASS_FAIL, True)
    assert forms.pop("fit_complete") == (Form.PASS_FAIL, False)
    assert set(forms.values()) == {(Form.POINTS, False)}


def test_weights_give_the_published_figures_of_a_dish():
    published = json.loads((ROOT / "tests/reference/dish_weights.json").read_text())
    (dish,) = card("food_dish").sections
    codes = [row.code for row in dish.criteria]

    def points(marks: list[int]) -> Decimal:
        given = {c: Mark(MarkState.MARKED, Decimal(m)) for c, m in zip(codes, marks, strict=True)}
        found = score_section(dish.as_section(), {}, given).points
        assert found is not None
        return found

    hundredth = Decimal("0.01")
    judges = [points(marks) for marks in published["six_judges"]["marks"]]
    for found, printed in zip(judges, published["six_judges"]["weighted"], strict=True):
        assert abs(found - Decimal(str(printed))) < hundredth
    total = Decimal(str(published["six_judges"]["total_lowest_dropped"]))
    assert abs(sum(judges) - min(judges) - total) < hundredth
    assert 5 * points([9, 9, 9]) == published["perfect"]["value"]
    assert 5 * points([7, 7, 7]) == published["all_sevens"]["value"]
    weights = [float(row.weight) * 4 / 7 for row in dish.criteria]
    assert weights == pytest.approx(published["weights"]["value"], abs=2e-4)


# --- The handbook -------------------------------------------------------------------------------


def test_every_part_a_card_names_is_there_and_most_are_named():
    named = {p for code in CARDS for s in card(code).sections for r in s.criteria for p in r.parts}
    assert named == set(handbook())


def test_groups_stand_together():
    groups = [part.group for part in handbook().values()]
    order = list(dict.fromkeys(groups))
    assert groups == sorted(groups, key=order.index)
    assert len(order) == 12


def test_every_source_is_a_title_with_its_year_or_says_that_there_is_none():
    for part in handbook().values():
        assert re.search(r"\b1[89]\d\d\b|\b20\d\d\b|n\.d\.|no source", part.source), part.code


def test_grave_parts_never_speak_of_clearance():
    for part in handbook().values():
        words = f"{part.job} {part.look} {part.prepare}".lower()
        assert not re.search(r"\bis safe\b|safe to|cleared|approved", words), part.code


# --- The drawings --------------------------------------------------------------------------------


def picture(name: str) -> ET.Element:
    return ET.parse(PICTURES / f"{name}.svg").getroot()


def test_every_drawing_is_there_and_used():
    assert {path.stem for path in PICTURES.iterdir()} == set(drawings())
    assert {part.drawing for part in handbook().values() if part.drawing} == set(drawings())
    assert len(drawings()) == 8


@pytest.mark.parametrize("name", sorted(drawings()))
def test_a_drawings_numbers_are_its_parts(name: str):
    marks = {part.mark for part in handbook().values() if part.drawing == name}
    written = [text.text for text in picture(name).iter(f"{SVG}text")]
    numbers = {int(text) for text in written if text and text.isdigit()}
    assert numbers == marks == set(range(1, len(marks) + 1))


@pytest.mark.parametrize("name", sorted(drawings()))
def test_a_drawing_is_plain_lines_with_words_for_those_who_do_not_see_it(name: str):
    root = picture(name)
    assert root.get("viewBox", "").startswith("0 0 640 ")
    assert root.findtext(f"{SVG}title") == drawings()[name].title
    assert len(root.findtext(f"{SVG}desc") or "") > 40
    assert len(drawings()[name].alt) > 60
    colours = set()
    for one in root.iter():
        assert one.tag.removeprefix(SVG) not in ("script", "style", "image", "foreignObject", "a")
        assert not [key for key in one.attrib if key.startswith("on") or key.endswith("href")]
        assert "url(" not in " ".join(one.attrib.values())
        colours |= {one.get("fill", "none"), one.get("stroke", "none")}
        if one.get("font-size"):
            assert float(one.get("font-size", "0")) >= 14
    assert colours <= {"none", "#000", "#fff", "#555"}, "it prints in grey"
    assert (Path(PICTURES) / f"{name}.svg").stat().st_size < 25_000
