"""Whatever a phone sent can be said in plain words."""

from __future__ import annotations

from typing import Any

import pytest

from judging.rules.round.in_words import sent_in_words


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
            {"kind": "answer", "question": 7, "verdict": "correct", "value": "8", "text": ""},
            "Answer to question 7, corrected to 8",
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
