"""Steadiness and sameness; how often they are found is in test_panel_checks.py."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from judging.rules.results.behaviour import consistency, same_marks, tiring
from judging.rules.results.cards import CardTable, card_table
from judging.rules.results.panel import analyse, read_marks
from tests.rules.results.clean_show import PLAIN, clean_show, places

Floats = NDArray[np.float64]


def table_of(score: Floats) -> CardTable:
    return card_table(analyse(read_marks(*places(score.shape), score.ravel())))  # type: ignore[arg-type]


def noisy(rng: np.random.Generator, noise: Floats, shape: tuple[int, int, int]) -> CardTable:
    return table_of(rng.normal(6, 1, (shape[0], 1, 1)) + rng.normal(size=shape) * noise)


def test_consistency_is_the_ratio_of_noise_to_that_of_the_others() -> None:
    rng, found = np.random.default_rng(1), []
    noise = np.array([0.4, 0.8, 1.2, 0.8])
    for _ in range(30):
        table = noisy(rng, noise[:, None], (15, 4, 20))
        found.append([habit.size**2 for habit in consistency(table).judges])
    square = noise**2
    others = (square.sum() - square) / 3
    np.testing.assert_allclose(np.mean(found, axis=0), square / others, rtol=0.08, atol=0.02)


def test_liking_a_whole_wagon_is_no_unsteadiness() -> None:
    rng = np.random.default_rng(2)
    score = rng.normal(6, 1, (15, 1, 1)) + rng.normal(0, 0.8, (15, 4, 30))
    score[:, 2] += rng.normal(0, 2, (15, 1))
    assert not any(habit.flagged for habit in consistency(table_of(score)).judges)


def test_two_judges_cannot_be_told_apart_by_steadiness() -> None:
    found = consistency(noisy(np.random.default_rng(3), np.array([[0.2], [2.0]]), (15, 2, 20)))
    assert all(math.isnan(habit.size) and not habit.flagged for habit in found.judges)


def test_tiring_is_the_ratio_of_late_to_early() -> None:
    rng, shape, found = np.random.default_rng(4), (16, 3, 20), []
    late = np.where(np.arange(16) >= 8, 2.0, 1.0)[:, None, None]
    for _ in range(30):
        table = noisy(rng, late, shape)
        found.append([habit.size for habit in tiring(table, 10.0 * table.entry).judges])
    np.testing.assert_allclose(np.mean(found, axis=0), 2.0, rtol=0.1)
    habit = tiring(table, 10.0 * table.entry).judges[0]
    assert habit.low < habit.size < habit.high
    back = tiring(table, -10.0 * table.entry).judges[0]
    assert back.size == pytest.approx(1 / habit.size)
    assert back.statistic == pytest.approx(-habit.statistic)


def test_a_uniform_card_among_uniform_cards_is_let_be() -> None:
    rng = np.random.default_rng(5)
    score = clean_show(rng, (8, 3, 20), PLAIN)
    score[3] = 6
    assert same_marks(table_of(score)) == ()
    score[3, 1] = clean_show(rng, (1, 1, 20), PLAIN)[0, 0]
    assert {(card.judge, card.entry) for card in same_marks(table_of(score))} == {(0, 3), (2, 3)}


def test_a_judge_who_gives_one_mark_to_all_is_named_on_every_card() -> None:
    score = clean_show(np.random.default_rng(6), (8, 3, 20), PLAIN)
    score[:, 0] = 8
    found = same_marks(table_of(score))
    assert {(card.judge, card.entry) for card in found} == {(0, entry) for entry in range(8)}


def test_short_cards_and_lone_judges_are_not_looked_at() -> None:
    for shape in ((8, 3, 7), (8, 1, 20)):
        score = clean_show(np.random.default_rng(7), shape, PLAIN)
        score[0, 0] = 7
        assert same_marks(table_of(score)) == ()


def test_too_little_to_tell() -> None:
    table = table_of(clean_show(np.random.default_rng(8), (4, 3, 3), PLAIN))
    for found in (consistency(table), tiring(table, 1.0 * table.entry)):
        assert all(math.isnan(habit.size) and not habit.flagged for habit in found.judges)
