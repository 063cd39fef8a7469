"""Limits of minutes are kept, and minutes are as equal as they can be."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.panels.assignment import JudgeOffer, PanelImpossible, draw

SECTIONS = ("Wagon", "Harness")


@st.composite
def small_days(draw_from: st.DrawFn) -> dict[str, Any]:
    """Shows small enough to try every panel, with judges there for a part of the time."""
    judges = [
        JudgeOffer(
            j,
            draw_from(st.frozensets(st.sampled_from(SECTIONS), min_size=1)),
            max_minutes=draw_from(st.one_of(st.none(), st.integers(0, 24))),
        )
        for j in range(draw_from(st.integers(2, 3)))
    ]
    return {
        "entries": [1, 2, 3],
        "entry_sections": dict.fromkeys([1, 2, 3], SECTIONS),
        "judges": judges,
        "judges_per_section": {"Wagon": 1, "Harness": draw_from(st.integers(1, 2))},
        "seed": draw_from(st.integers(0, 2)),
        "minutes": {"Wagon": draw_from(st.integers(1, 5)), "Harness": draw_from(st.integers(5, 9))},
        "balance_by": draw_from(st.sampled_from(["seats", "minutes"])),
    }


def every_panel(show: dict[str, Any]) -> list[Counter[tuple[Any, str]]]:
    """How often each judge sits in each section, of every panel that keeps the rules."""
    choices = [
        [
            [(judge, section) for judge in who]
            for who in combinations(
                [o.judge for o in show["judges"] if section in o.sections],
                show["judges_per_section"][section],
            )
        ]
        for entry in show["entries"]
        for section in show["entry_sections"][entry]
    ]
    panels = [Counter(seat for place in whole for seat in place) for whole in product(*choices)]
    most = {o.judge: o.max_minutes for o in show["judges"]}
    return [
        panel
        for panel in panels
        if all(most[judge] is None or spent(show, panel, judge) <= most[judge] for judge in most)
    ]


def spent(show: dict[str, Any], panel: Counter[tuple[Any, str]], judge: Any) -> int:
    return sum(n * show["minutes"][s] for (j, s), n in panel.items() if j == judge)


@given(small_days())
@settings(max_examples=150, deadline=None)
def test_minutes_are_kept_and_balanced_as_no_other_panel_could(show: dict[str, Any]) -> None:
    panels = every_panel(show)
    if not panels:
        with pytest.raises(PanelImpossible):
            draw(**show)
        return
    judges = [offer.judge for offer in show["judges"]]

    def squares(panel: Counter[tuple[Any, str]]) -> int:
        if show["balance_by"] == "minutes":
            return sum(spent(show, panel, judge) ** 2 for judge in judges)
        return sum(sum(n for (j, _), n in panel.items() if j == judge) ** 2 for judge in judges)

    drawn = draw(**show)
    ours = Counter((seat.judge, seat.section) for seat in drawn.seats)
    assert all(
        offer.max_minutes is None or spent(show, ours, offer.judge) <= offer.max_minutes
        for offer in show["judges"]
    )
    assert drawn.balance.by == show["balance_by"]
    assert squares(ours) == drawn.balance.squares == min(map(squares, panels))
    assert drawn.balance.bound <= drawn.balance.squares
    assert drawn.loads == {j: sum(n for (k, _), n in ours.items() if k == j) for j in judges}


def test_a_judge_who_is_away_all_day_gets_nothing_and_is_named_where_it_matters() -> None:
    away = JudgeOffer("Harlan", frozenset({"Harness"}), max_minutes=0)
    cole = JudgeOffer("Cole", frozenset({"Harness"}))
    asked: dict[str, Any] = {
        "entries": [1, 2],
        "entry_sections": dict.fromkeys([1, 2], ("Harness",)),
        "judges": [away, cole],
        "seed": 0,
        "minutes": {"Harness": 9},
    }
    assert draw(**asked, judges_per_section={"Harness": 1}).loads == {"Harlan": 0, "Cole": 2}
    with pytest.raises(PanelImpossible, match="there for 0 minutes, at most 0 seats"):
        draw(**asked, judges_per_section={"Harness": 2})


def test_looks_too_long_for_the_minutes_say_so() -> None:
    with pytest.raises(PanelImpossible, match=r"A 8 minutes and B 8 minutes"):
        draw(
            entries=[1, 2],
            entry_sections=dict.fromkeys([1, 2], ("Fire", "Harness")),
            judges=[JudgeOffer(n, frozenset({"Fire", "Harness"}), max_minutes=8) for n in "AB"],
            judges_per_section={"Fire": 1, "Harness": 1},
            seed=0,
            minutes={"Fire": 3, "Harness": 6},
        )
