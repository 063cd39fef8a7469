"""Novices beside seniors, seats set by hand, and tasks that make no sense."""

from __future__ import annotations

from typing import Any

import pytest

from judging.rules.panels.assignment import JudgeOffer, PanelImpossible, Pin, draw
from judging.rules.panels.pins import Task


def test_one_look_a_place_leaves_no_seat_for_a_novice() -> None:
    novice = JudgeOffer("Wynn", frozenset({"Harness"}), novice=True)
    asked: dict[str, Any] = {
        "entries": [1, 2],
        "entry_sections": dict.fromkeys([1, 2], ("Harness",)),
        "judges_per_section": {"Harness": 1},
        "seed": 0,
    }
    senior = JudgeOffer("Cole", frozenset({"Harness"}))
    loads = draw(**asked, judges=[novice, senior], novices_beside_seniors=True).loads
    assert loads == {"Wynn": 0, "Cole": 2}
    assert draw(**asked, judges=[novice, senior]).loads == {"Wynn": 1, "Cole": 1}
    with pytest.raises(PanelImpossible) as caught:
        draw(**asked, judges=[novice], novices_beside_seniors=True)
    assert str(caught.value) == (
        "Harness needs 2 looks (2 wagons x 1 judge) but only 1 judge may judge it and can give "
        "0: Wynn 0 (novice), and novices 0 between them (only beside a senior); 2 looks short."
    )


@pytest.mark.parametrize(
    ("pins_set", "sentence"),
    [
        ([Pin("Harlan", 4)], "Harlan must sit at wagon 4, Harness, but is in conflict with it."),
        ([Pin("Wynn", 4)], "Wynn must sit at wagon 4, Harness, but is not engaged for that"),
        ([Pin("Cole", 4), Pin("Cole", 4, must=False)], "but must not sit there either."),
        ([Pin("Cole", 4), Pin("Dunn", 4)], "2 judges must sit at wagon 4, Harness, which takes 1"),
        ([Pin("Dunn", 4), Pin("Dunn", 5)], "Dunn must sit at 2 places and has a limit of 1 seat."),
        ([Pin("Eve", 4)], "Only novices must sit at wagon 4, Harness, and a novice sits only"),
        ([Pin("Fay", 4)], "1 place, 9 minutes of judging, and is there for 8 minutes."),
    ],
)
def test_pins_that_cannot_be_say_why(pins_set: list[Pin], sentence: str) -> None:
    with pytest.raises(PanelImpossible) as caught:
        draw(
            entries=[4, 5],
            entry_sections=dict.fromkeys([4, 5], ("Harness",)),
            judges=[
                JudgeOffer("Harlan", frozenset({"Harness"}), frozenset({4})),
                JudgeOffer("Cole", frozenset({"Harness"})),
                JudgeOffer("Wynn", frozenset({"Fire"})),
                JudgeOffer("Dunn", frozenset({"Harness"}), max_seats=1),
                JudgeOffer("Eve", frozenset({"Harness"}), novice=True),
                JudgeOffer("Fay", frozenset({"Harness"}), max_minutes=8),
            ],
            judges_per_section={"Harness": 1},
            seed=0,
            names={4: "wagon 4"},
            pins=pins_set,
            novices_beside_seniors=True,
            minutes={"Harness": 9},
        )
    assert sentence in str(caught.value)


@pytest.mark.parametrize("beside", [False, True])
def test_a_pinned_seat_is_not_handed_on_to_fill_another(beside: bool) -> None:
    """Cole's one seat is set by hand; Dunn, who could have it, may not sit at the other wagon."""
    with pytest.raises(PanelImpossible, match=r"Cole 0 \(limit 1 seat, 1 set elsewhere\)"):
        draw(
            entries=[4, 5],
            entry_sections=dict.fromkeys([4, 5], ("Harness",)),
            judges=[
                JudgeOffer("Cole", frozenset({"Harness"}), max_seats=1),
                JudgeOffer("Dunn", frozenset({"Harness"}), frozenset({5})),
                JudgeOffer("Eve", frozenset({"Harness"}), frozenset({5}), novice=True),
            ],
            judges_per_section={"Harness": 1},
            seed=0,
            pins=[Pin("Cole", 4)],
            novices_beside_seniors=beside,
        )


def test_pinned_seats_are_not_exchanged_for_equal_minutes() -> None:
    panel = draw(
        entries=[1, 2],
        entry_sections=dict.fromkeys([1, 2], ("Harness",)),
        judges=[JudgeOffer(name, frozenset({"Harness"})) for name in ("Cole", "Dunn")],
        judges_per_section={"Harness": 1},
        seed=0,
        pins=[Pin("Cole", 1), Pin("Cole", 2)],
        minutes={"Harness": 9},
        balance_by="minutes",
    )
    assert panel.loads == {"Cole": 2, "Dunn": 0}


def test_a_task_that_makes_no_sense_is_refused() -> None:
    judge = JudgeOffer("Cole", frozenset({"Harness"}), max_minutes=5)
    plain: dict[str, Any] = {"entries": [1], "entry_sections": {1: ("Harness",)}}
    for changed, words in (
        ({}, "needs the sections' minutes"),
        ({"pins": [Pin("Nobody", 1)]}, "not offered"),
        ({"minutes": {"Harness": 0}}, "has no minutes"),
    ):
        with pytest.raises(ValueError, match=words):
            Task(**plain, judges=[judge], judges_per_section={"Harness": 1}, **changed).check()
    with pytest.raises(ValueError, match="below zero"):
        JudgeOffer("Cole", frozenset(), max_minutes=-1)
    with pytest.raises(ValueError, match="balance by minutes"):
        draw(**plain, judges=[], judges_per_section={"Harness": 0}, seed=0, balance_by="minutes")
