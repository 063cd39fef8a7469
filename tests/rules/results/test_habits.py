"""Severity, spread, drift and order; how often they are found is in test_panel_checks.py."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import t as student

from judging.rules.results.cards import CardTable, card_table
from judging.rules.results.habits import drift, order_effect, severity, spread
from judging.rules.results.panel import analyse, read_marks
from tests.rules.results.clean_show import PLAIN, REALISTIC, clean_show, places

Floats = NDArray[np.float64]


def table_of(score: Floats) -> CardTable:
    return card_table(analyse(read_marks(*places(score.shape), score.ravel())))  # type: ignore[arg-type]


def test_severity_is_the_distance_from_the_panel() -> None:
    score = clean_show(np.random.default_rng(1), (12, 4, 20), REALISTIC)
    found = severity(table_of(score))
    means = score.mean(axis=(0, 2)) - score.mean()
    np.testing.assert_allclose([habit.size for habit in found.judges], means)
    assert sum(habit.size for habit in found.judges) == pytest.approx(0)


def test_severity_intervals_cover_the_truth() -> None:
    """120 shows of three judges; the truth is what the judge has in the long run."""
    rng, hit, shape = np.random.default_rng(2), [], (15, 3, 40)
    for _ in range(120):
        strict = rng.normal(0, 0.5, 3)
        score = clean_show(rng, shape, REALISTIC, severity=0.0) + strict[:, None]
        found = severity(table_of(score)).judges
        hit += [h.low <= s - strict.mean() <= h.high for h, s in zip(found, strict, strict=True)]
    assert np.mean(hit) >= 0.92


def test_spread_is_joint_regression() -> None:
    """Size less 1 is the slope of the judge's deviations on the wagons' means, over (1 - 1/J)."""
    score = clean_show(np.random.default_rng(3), (15, 3, 20), REALISTIC)
    means = score.mean(axis=2)
    merit = means.mean(axis=1) - means.mean()
    left = means - means.mean(axis=1, keepdims=True) - means.mean(axis=0) + means.mean()
    for judge, habit in enumerate(spread(table_of(score)).judges):
        slope = merit @ left[:, judge] / (merit @ merit) / (1 - 1 / 3)
        assert habit.size == pytest.approx(1 + slope)
        assert habit.low < habit.size < habit.high


def test_the_thresholds_are_students() -> None:
    table = table_of(clean_show(np.random.default_rng(4), (15, 3, 20), PLAIN))
    found = spread(table, alpha=0.1)
    assert found.threshold == pytest.approx(student.isf(0.9 * 0.1 / 6, table.df - 1))


def test_two_judges_mirror_each_other_in_severity_and_spread_only() -> None:
    rng = np.random.default_rng(5)
    table = table_of(clean_show(rng, (12, 2, 20), PLAIN))
    assert severity(table).pair and spread(table).pair
    walks = np.stack([rng.permutation(12), rng.permutation(12)], axis=1).ravel() * 12.0
    assert not drift(table, walks).pair
    assert drift(table, 12.0 * table.entry).pair


def test_drift_is_per_hour_and_does_not_mind_when_the_day_begins() -> None:
    rng = np.random.default_rng(6)
    score = clean_show(rng, (12, 3, 20), PLAIN)
    table = table_of(score)
    minute = 12.0 * rng.permutation(36)
    before, after = drift(table, minute), drift(table, 2 * minute + 540)
    for one, other in zip(before.judges, after.judges, strict=True):
        assert other.size == pytest.approx(one.size / 2)
        assert other.statistic == pytest.approx(one.statistic)
    hours = (minute / 60).reshape(12, 3)
    score = score + 0.7 * (hours * (np.arange(3) == 2))[:, :, None]
    moved = drift(table_of(score), minute)
    assert moved.judges[2].size == pytest.approx(before.judges[2].size + 0.7)


def test_a_walk_in_one_order_hides_what_order_does() -> None:
    table = table_of(clean_show(np.random.default_rng(7), (12, 3, 20), PLAIN))
    together = order_effect(table, 12.0 * table.entry)
    assert math.isnan(together.size) and not together.flagged
    apart = order_effect(table, 12.0 * np.random.default_rng(8).permutation(36))
    assert apart.low < apart.size < apart.high


@pytest.mark.parametrize("shape", [(6, 1, 5), (1, 3, 5), (2, 2, 2)])
def test_too_little_to_tell(shape: tuple[int, int, int]) -> None:
    table = table_of(clean_show(np.random.default_rng(9), shape, PLAIN))
    for found in (severity(table), spread(table), drift(table, 1.0 * table.entry)):
        assert [habit.flagged for habit in found.judges] == [False] * shape[1]
        assert all(math.isnan(habit.size) for habit in found.judges)
