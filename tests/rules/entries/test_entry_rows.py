"""What a row of a list says, and what is wrong with it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from entries.rules.entry_rows import (
    EntryRow,
    fault_of_email,
    faults_of_rows,
    read_row,
)
from entries.rules.entry_sheet import COLUMNS, crew_keys, matched
from entries.rules.rig import FACTS, WORDS

CLASSES = {"trail": "Trail wagon", "ranch": "Ranch, with fly"}
GOOD = {
    "wagon_name": "Tin Sparrow",
    "exhibitor_name": "Edna Cook",
    "exhibitor_email": "Edna@showrun.example",
    "tongue": "drop tongue",
    "hitch": "Team of two",
    "draft": "leather",
    "pattern": "civil pattern",
    "holdback": "pole-straps",
    "classes": "trail",
    "crew_1": "Edna Cook",
    "crew_1_part": "Head cook",
    "crew_2": "Olaf Moor",
    "crew_2_part": "cook",
}


def row(line: int = 2, /, **other: str) -> EntryRow:
    return read_row(line, {**GOOD, **other}, CLASSES)


def faults(*rows: EntryRow, entered: list[tuple[str, str]] | None = None) -> list[tuple[int, str]]:
    found = faults_of_rows(rows, known_classes=list(CLASSES), entered=entered or [])
    return [(one.line, one.column) for one in found]


def test_a_whole_row_has_no_fault_and_its_words_are_understood() -> None:
    assert faults(row()) == []
    assert row().rig == {
        "tongue": "drop",
        "hitch": "team",
        "draft": "leather",
        "pattern": "civil",
        "holdback": "pole_strap",
    }
    assert row().exhibitor_email == "edna@showrun.example"


@pytest.mark.parametrize("name", list(FACTS))
def test_a_fact_is_known_by_its_code_and_by_its_words(name: str) -> None:
    for member in FACTS[name]:
        for said in (member.value, WORDS[member.value], WORDS[member.value].upper()):
            assert row(**{name: said}).rig[name] == member.value


@pytest.mark.parametrize(
    ("said", "codes"),
    [
        ("Trail wagon", ("trail",)),
        ("ranch; TRAIL", ("ranch", "trail")),
        ("trail, ranch", ("trail", "ranch")),
        ("Ranch, with fly", ("ranch",)),
        ("trail; Trail wagon", ("trail",)),
        ("", ()),
    ],
)
def test_classes_by_code_or_name(said: str, codes: tuple[str, ...]) -> None:
    assert row(classes=said).classes == codes


def test_camp_food_whom_to_call_and_who_is_under_age() -> None:
    read = row(frontage_ft="50 ft", dietary_notes="No nuts.", under_age="2")
    assert read.particulars == {
        "frontage_ft": 50,
        "depth_ft": None,
        "dietary_notes": "No nuts.",
        "emergency_name": "",
        "emergency_phone": "",
    }
    assert [one["under_age"] for one in read.crew] == [False, True]
    assert faults(read) == []


def test_two_under_age_may_have_the_same_initials() -> None:
    helpers = {
        "crew_3": "A. M.",
        "crew_3_part": "helper",
        "crew_4": "A. M.",
        "crew_4_part": "helper",
    }
    assert faults(row(under_age="3; 4", **helpers)) == []
    assert faults(row(under_age="3", **helpers)) == []
    assert faults(row(**helpers)) == [(2, "Crew")]


def test_a_code_counts_before_a_name_of_another_class() -> None:
    read = read_row(2, {**GOOD, "classes": "ranch"}, {"ranch": "One", "other": "Ranch"})
    assert read.classes == ("ranch",)


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"wagon_name": ""}, "Wagon"),
        ({"wagon_name": "x" * 81}, "Wagon"),
        ({"exhibitor_name": ""}, "Exhibitor"),
        ({"exhibitor_name": "x" * 121}, "Exhibitor"),
        ({"exhibitor_name": "A\u200bB"}, "Exhibitor"),
        ({"exhibitor_email": "edna"}, "E-mail"),
        ({"hitch": "nine up"}, "Hitch"),
        ({"classes": "derby"}, "Classes"),
        ({"classes": ""}, "Classes"),
        ({"crew_2": "", "crew_2_part": ""}, "Crew"),
        ({"crew_2_part": "taster"}, "Crew"),
        ({"crew_3_part": "helper"}, "Crew"),
        ({"under_age": "Bo"}, "Crew under age"),
        ({"under_age": "7"}, "Crew under age"),
        ({"under_age": "3"}, "Crew under age"),
        ({"frontage_ft": "15 m"}, "Camp frontage, ft"),
        ({"depth_ft": "4"}, "Camp depth, ft"),
        ({"emergency_name": "Ada Moor"}, "Emergency phone"),
        ({"history": "x" * 2001}, "History"),
        ({"outfit": "x" * 81}, "Outfit"),
    ],
)
def test_each_fault_is_named_with_its_column(cells: dict[str, str], column: str) -> None:
    assert faults(row(7, **cells)) == [(7, column)]


def test_everything_wrong_in_a_row_is_said_in_the_order_of_the_columns() -> None:
    bad = row(3, wagon_name="", hitch="", crew_1_part="cook")
    assert faults(row(2), bad) == [(3, "Wagon"), (3, "Hitch"), (3, "Crew")]


def test_a_wagon_in_the_show_and_a_wagon_twice_in_the_list() -> None:
    again = row(3, wagon_name="tin  SPARROW", exhibitor_email="EDNA@showrun.example")
    found = faults_of_rows([row(2), again], known_classes=list(CLASSES), entered=[])
    assert [(one.line, one.sentence) for one in found] == [(3, "The same wagon stands in row 2.")]
    entered = [("edna@showrun.example", "tin sparrow")]
    assert faults(row(2), entered=entered) == [(2, "Wagon")]
    other = row(3, exhibitor_email="otto@showrun.example", exhibitor_name="Otto")
    assert faults(row(2), other) == []


def test_one_address_with_two_names() -> None:
    found = faults_of_rows(
        [row(2), row(3, wagon_name="Other", exhibitor_name="Otto Cook")],
        known_classes=list(CLASSES),
        entered=[],
    )
    assert [one.sentence for one in found] == ["Row 2 gives this e-mail address to “Edna Cook”."]


@pytest.mark.parametrize("email", ["a@b.example", "a.b+c@sub.b-c.example", "x" * 64 + "@b.example"])
def test_whole_addresses(email: str) -> None:
    assert fault_of_email(email) == ""


@pytest.mark.parametrize(
    "email",
    [
        *("", "a", "a@b", "a b@c.example", "a@b..example", "a@-b.example", "a@b.example\n"),
        *("ä@b.example", "a@" + ".".join(["b" * 60] * 5)),
    ],
)
def test_addresses_no_link_can_be_sent_to(email: str) -> None:
    assert fault_of_email(email)


KEYS = [column.key for column in COLUMNS if column.read]


@given(st.dictionaries(st.sampled_from(KEYS), st.text(max_size=30)))
def test_no_cells_break_the_reading(cells: dict[str, str]) -> None:
    read = read_row(2, cells, CLASSES)
    found = faults_of_rows([read], known_classes=list(CLASSES), entered=[])
    assert all(one.sentence and one.line == 2 for one in found)
    assert read.wagon_name or "Wagon" in {one.column for one in found}


# --- Headings -------------------------------------------------------------------------------


def test_our_own_headings_are_all_known() -> None:
    found = matched([column.heading for column in COLUMNS])
    assert set(found.places) == set(KEYS)
    assert (found.missing, found.unknown, found.twice) == ((), (), ())
    assert "No." in found.not_read


def test_what_is_missing_not_ours_or_twice_is_named() -> None:
    found = matched(["wagon", "WAGON", "Shoe size", "", "crew_1 part"])
    assert found.unknown == ("Shoe size",)
    assert found.twice == ("Wagon",)
    assert found.places == {"wagon_name": 0, "crew_1_part": 4}
    assert "E-mail" in found.missing and "Wagon" not in found.missing
    assert "Outfit" not in found.missing


def test_keys_of_the_crew() -> None:
    assert crew_keys(2) == ("crew_2", "crew_2_part")
