"""What is typed from paper is read one way only, and two readings are compared."""

from __future__ import annotations

from decimal import Decimal

import pytest

from judging.rules.cards.scorecard import Criterion, Form, Mark, MarkState, Section
from judging.rules.round.keying import (
    KeyingRefused,
    Sheet,
    State,
    agreed,
    differing,
    mark_of,
    read_keying,
    read_mark,
    read_place,
    state_of,
    takes,
)

HUB = Criterion("hub", "Hubs", Decimal(10), Decimal("0.5"))
SAFE = Criterion("safe", "Extinguisher", Decimal(1), Decimal(1))
PLACE = Criterion("place", "Place", Decimal(40), Decimal(1))
REAR = Criterion("rear", "Queen bolt", Decimal(10), Decimal(1), applies={"tongue": ["drop"]})
SHEET = Sheet(
    (
        Section("gear", "Gear", Decimal(40), 4, (HUB, REAR)),
        Section("fire", "Fire", Decimal(5), 1, (SAFE,), Form.PASS_FAIL),
    ),
    {"tongue": "stiff"},
)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("7", "7"), ("0", "0"), ("10.0", "10"), ("7,5", "7.5"), (" 07 ", "7"), ("X", "x"),
     ("-", "-"), ("\u2013", "-"), (".", ".")],
)  # fmt: skip
def test_a_mark_is_kept_in_one_way(typed: str, kept: str) -> None:
    assert read_mark(typed, HUB, Form.POINTS, {}) == kept


@pytest.mark.parametrize(
    ("typed", "says"),
    [("", "type what the card says"), ("  ", "type what"), ("10.5", "takes at most 10"),
     ("7.3", "in steps of 0.5; 7.3 was typed"), ("-1", "a number, x"), ("1e1", "a number, x"),
     ("NaN", "a number"), ("..", "a number"), ("٧", "a number"), ("7 8", "a number")],
)  # fmt: skip
def test_a_slip_is_refused_with_what_the_row_takes(typed: str, says: str) -> None:
    with pytest.raises(KeyingRefused, match=says):
        read_mark(typed, HUB, Form.POINTS, {})


def test_pass_fail_and_places_take_their_own_signs() -> None:
    assert [read_mark(one, SAFE, Form.PASS_FAIL, {}) for one in ("p", "F", "1", "0")] == [
        "1", "0", "1", "0",
    ]  # fmt: skip
    with pytest.raises(KeyingRefused, match="1 for pass"):
        read_mark("2", SAFE, Form.PASS_FAIL, {})
    with pytest.raises(KeyingRefused, match="no place 0"):
        read_mark("0", PLACE, Form.PLACINGS, {})
    with pytest.raises(KeyingRefused, match="every wagon gets a place"):
        read_mark("-", PLACE, Form.PLACINGS, {})
    assert read_mark("x", PLACE, Form.PLACINGS, {}) == "x"
    assert [takes(SAFE, Form.PASS_FAIL), takes(PLACE, Form.PLACINGS), takes(REAR, Form.POINTS)] == [
        "1 pass, 0 fail", "place, 1 is best", "0 to 10",
    ]  # fmt: skip


def test_nothing_on_the_paper_is_no_mark_and_zero_is_one() -> None:
    assert mark_of(".") is None
    assert mark_of("0") == Mark(MarkState.MARKED, Decimal(0))
    assert mark_of("-") == Mark(MarkState.NOT_APPLICABLE)


def test_a_keying_tells_every_fault_at_once_and_asks_for_no_row_of_another_rig() -> None:
    given, faults = read_keying({"row:hub": "11", "concern-words": "loose"}, SHEET)
    assert set(faults) == {"row:hub", "row:safe", "concern"}
    assert "row:rear" not in SHEET.places
    assert given["signed"] == "no"
    given, faults = read_keying(
        {"row:hub": "x", "row:safe": "f", "concern": "stop", "remark:gear": " dry\n\x00 leather ",
         "row:rear": "9"},
        SHEET,
    )  # fmt: skip
    assert not faults
    assert (given["row:hub"], given["row:safe"], given["remark:gear"]) == ("x", "0", "dry leather")
    assert "row:rear" not in given
    assert read_keying({"remark:gear": "a" * 301}, SHEET)[1]["remark:gear"].startswith("At most")
    assert "concern" in read_keying({"concern": "panic"}, SHEET)[1]


def test_marks_differ_by_a_sign_and_words_by_their_letters() -> None:
    one = {"row:hub": "7", "remark:gear": "Dry, cracked leather", "signed": "yes", "concern": ""}
    assert differing(one, {**one, "remark:gear": "dry cracked LEATHER."}) == ()
    assert differing(one, {**one, "row:hub": "x", "signed": "no", "concern": "note"}) == (
        "row:hub", "signed", "concern",
    )  # fmt: skip
    assert differing(one, {**one, "remark:gear": "Dry leather"}) == ("remark:gear",)
    # The rig was changed between the two: one of them had a row more.
    assert differing(one, {**one, "row:rear": "."}) == ("row:rear",)


def test_only_a_look_at_every_difference_settles_a_card() -> None:
    first, second = (
        {"row:a": "7", "row:b": "1", "row:c": "4"},
        {"row:a": "7", "row:b": "7", "row:c": "9"},
    )
    assert agreed(first, second, {"row:b": "1"}) is None
    assert agreed(first, second, {"row:b": "1", "row:c": "5"}) == {
        "row:a": "7", "row:b": "1", "row:c": "5",
    }  # fmt: skip
    assert agreed(first, first, {}) == first
    # Of words that agree, the first reading is kept.
    assert agreed({"remark:a": "Dry."}, {"remark:a": "dry"}, {}) == {"remark:a": "Dry."}


def test_the_states_of_a_card() -> None:
    one, other = {"row:a": "7"}, {"row:a": "1"}

    def state(*keyings: dict[str, str], looked: bool = False, taken: bool = False) -> State:
        return state_of(keyings, looked=looked, taken=taken)

    assert state() is State.NOT_KEYED
    assert state(one) is State.ONCE
    assert state(one, one) is State.AGREED
    assert state(one, other) is State.DIFFER
    assert state(one, other, looked=True) is State.AGREED
    assert state(one, one, taken=True) is State.TAKEN


@pytest.mark.parametrize(
    ("place", "typed", "kept"),
    [("signed", "yes", "yes"), ("signed", "perhaps", "no"), ("concern", " stop ", "stop"),
     ("concern", "", ""), ("remark:gear", " dry\tleather ", "dry leather")],
)  # fmt: skip
def test_each_place_of_a_card_is_read_in_its_own_way(place: str, typed: str, kept: str) -> None:
    assert read_place(place, typed, SHEET) == kept


def test_what_no_place_of_the_card_takes_is_refused() -> None:
    with pytest.raises(KeyingRefused, match="no more"):
        read_place("row:gear.gone", "7", SHEET)
    with pytest.raises(KeyingRefused, match="stop, mend or note"):
        read_place("concern", "perhaps", SHEET)
