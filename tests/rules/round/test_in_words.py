"""Whatever a phone sent can be said in plain words."""

from __future__ import annotations

from typing import Any

import pytest

from judging.rules.round.in_words import late_in_words, sent_in_words
from judging.rules.round.lateness import LATE


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"kind": "clear", "entry": 3, "criterion": "hub"}, "Took back the mark for Hubs, wagon 4"),
        (
            {"kind": "mark", "entry": 3, "criterion": "hub", "state": "not_inspected"},
            "Not inspected for Hubs, wagon 4",
        ),
        (
            {"kind": "concern", "entry": 3, "criterion": None, "degree": "stop", "text": "Crack"},
            'Safety concern (stop now), wagon 4: "Crack"',
        ),
        ({"kind": "concern", "entry": [], "degree": {}}, "Safety concern ({}), unknown wagon []"),
        ({"kind": "hand_in", "entry": 99}, "Handed in the card of unknown wagon 99"),
        (
            {"kind": "hand_in", "entry": 3, "hash": "3FA291BC" + "0" * 56},
            "Handed in the card of wagon 4, signed as 3fa2 91bc",
        ),
        ({"kind": "hand_in", "entry": 3, "hash": 7}, "Handed in the card of wagon 4"),
        (
            {"kind": "answer", "question": 7, "verdict": "correct", "value": "8", "text": ""},
            "Answer to question 7, corrected to 8",
        ),
        (
            {"kind": "answer", "question": 7, "verdict": "correct"},
            "Answer to question 7, corrected",
        ),
        (
            {"kind": "answer", "question": 7, "verdict": "unsure", "text": "Too long ago"},
            'Answer to question 7, cannot recall: "Too long ago"',
        ),
        (
            {"kind": "answer", "question": 7, "verdict": "confirm"},
            "Answer to question 7, confirmed",
        ),
        (
            {
                "kind": "rig",
                "entry": 3,
                "rig": {
                    "holdback": "side_backer",
                    "tongue": "stiff",
                    "hitch": "four_up",
                    "draft": "leather",
                    "pattern": "civil",
                },
                "text": "Bolted.",
            },
            "Rig at the wagon: stiff tongue, four-up, leather tugs, civil pattern, side-backer, "
            'wagon 4: "Bolted."',
        ),
        (
            {"kind": "rig", "entry": 3, "rig": {"tongue": "bent", "hitch": ["team"]}},
            "Rig at the wagon: unknown tongue bent, unknown hitch ['team'], wagon 4",
        ),
        ({"kind": "rig", "entry": 3, "rig": "stiff"}, "Rig at the wagon: not told, wagon 4"),
        ({"kind": ["mark"]}, "Cannot be read: \"{'kind': ['mark']}\""),
        (None, 'Cannot be read: "None"'),
    ],
)
def test_whatever_was_sent_can_be_said(body: Any, words: str):
    found = sent_in_words(body, wagons={3: "4"}, rows={"hub": "Hubs"}, sections={})
    assert found == words


@pytest.mark.parametrize("code", LATE)
def test_whatever_is_settled_by_the_phone_has_its_words(code: str):
    assert late_in_words(code, 1).startswith("1 touch ")
    assert late_in_words(code, 2).startswith("2 touches ")
