"""Exchanged cards; how often they are found is in test_panel_checks.py."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from judging.rules.results.cards import card_table
from judging.rules.results.panel import analyse, read_marks
from judging.rules.results.swaps import Swaps, swapped_cards
from tests.rules.results.clean_show import REALISTIC, clean_show, places

Floats = NDArray[np.float64]


def swaps_of(score: Floats, keep: NDArray[np.bool_] | None = None) -> Swaps:
    entry, judge, row = places(score.shape)  # type: ignore[arg-type]
    kept = np.ones(entry.size, dtype=bool) if keep is None else keep
    marks = read_marks(entry[kept], judge[kept], row[kept], score.ravel()[kept])
    return swapped_cards(card_table(analyse(marks)))


def swapped(rng: np.random.Generator, shape: tuple[int, int, int]) -> Floats:
    score = clean_show(rng, shape, REALISTIC)
    score[[2, 8], 1] = score[[8, 2], 1]
    return score


def test_the_judge_and_both_wagons_are_named_with_their_odds() -> None:
    found = swaps_of(swapped(np.random.default_rng(1), (12, 4, 40)))
    (swap,) = found.flagged
    assert (swap.judge, swap.first, swap.second, swap.pair) == (1, 2, 8, False)
    assert swap.log_odds > math.log(20)
    assert swap.statistic > swap.threshold == found.threshold
    assert found.n_checked == 4 * 12 * 11 / 2


def test_exchanging_them_back_ends_it() -> None:
    score = swapped(np.random.default_rng(1), (12, 4, 40))
    score[[2, 8], 1] = score[[8, 2], 1]
    assert swaps_of(score).flagged == ()


def test_severity_of_judges_and_levels_of_rows_do_not_matter() -> None:
    rng = np.random.default_rng(1)
    score = swapped(rng, (12, 4, 40))
    moved = score + rng.normal(0, 3, (1, 4, 40))
    before, after = swaps_of(score).flagged[0], swaps_of(moved).flagged[0]
    assert after.log_odds == pytest.approx(before.log_odds, rel=1e-6)


def test_it_is_found_in_an_incomplete_panel_with_rows_that_do_not_apply() -> None:
    score = swapped(np.random.default_rng(3), (12, 5, 40))
    entry, judge, row = places((12, 5, 40))
    # Three of five judges a wagon; the first three rows do not apply to every other wagon.
    keep = ((judge - entry) % 5 < 3) | ((judge == 1) & np.isin(entry, (2, 8)))
    keep &= (row > 2) | (entry % 2 == 0)
    found = swaps_of(score, keep)
    assert [(swap.judge, swap.first, swap.second) for swap in found.flagged] == [(1, 2, 8)]


def test_two_exchanges_are_both_found() -> None:
    score = swapped(np.random.default_rng(4), (14, 4, 40))
    score[[5, 11], 3] = score[[11, 5], 3]
    found = {(swap.judge, swap.first, swap.second) for swap in swaps_of(score).flagged}
    assert found == {(1, 2, 8), (3, 5, 11)}


@pytest.mark.parametrize("shape", [(8, 1, 20), (1, 3, 20), (8, 3, 4)])
def test_too_little_to_check(shape: tuple[int, int, int]) -> None:
    found = swaps_of(clean_show(np.random.default_rng(5), shape, REALISTIC))
    assert (found.flagged, found.threshold, found.n_checked) == ((), math.inf, 0)


def test_marks_that_fit_exactly_are_no_exchange() -> None:
    entry, judge, row = places((6, 3, 8))
    assert swaps_of((entry + judge + row).reshape(6, 3, 8).astype(float)).flagged == ()


def test_wagons_which_the_panel_saw_alike_are_no_exchange_however_odd_the_judge() -> None:
    """The judge's rows lean strongly the other way, but there is next to nothing to exchange."""
    rng = np.random.default_rng(9)
    score = rng.normal(6, 1.2, (20, 1, 1)) + rng.normal(0, 0.6, (20, 1, 30))
    score = score + rng.normal(0, 0.8, (20, 3, 30))
    tiny = 0.05 * rng.choice([-1.0, 1.0], 30)
    score[5, 1:] = score[4, 1:] - 2 * tiny
    alike = score[[4, 5], 1:].mean(axis=(0, 1))
    score[4, 0], score[5, 0] = alike - 9 * tiny, alike + 9 * tiny
    assert swaps_of(score).flagged == ()
