"""Every way to make totals: crossed effects, and that none of them stumbles over bad input."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.models.scorecard import METHODS as NAMED
from judging.rules.results.crossed_totals import crossed
from judging.rules.results.methods import METHODS, SAID, WHEN
from judging.rules.results.section_points import SectionPoints
from judging.rules.results.totals import judge_adjusted, plain

Cards = list[SectionPoints[str]]
HUNDREDTHS = st.integers(0, 6000).map(lambda cents: Decimal(cents) / 100)


def cards(section: str, wrote: Mapping[str, Mapping[str, object]]) -> Cards:
    return [
        SectionPoints(entry, judge, section, Decimal(str(points)))
        for entry, row in wrote.items()
        for judge, points in row.items()
    ]


def rotating(n: int, judges: int, each: int, seed: int, habit: float = 3.0) -> Cards:
    """Entries of known worth, judges of known habit, each entry seen by some of them in turn."""
    rng = np.random.default_rng(seed)
    worth, habits = rng.normal(35, 4, n), rng.normal(0, habit, judges)
    return [
        SectionPoints(
            f"E{i}",
            f"J{(i + k) % judges}",
            "trail",
            Decimal(f"{worth[i] + habits[(i + k) % judges] + rng.normal(0, 1):.2f}"),
        )
        for i in range(n)
        for k in range(each)
    ]


def test_every_method_a_class_can_declare_is_there_with_its_words() -> None:
    assert list(METHODS) == [name for name, _ in NAMED] == list(WHEN) == list(SAID)
    assert all("Use it when" in words for words in WHEN.values() if "four" not in words)


def test_a_habit_is_taken_off_only_as_far_as_it_is_proved() -> None:
    points = rotating(12, 4, 2, seed=3)
    entries = [f"E{i}" for i in range(12)]
    least = judge_adjusted(points, entries, ["trail"], {"trail": 2}).judge_effects["trail"]
    best = crossed(points, entries, ["trail"], {"trail": 2}).judge_effects["trail"]
    assert max(abs(effect) for effect in best.values()) < max(map(abs, least.values()))
    assert sum(best.values()) == pytest.approx(0.0, abs=1e-6)


def test_a_total_is_the_marks_less_the_habits_that_are_told() -> None:
    points = rotating(10, 4, 2, seed=5)
    found = crossed(points, [f"E{i}" for i in range(10)], ["trail"], {"trail": 2})
    for entry, total in found.complete.items():
        mine = [card for card in points if card.entry == entry]
        habits = sum(found.judge_effects["trail"][card.judge] for card in mine)
        assert float(total) == pytest.approx(
            float(sum(card.points for card in mine)) - habits, abs=0.0051
        )


def test_judges_who_differ_by_chance_alone_are_left_as_they_are() -> None:
    """No habit at all: the variance of judges comes out at nought, and nothing is taken off."""
    wrote = {"A": {"X": 10, "Y": 12}, "B": {"Y": 20, "Z": 18}, "C": {"Z": 30, "X": 30},
             "D": {"X": 16, "Y": 14}, "E": {"Y": 24, "Z": 26}, "F": {"Z": 33, "X": 33}}  # fmt: skip
    points = cards("trail", wrote)
    found = crossed(points, list(wrote), ["trail"], {"trail": 2})
    assert set(found.judge_effects["trail"].values()) == {0.0}
    assert found.total == plain(points, list(wrote), ["trail"], {"trail": 2}).total


@given(st.lists(st.lists(HUNDREDTHS, min_size=3, max_size=3), min_size=2, max_size=6))
@settings(max_examples=40, deadline=None)
def test_where_every_judge_saw_every_entry_it_is_the_plain_total(
    drawn: list[list[Decimal]],
) -> None:
    points = cards(
        "trail",
        {f"E{n}": dict(zip("XYZ", row, strict=True)) for n, row in enumerate(drawn)},
    )
    entries = [f"E{n}" for n in range(len(drawn))]
    found = crossed(points, entries, ["trail"], {"trail": 3})
    if found.refused is None:
        assert found.total == plain(points, entries, ["trail"], {"trail": 3}).total


@given(seed=st.integers(0, 10_000), order=st.randoms(use_true_random=False))
@settings(max_examples=25, deadline=None)
def test_the_order_in_which_marks_come_does_not_matter(seed: int, order: object) -> None:
    points, entries = rotating(8, 4, 2, seed), [f"E{i}" for i in range(8)]
    shuffled = list(points)
    order.shuffle(shuffled)  # type: ignore[attr-defined]
    for method in METHODS.values():
        before = method(points, entries, ["trail"], {"trail": 2})
        after = method(shuffled, entries[::-1], ["trail"], {"trail": 2})
        assert before.total == after.total
        assert (before.refused is None) is (after.refused is None)


SEEN_BY_TWO = {"A": {"X": 5, "Y": 7}, "B": {"Y": 6, "Z": 8}, "C": {"Z": 4, "X": 3}}


@pytest.mark.parametrize(
    ("wrote", "need", "sentence"),
    [
        ({"A": {"X": 5}, "B": {"X": 7}}, 1, "one judge alone gave marks"),
        (
            {"A": {"X": 5, "Y": 7}, "B": {"Y": 6, "X": 8},
             "C": {"U": 4, "V": 3}, "D": {"V": 5, "U": 6}},
            2,
            "No judge links these groups of entries: A, B; C, D.",
        ),
        ({"A": {"X": 5}, "B": {"Y": 7}}, 1, "No judge links"),
    ],
)  # fmt: skip
def test_crossed_effects_are_refused_in_a_sentence(
    wrote: dict[str, dict[str, int]], need: int, sentence: str
) -> None:
    found = crossed(cards("trail", wrote), list(wrote), ["trail"], {"trail": need})
    assert found.refused is not None
    assert found.refused.startswith("Crossed effects cannot be told")
    assert sentence in found.refused
    assert found.total == dict.fromkeys(wrote)


@pytest.mark.parametrize(
    "wrote", [{"A": {"X": 5, "Y": 7}}, {"A": {"X": 5, "Y": 5}, "B": {"X": 5, "Y": 5}}]
)
def test_where_nothing_favours_anybody_crossed_effects_leave_the_plain_sum(
    wrote: dict[str, dict[str, int]],
) -> None:
    """Wagons that leave the show, or judges all content, do not cost a class its result."""
    points = cards("trail", wrote)
    found = crossed(points, list(wrote), ["trail"], {"trail": 2})
    assert found.refused is None
    assert found.total == plain(points, list(wrote), ["trail"], {"trail": 2}).total


def test_a_section_of_one_judge_or_of_one_mark_stays_as_it_is() -> None:
    points = cards("trail", SEEN_BY_TWO)
    points += [SectionPoints(entry, "K", "food", Decimal(5)) for entry in SEEN_BY_TWO]
    points += [SectionPoints(e, j, "safe", Decimal(9)) for e in SEEN_BY_TWO for j in "XY"]
    need = {"trail": 2, "food": 1, "safe": 2}
    found = crossed(points, list(SEEN_BY_TWO), list(need), need)
    assert found.refused is None
    assert set(found.judge_effects) == {"trail"}
    assert {row["food"] for row in found.by_section.values()} == {Decimal("5.00")}
    assert {row["safe"] for row in found.by_section.values()} == {Decimal("18.00")}


@pytest.mark.parametrize("name", METHODS)
@pytest.mark.parametrize(
    ("wrote", "need"),
    [
        ({"A": {"X": 5}}, 1),
        ({"A": {"X": 0, "Y": 0}, "B": {"X": 0, "Y": 0}}, 2),
        ({"A": {"X": 5}, "B": {"Y": 7}}, 1),
        ({"A": {"W": 1, "X": 2, "Y": 3, "Z": 4}}, 4),
        ({}, 1),
    ],
)
def test_small_and_flat_classes_give_totals_or_a_sentence(
    name: str, wrote: dict[str, dict[str, int]], need: int
) -> None:
    found = METHODS[name](cards("trail", wrote), list(wrote), ["trail"], {"trail": need})
    if found.refused is None:
        assert len(found.complete) == len(wrote)
        assert all(total.is_finite() for total in found.complete.values())
    else:
        assert found.refused.endswith(".") and not found.complete


@pytest.mark.parametrize("name", METHODS)
@pytest.mark.parametrize("bad", ["NaN", "Infinity", "-Infinity", "sNaN", "0.001"])
def test_no_method_takes_what_is_no_number(name: str, bad: str) -> None:
    points = cards("trail", SEEN_BY_TWO)
    points[0] = replace(points[0], points=Decimal(bad))
    with pytest.raises(ValueError, match=r"points must be rounded to 0\.01"):
        METHODS[name](points, list(SEEN_BY_TWO), ["trail"], {"trail": 2})
