"""Agreement where every wagon has its own panel."""

from __future__ import annotations

import math

import numpy as np
import pytest

from judging.rules.results.agreement import icc
from judging.rules.results.agreement_rotating import icc_rotating

# Shrout, P. E. & Fleiss, J. L., Psychological Bulletin 86, 1979, table 2: six targets, four judges;
# the paper prints ICC(2,1) = .29.
SHROUT_FLEISS: list[list[float]] = [
    [9, 2, 5, 8],
    [6, 1, 3, 2],
    [8, 4, 6, 8],
    [7, 1, 2, 6],
    [10, 5, 6, 9],
    [6, 2, 4, 7],
]


def long(table: list[list[float]]) -> tuple[list[int], list[int], list[float]]:
    entry, judge = np.indices(np.shape(table))
    return list(entry.ravel()), list(judge.ravel()), list(np.ravel(table))


def test_a_complete_panel_gives_the_printed_figure() -> None:
    found = icc_rotating(*long(SHROUT_FLEISS))
    assert round(found.value, 2) == 0.29
    assert found.value == pytest.approx(icc(SHROUT_FLEISS).agreement_single.value, abs=1e-4)
    assert 0 <= found.low < found.value < found.high < 1


def test_judges_who_share_no_wagon_cannot_be_told() -> None:
    entry = [n for n in range(8) for _ in range(2)]
    judge = [n // 4 * 2 + k for n in range(8) for k in range(2)]
    score = [float(5 + (3 * n + k) % 4) for n in range(8) for k in range(2)]
    assert math.isnan(icc_rotating(entry, judge, score).value)


@pytest.mark.parametrize("n", [1, 3])
def test_few_wagons_cannot_be_told(n: int) -> None:
    assert math.isnan(icc_rotating(*long(SHROUT_FLEISS[:n])).value)


def test_one_judge_cannot_be_told() -> None:
    assert math.isnan(icc_rotating(range(6), [1] * 6, [5.0, 6, 7, 8, 9, 4]).value)


def test_marks_all_equal_cannot_be_told() -> None:
    entry, judge, score = long(SHROUT_FLEISS)
    assert math.isnan(icc_rotating(entry, judge, [5.0] * len(score)).low)


def test_a_mark_that_is_no_number_is_refused() -> None:
    entry, judge, score = long(SHROUT_FLEISS)
    with pytest.raises(ValueError, match="finite"):
        icc_rotating(entry, judge, [math.nan, *score[1:]])


def test_the_interval_holds_the_truth_as_often_as_is_said() -> None:
    rng = np.random.default_rng(7)
    held, shows, wagons = 0, 40, 10
    of_wagons, of_judges, of_rest = 1.0, 0.3, 0.6
    for _ in range(shows):
        merit = rng.normal(0, math.sqrt(of_wagons), wagons)
        severity = rng.normal(0, math.sqrt(of_judges), 5)
        cards = [(n, int(j)) for n in range(wagons) for j in rng.permutation(5)[:3]]
        score = [merit[n] + severity[j] + rng.normal(0, math.sqrt(of_rest)) for n, j in cards]
        found = icc_rotating([n for n, _ in cards], [j for _, j in cards], score)
        held += found.low <= of_wagons / (of_wagons + of_judges + of_rest) <= found.high
    assert held >= 0.85 * shows


def test_four_wagons_are_enough_to_tell() -> None:
    found = icc_rotating(*long(SHROUT_FLEISS[:4]))
    assert found.value == pytest.approx(icc(SHROUT_FLEISS[:4]).agreement_single.value, abs=1e-4)


@pytest.mark.parametrize("which", ["entry", "judge"])
def test_every_mark_needs_its_wagon_and_its_judge(which: str) -> None:
    entry, judge, score = long(SHROUT_FLEISS)
    short = {"entry": entry, "judge": judge}
    short[which] = short[which][:-1]
    with pytest.raises(ValueError, match=f"24 scores but 23 {which} labels"):
        icc_rotating(short["entry"], short["judge"], score)
