"""Tests for long lists, and their refusal of short ones."""

from typing import Any

import numpy as np
import pytest
from scipy.stats import binom

from judging.rules.results.checks import grubbs, mandel
from judging.rules.results.long_lists import grubbs_limit, largest_possible


def test_a_panel_is_too_short_a_list_whatever_its_marks() -> None:
    found = grubbs([7, 7, 1])
    assert not found.flagged
    assert found.refused is not None and "none can lie more than 1.15" in found.refused
    assert found.statistic > found.threshold  # which is why: any odd third mark would be flagged


def test_a_list_long_enough_is_tested() -> None:
    rng = np.random.default_rng(2)
    values = rng.normal(20, 3, 20)
    assert not grubbs(values).flagged
    values[7] += 30
    found = grubbs(values)
    assert (found.flagged, found.position, found.refused) == (True, 7, None)


def test_false_alarms_of_a_long_list_are_as_stated() -> None:
    rng, lists = np.random.default_rng(3), 1000
    alarms = sum(grubbs(rng.normal(size=18)).flagged for _ in range(lists))
    assert binom.ppf(0.001, lists, 0.05) <= alarms <= binom.ppf(0.999, lists, 0.05)


def test_lists_without_spread_and_lone_values_are_refused_in_words() -> None:
    assert grubbs([5.0] * 20).refused == "All values are the same."
    assert np.isnan(grubbs([5.0] * 20).statistic)
    assert grubbs([5.0]).refused == "Too short a list."


def test_few_judges_can_show_nothing_by_h() -> None:
    few = mandel([[7, 8], [7, 7], [1, 2]])
    assert few.refused is not None and "of 3 none can lie more than 1.15" in few.refused
    assert few.h_limit > 0.99 * largest_possible(3)
    assert mandel(np.arange(12.0).reshape(6, 2)).refused is None


def test_judges_without_spread_give_no_number() -> None:
    found = mandel([[7, 7], [6, 6], [8, 8]])
    assert np.isnan(found.k).all() and np.isnan(found.cochran)
    assert not np.isnan(found.h).any()
    assert np.isnan(mandel([[7, 6], [7, 6], [6, 7]]).h).all()


def test_cochrans_limit_holds_for_all_judges_together() -> None:
    rng, shows = np.random.default_rng(8), 1500
    tables = rng.normal(size=(shows, 6, 4))
    alarms = 0
    for table in tables:
        found = mandel(table)
        alarms += found.cochran > found.cochran_limit
    assert binom.ppf(0.001, shows, 0.045) <= alarms <= binom.ppf(0.999, shows, 0.05)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: grubbs([1, 2, np.nan]), "not a finite number"),
        (lambda: grubbs([]), "no scores"),
        (
            lambda: grubbs([1, 2, 3], alpha=0),
            r"^The false-alarm rate alpha must lie between 0 and 1\.$",
        ),
        (lambda: grubbs_limit(2, 0.05), "at least three"),
        (lambda: largest_possible(1), "two values"),
        (lambda: mandel([[1, 2], [3, 4]]), "three judges"),
        (lambda: mandel([[1], [2], [3]]), "three judges"),
        (lambda: mandel([[1.0, 2.0], [3.0, 4.0], [5.0, np.inf]]), "no finite number"),
        (lambda: mandel([[1, 2], [3, 4], [5, 6]], alpha=1), "between 0 and 1"),
    ],
)
def test_unusable_lists_are_refused(call: Any, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        call()
