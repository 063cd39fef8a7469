"""Sections taken from library cards, and circles among them."""

from __future__ import annotations

from typing import Any

import pytest

from judging.rules.cards.card_file import CardFaults, as_data, read_card_file

Data = dict[str, Any]


def section(code: str, **more: Any) -> Data:
    row = {"code": f"{code}_row", "name": code.title(), "max_mark": 10, "step": 1}
    return {
        "code": code,
        "name": code.title(),
        "points": 20,
        "minutes": 3,
        "criteria": [row],
    } | more


def take(card: str, code: str) -> Data:
    return {"take": {"card": card, "section": code}}


def card(code: str, *sections: Data) -> Data:
    return {"code": code, "name": code.title(), "sections": list(sections)}


def faults_of(data: Data, library: Data, **more: Any) -> dict[str, str]:
    with pytest.raises(CardFaults) as refused:
        read_card_file(data, library, **more)
    return refused.value.faults


def test_a_section_is_copied_from_where_it_is_written_however_far() -> None:
    library = {
        "wagon": card("wagon", section("gear"), section("box")),
        "harness": card("harness", take("wagon", "gear"), section("lines")),
    }
    own = card("show", take("harness", "gear"), section("camp"), take("wagon", "box"))
    found = read_card_file(own, library)
    assert [part.code for part in found.sections] == ["gear", "camp", "box"]
    written = read_card_file(card("show", section("gear"), section("camp"), section("box")))
    assert found == written
    assert read_card_file(as_data(found)) == found, "what was taken is written out"


@pytest.mark.parametrize(
    ("own", "library", "chain"),
    [
        (
            card("show", take("harness", "gear")),
            {
                "harness": card("harness", take("wagon", "gear")),
                "wagon": card("wagon", take("harness", "gear")),
            },
            "show -> harness -> wagon -> harness",
        ),
        (
            card("harness", take("wagon", "gear")),
            {"wagon": card("wagon", take("harness", "gear"))},
            "harness -> wagon -> harness",
        ),
        (card("wagon", take("wagon", "gear")), {}, "wagon -> wagon"),
        (
            {"name": "No code", "sections": [take("a", "gear")]},
            {code: card(code, take(to, "gear")) for code, to in ("ab", "bc", "ca")},
            "a -> b -> c -> a",
        ),
    ],
)
def test_a_circle_is_refused_and_its_chain_named(own: Data, library: Data, chain: str) -> None:
    assert faults_of(own, library) == {
        "sections.0.take": f"Section “gear” is copied in a circle: {chain}."
    }


def test_two_cards_may_take_different_sections_from_each_other() -> None:
    library = {
        "wagon": card("wagon", section("gear"), take("harness", "lines")),
        "harness": card("harness", section("lines"), take("wagon", "gear")),
    }
    own = card("show", take("harness", "gear"), take("wagon", "lines"))
    assert [part.code for part in read_card_file(own, library).sections] == ["gear", "lines"]


def test_a_chain_without_end_is_cut_off() -> None:
    library: Data = {f"c{n}": card(f"c{n}", take(f"c{n + 1}", "gear")) for n in range(50)}
    found = faults_of(card("show", take("c0", "gear")), library)
    assert found == {"sections.0.take": "Section “gear” is copied over more than 10 cards."}


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        (take("saddle", "gear"), "no card “saddle”"),
        (take("wagon", "wheels"), "Library card “wagon” has no section “wheels”"),
        (take("text", "gear"), "Library card “text” has no section “gear”"),
        (take("odd", "gear"), "Library card “odd” has no section “gear”"),
    ],
)
def test_what_the_library_lacks_is_named(wanted: Data, words: str) -> None:
    library = {"wagon": card("wagon", section("gear")), "text": "no card", "odd": {"sections": [7]}}
    found = faults_of(card("show", wanted), library)
    assert list(found) == ["sections.0.take"]
    assert words in found["sections.0.take"]


def test_a_fault_in_the_library_is_told_where_the_section_is_taken() -> None:
    library = {"wagon": card("wagon", section("gear", points=-1))}
    assert faults_of(card("show", section("camp"), take("wagon", "gear")), library) == {
        "sections.1.take": (
            "The library's own section is at fault (points): More than zero, please."
        )
    }


def test_a_section_taken_twice_has_its_codes_twice() -> None:
    library = {"wagon": card("wagon", section("gear"))}
    found = faults_of(card("show", section("gear"), take("wagon", "gear")), library)
    assert found == {"sections.1.take": "Section code “gear” is there twice."}


def test_rows_are_counted_after_copying() -> None:
    row = {"name": "Row", "max_mark": 10, "step": 1}
    long = section("gear", criteria=[row | {"code": f"r{n}"} for n in range(3_000)])
    library = {"wagon": card("wagon", long)}
    own = card("show", take("wagon", "gear"), take("wagon", "gear"))
    assert "these are 6,000" in faults_of(own, library)["sections"]
