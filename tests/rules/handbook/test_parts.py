"""Reading the handbook: what is refused, and how it is said."""

from __future__ import annotations

from typing import Any

import pytest

from judging.rules.handbook.parts import LONGEST, HandbookFaults, read_parts

BIT: dict[str, Any] = {
    "code": "bit",
    "name": "Bit",
    "group": "Bridle and lines",
    "job": "Carries the signal.",
    "look": "Wear.",
    "fails": "It pinches.",
    "prepare": "Leave it on its bridle.",
    "source": "common practice, no source",
}
DEFERS = "Lost. Raise a safety concern; a mark is never a clearance."


def refused(*parts: object) -> dict[str, str]:
    with pytest.raises(HandbookFaults) as caught:
        read_parts(list(parts))
    return caught.value.faults


def test_a_part_with_all_its_fields():
    line = BIT | {
        "rigs": {"hitch": ["six_up"]},
        "danger": "A",
        "fails": DEFERS,
        "drawing": "bridle",
        "mark": 4,
    }
    part = read_parts([line])["bit"]
    assert (part.danger_words, part.drawing, part.mark) == ("do not move the team", "bridle", 4)
    assert part.rigs == {"hitch": ["six_up"]}


def test_what_is_left_out_has_a_quiet_value():
    part = read_parts([BIT])["bit"]
    assert (part.danger, part.rigs, part.drawing, part.mark) == ("C", {}, "", 0)


def test_lines_of_a_file_become_one_line():
    part = read_parts([BIT | {"job": "Carries\n  the signal.\n"}])["bit"]
    assert part.job == "Carries the signal."


def test_parts_keep_their_order():
    codes = ["zebra", "bit", "alpha"]
    assert list(read_parts([BIT | {"code": code} for code in codes])) == codes


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"code": "Bit!"}, "A code is small letters"),
        ({"colour": "brown"}, "Nobody reads “colour”."),
        ({"job": " "}, "“job” is missing."),
        ({"source": ""}, "“source” is missing."),
        ({"look": "x" * (LONGEST["look"] + 1)}, "too long for a phone"),
        ({"danger": "D"}, "The danger letter is A, B or C."),
        ({"danger": "A"}, "must say “raise a safety concern; a mark is never a clearance”"),
        ({"drawing": "bridle"}, "come together"),
        ({"mark": 3}, "come together"),
        ({"drawing": "bridle", "mark": -1}, "a whole number"),
        ({"drawing": "bridle", "mark": True}, "a whole number"),
        ({"rigs": {"wheels": ["rubber"]}}, "A rig has no fact “wheels”"),
        ({"rigs": []}, "An empty list holds for no rig"),
    ],
)
def test_refusals(change: dict[str, Any], sentence: str):
    (text,) = refused(BIT | change).values()
    assert sentence in text


def test_all_faults_come_at_once():
    faults = refused(BIT | {"job": ""}, "no part", {"name": "without a code"}, BIT, BIT)
    assert faults == {
        "bit": "Two parts have this code.",
        "parts.1": "A part needs a code.",
        "parts.2": "A part needs a code.",
    }


def test_no_two_parts_have_one_number_in_a_drawing():
    drawn = BIT | {"drawing": "bridle", "mark": 1}
    assert refused(drawn, drawn | {"code": "curb"}) == {
        "curb": "“bit” has number 1 in bridle already."
    }
    read_parts([drawn, drawn | {"code": "curb", "drawing": "collar"}])


def test_a_handbook_is_a_list():
    with pytest.raises(HandbookFaults, match="The parts are a list"):
        read_parts({"bit": BIT})
