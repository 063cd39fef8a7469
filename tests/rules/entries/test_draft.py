"""What is kept of a form not sent off."""

from __future__ import annotations

from entries.rules.draft import LONGEST, kept_of, with_outfit
from showrun.shows.rules.planning import MOST_CLASSES


def test_the_forms_own_fields_are_kept_and_no_others() -> None:
    typed = {
        "wagon_name": ["Tin", "Tin Sparrow"],
        "crew_minor_3": ["yes"],
        "csrfmiddlewaretoken": ["x"],
        "waiver_agreed_by": ["Ada"],
        "photo": ["wheel.jpg"],
        "do": ["save"],
        "history": [""],
        "outfit": [],
    }
    assert kept_of(typed) == {"wagon_name": ["Tin Sparrow"], "crew_minor_3": ["yes"]}


def test_all_classes_ticked_are_kept_within_reason() -> None:
    many = [str(n) for n in range(MOST_CLASSES + 5)]
    assert kept_of({"classes": many})["classes"] == many[:MOST_CLASSES]


def test_what_is_too_long_for_the_entry_is_kept_to_be_shortened() -> None:
    assert kept_of({"history": ["h" * 2500]}) == {"history": ["h" * 2500]}
    assert len(kept_of({"history": ["h" * 9000]})["history"][0]) == LONGEST


def test_signs_no_database_holds_are_left_out() -> None:
    assert kept_of({"history": ["one\r\ntwo\0\ud800"]}) == {"history": ["one\r\ntwo"]}
    assert kept_of({"outfit": ["\0"]}) == {}


def test_an_outfits_facts_take_the_place_of_what_was_typed_about_the_wagon() -> None:
    typed = {"wagon_name": ["Old"], "crew_name_1": ["Ada"], "history": ["typed"]}
    facts = [("wagon_name", "Tin"), ("frontage_ft", 50), ("depth_ft", None), ("history", "")]
    assert with_outfit(typed, facts) == {
        "wagon_name": ["Tin"],
        "crew_name_1": ["Ada"],
        "history": ["typed"],
        "frontage_ft": ["50"],
    }
