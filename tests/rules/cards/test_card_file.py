"""Card files: what is read, and what is refused with all faults at their places."""

from __future__ import annotations

import copy
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from entries.rules.rig import FACTS
from judging.rules.cards.card_file import SCHEMA, CardFaults, CardFile, as_data, read_card_file
from judging.rules.cards.card_text import read_text, write_json, write_yaml
from judging.rules.cards.scorecard import Form
from tests.drawn_cards import cards
from tests.small_card import SCORECARD
from tests.spoiled_cards import MEANING, STRUCTURE, good, with_value

LIBRARY = Path(__file__).parents[3] / "judging/library/cards"
VALIDATOR = Draft202012Validator(SCHEMA)
Data = dict[str, Any]


def faults_of(data: object, **more: Any) -> dict[str, str]:
    with pytest.raises(CardFaults) as refused:
        read_card_file(data, **more)
    return refused.value.faults


# -- what is read ----------------------------------------------------------------------------


def test_a_good_card_is_read_with_what_each_form_leaves_out() -> None:
    card = read_card_file(good())
    assert [section.form for section in card.sections] == [*Form]
    gear, gate, best = card.sections
    one = Decimal(1)
    assert (gear.criteria[0].step, gear.criteria[0].weight) == (Decimal("0.5"), one)
    assert (gate.criteria[0].max_mark, gate.criteria[0].step) == (one, one)
    assert gate.points == 0
    assert (best.criteria[0].max_mark, best.criteria[0].step) == (Decimal(26), one)
    assert card.row_count == 5
    assert gate.as_section().all_or_nothing
    assert gear.as_section().rows_for({"tongue": "stiff"})[1].code == "stop"


def test_a_place_reaches_to_ninety_nine_unless_it_is_said() -> None:
    data = with_value("sections.2.criteria.0.max_mark", None)
    assert read_card_file(data).sections[2].criteria[0].max_mark == 99


def test_the_small_card_of_the_tests_is_read() -> None:
    assert read_card_file(SCORECARD).row_count == 9


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*.yaml")), ids=lambda path: path.stem)
def test_cards_of_the_library_satisfy_reader_and_schema(path: Path) -> None:
    library = {file.stem: read_text(file.read_text()) for file in LIBRARY.glob("*.yaml")}
    data = library[path.stem]
    card = read_card_file(data, library)
    assert read_card_file(as_data(card)) == card
    assert [fault.message for fault in VALIDATOR.iter_errors(data)] == []


@given(cards())
@settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
def test_a_card_comes_back_from_yaml_and_json_as_it_went(data: Data) -> None:
    card = read_card_file(data)
    for written in (write_yaml(as_data(card)), write_json(as_data(card))):
        assert read_card_file(read_text(written)) == card
    assert [fault.message for fault in VALIDATOR.iter_errors(data)] == []
    assert [fault.message for fault in VALIDATOR.iter_errors(as_data(card))] == []


def test_two_thousand_rows_are_read_and_twenty_thousand_refused() -> None:
    def long_card(rows: int) -> Data:
        data = good()
        data["sections"] = data["sections"][:1]
        data["sections"][0]["criteria"] = [
            {"code": f"r{n}", "name": f"Row {n}", "max_mark": 10, "step": 1} for n in range(rows)
        ]
        return data

    card = read_card_file(read_text(write_yaml(long_card(2_000))))
    assert card.row_count == 2_000
    faults = faults_of(long_card(20_000))
    assert "at most 5,000" in faults["sections"] and "20,000" in faults["sections"]


# -- what is refused -------------------------------------------------------------------------


def _at_or_inside(place: str, found: dict[str, str]) -> list[str]:
    """Sentences at a place, below it, or (facts of the rig are one place) above it."""
    return [
        sentence
        for at, sentence in found.items()
        if at == place or at.startswith(f"{place}.") or place.startswith(f"{at}.")
    ]


@pytest.mark.parametrize(("place", "value", "words"), [*STRUCTURE, *MEANING], ids=str)
def test_a_fault_is_told_at_its_place(place: str, value: Any, words: str) -> None:
    found = faults_of(with_value(place, value))
    told = _at_or_inside(place, found)
    assert len(told) == len(found), "no other place is blamed"
    assert any(words in sentence for sentence in told), found
    assert all(sentence[0].isupper() or sentence[0] in "“t" for sentence in told)


@pytest.mark.parametrize(("place", "value", "words"), STRUCTURE, ids=str)
def test_the_schema_sees_every_fault_of_structure(place: str, value: Any, words: str) -> None:
    assert not VALIDATOR.is_valid(with_value(place, value)), words


def test_the_good_card_satisfies_the_schema_and_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert [fault.message for fault in VALIDATOR.iter_errors(good())] == []


def test_all_faults_come_at_once() -> None:
    data = good()
    data["sections"][0]["points"] = -5
    data["sections"][0]["criteria"][0]["step"] = 3
    data["sections"][1]["minutes"] = 0
    del data["name"]
    assert list(faults_of(data)) == [
        "sections.0.points",
        "sections.0.criteria.0.step",
        "sections.1.minutes",
        "name",
    ]


@pytest.mark.parametrize("data", [None, 7, "card", [], ["sections"]])
def test_something_else_than_a_mapping_is_refused(data: object) -> None:
    assert list(faults_of(data)) == [""]


def test_a_slip_of_the_pen_is_answered_with_the_key_that_was_meant() -> None:
    found = faults_of(with_value("sections.0.point", 25))
    assert found == {"sections.0.point": "This key is not known here. Is “points” meant?"}


def test_very_many_faults_are_not_all_told() -> None:
    data = good()
    data["sections"][0]["criteria"] = [7] * 1_000
    found = faults_of(data)
    assert len(found) == 201
    assert found[""] == "There are more faults; mend these first."


def test_parts_are_those_of_the_handbook_when_it_is_given() -> None:
    assert read_card_file(good(), parts={"tongue", "hub"}).row_count == 5
    found = faults_of(good(), parts={"hub"})
    assert found == {"sections.0.criteria.1.parts.0": "The handbook has no part “tongue”."}


# -- rows side by side -----------------------------------------------------------------------


def test_rows_that_stand_in_for_each_other_never_meet_on_a_rig() -> None:
    data = with_value("sections.0.criteria.2.applies", {"hitch": ["six_up"]})
    assert faults_of(data) == {
        "sections.0.criteria.2.one_of": (
            "“Tongue” and “Pole stop” stand in for each other (pole), but both are judged on "
            "this rig: drop tongue, six-up, leather tugs, civil pattern, pole straps."
        )
    }


def test_rows_that_stand_in_for_each_other_may_be_in_two_sections() -> None:
    data = good()
    data["sections"][1]["criteria"][0] |= {"one_of": "pole", "applies": {"tongue": ["drop"]}}
    assert list(faults_of(data)) == ["sections.1.criteria.0.one_of"]


def test_one_name_may_stand_twice_in_a_section_when_no_rig_has_both() -> None:
    data = with_value("sections.0.criteria.2.name", "tongue")
    assert read_card_file(data).row_count == 5
    data["sections"][0]["criteria"][0]["name"] = "TONGUE"
    found = faults_of(data)
    assert list(found) == ["sections.0.criteria.1.name", "sections.0.criteria.2.name"]
    assert "drop tongue, team of two" in found["sections.0.criteria.1.name"]
    assert "stiff tongue, team of two" in found["sections.0.criteria.2.name"]


def test_a_row_with_a_faulty_condition_is_not_blamed_for_meeting_another() -> None:
    data = with_value("sections.0.criteria.2.applies", {"tongue": ["iron"]})
    assert list(faults_of(data)) == ["sections.0.criteria.2.applies"]


# -- anything at all -------------------------------------------------------------------------

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["name", "sections", "criteria", "applies", "take", "points", "x"])
            | st.text(max_size=3),
            inner,
            max_size=5,
        )
    ),
    max_leaves=20,
)


def spoiled(spot: Callable[[Data], tuple[Any, Any]]) -> Callable[[Any], Data]:
    """Put a value at a spot of the good card."""

    def put(value: Any) -> Data:
        data = copy.deepcopy(good())
        holder, key = spot(data)
        holder[key] = value
        return data

    return put


SPOTS = [
    lambda data: (data, "sections"),
    lambda data: (data, "rig_facts"),
    lambda data: (data["sections"], 0),
    lambda data: (data["sections"][0], "criteria"),
    lambda data: (data["sections"][0]["criteria"], 0),
    lambda data: (data["sections"][0]["criteria"][0], "applies"),
    lambda data: (data["sections"][0], "form"),
    lambda data: (data["sections"], 1),
]


def read_or_refused(data: Any) -> CardFile | dict[str, str]:
    try:
        return read_card_file(data, {"wagon": good()})
    except CardFaults as refused:
        return refused.faults


@given(st.one_of(PLAIN, *(PLAIN.map(spoiled(spot)) for spot in SPOTS)))
@settings(deadline=None)
def test_whatever_is_sent_is_read_or_refused_with_sentences(data: Any) -> None:
    found = read_or_refused(data)
    if isinstance(found, CardFile):
        assert read_card_file(as_data(found)) == found
    else:
        assert found
        assert all(text.endswith((".", "?")) for text in found.values())
        assert all(text.isprintable() for text in found.values())


def test_the_schema_knows_the_facts_of_the_rig() -> None:
    known = {fact: [member.value for member in kind] for fact, kind in FACTS.items()}
    defined = SCHEMA["$defs"]["facts"]["properties"]
    assert {fact: kind["items"]["enum"] for fact, kind in defined.items()} == known
    listed = SCHEMA["properties"]["rig_facts"]
    assert {fact: kind["items"]["enum"] for fact, kind in listed["properties"].items()} == known
    assert listed["required"] == list(known)
