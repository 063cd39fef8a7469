"""How far judges agree."""

from itertools import combinations
from typing import Any

import krippendorff
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import friedmanchisquare

from judging.rules.results.agreement import icc, kendall_w, krippendorff_alpha
from judging.rules.results.effects import fit_crossed

TABLES = st.tuples(st.integers(3, 8), st.integers(2, 5), st.integers(0, 2**32 - 1))


def table_of(drawn: tuple[int, int, int]) -> Any:
    n, k, seed = drawn
    rng = np.random.default_rng(seed)
    return np.rint(rng.normal(5, 2, (n, 1)) + rng.normal(0, 1, (1, k)) + rng.normal(0, 1, (n, k)))


@given(TABLES, st.floats(0.1, 50), st.floats(-100, 100))
@settings(deadline=None)
def test_scale_severity_and_order_of_judges_leave_consistency_alone(
    drawn: tuple[int, int, int], scale: float, shift: float
) -> None:
    table = table_of(drawn)
    before = icc(table)
    if before.cannot_tell:
        return
    moved = scale * (table + shift * np.arange(table.shape[1]))[:, ::-1]
    after = icc(moved)
    assert after.consistency_single.value == pytest.approx(
        before.consistency_single.value, abs=1e-6, nan_ok=True
    )
    assert kendall_w(moved).w == pytest.approx(kendall_w(table).w, nan_ok=True)


@given(TABLES)
@settings(deadline=None)
def test_w_is_friedmans_statistic_and_the_mean_rank_correlation(
    drawn: tuple[int, int, int],
) -> None:
    table = table_of(drawn)
    found = kendall_w(table)
    spreads = np.ptp(table, axis=0)
    if found.cannot_tell or (spreads == 0).any():
        return
    assert found.chi2 == pytest.approx(friedmanchisquare(*table).statistic)
    assert 0 <= found.w <= 1 + 1e-12
    if all(np.unique(column).size == len(column) for column in table.T):
        ranks = np.argsort(np.argsort(table, axis=0), axis=0)
        k = table.shape[1]
        two = combinations(range(k), 2)
        pairs = [np.corrcoef(ranks[:, a], ranks[:, b])[0, 1] for a, b in two]
        assert np.mean(pairs) == pytest.approx((k * found.w - 1) / (k - 1))


def test_agreement_is_the_share_of_variance_that_is_the_entries() -> None:
    table = table_of((8, 4, 12))
    entry, judge = (axis.ravel() for axis in np.indices(table.shape))
    fit = fit_crossed(entry, judge, table.ravel())
    whole = fit.variance_entry + fit.variance_judge + fit.variance_residual
    assert min(fit.variance_entry, fit.variance_judge) > 0
    assert icc(table).agreement_single.value == pytest.approx(fit.variance_entry / whole, rel=1e-3)


def test_intervals_of_agreement_cover_the_truth() -> None:
    """300 panels of 12 entries and 4 judges; both intervals at 95 %."""
    rng, shows = np.random.default_rng(4), 300
    truth = 1.0 / (1.0 + 0.5)
    hit = 0
    for _ in range(shows):
        table = rng.normal(0, 1, (12, 1)) + rng.normal(0, 0.7, (1, 4))
        found = icc(table + rng.normal(0, np.sqrt(0.5), (12, 4))).consistency_single
        hit += found.low <= truth <= found.high
    assert 0.91 <= hit / shows <= 0.985


def test_full_agreement_is_one() -> None:
    table = np.arange(5.0)[:, None] + np.zeros(3)
    found = icc(table)
    assert (found.agreement_single.value, found.consistency_mean.value) == (1, 1)
    assert found.f_two_way == np.inf
    assert kendall_w(table).w == pytest.approx(1)
    assert krippendorff_alpha(table).value == pytest.approx(1)


def test_missing_marks_are_left_out_of_alpha() -> None:
    table = np.array([[1, 1, np.nan], [2, 2, 2], [np.nan, 3, 3], [4, np.nan, np.nan]])
    found = krippendorff_alpha(table)
    assert found.n_pairable == 7
    assert found.value == pytest.approx(1)


@pytest.mark.parametrize("level", ["nominal", "ordinal", "interval", "ratio"])
@pytest.mark.parametrize("seed", range(5))
def test_alpha_is_what_a_library_for_it_gives(level: Any, seed: int) -> None:
    rng = np.random.default_rng(seed)
    table = rng.integers(0, 8, size=(14, 4)).astype(float) + rng.integers(0, 6, size=(14, 1))
    table[rng.random(table.shape) < 0.25] = np.nan
    expected = krippendorff.alpha(reliability_data=table.T, level_of_measurement=level)
    assert krippendorff_alpha(table, level).value == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    ("table", "sentence"),
    [
        ([[5], [6], [7]], "One judge alone"),
        ([[5, 6, 7]], "One entry alone"),
        ([[7, 7], [7, 7], [7, 7]], "All marks are the same"),
    ],
)
def test_what_cannot_be_told_is_said(table: Any, sentence: str) -> None:
    found, order = icc(table), kendall_w(table)
    assert found.cannot_tell is not None and order.cannot_tell is not None
    assert sentence in found.cannot_tell and sentence in order.cannot_tell
    assert np.isnan(found.agreement_single.value) and np.isnan(order.w)


def test_judges_who_tell_no_entries_apart() -> None:
    found = kendall_w([[5, 7], [5, 7], [5, 7]])
    assert found.cannot_tell is not None and "no order" in found.cannot_tell
    assert krippendorff_alpha([[7, 7], [7, 7]]).cannot_tell is not None
    lone = krippendorff_alpha([[7, np.nan], [np.nan, 6]])
    assert lone.cannot_tell is not None and "rated by two judges" in lone.cannot_tell


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_unusable_ratings_are_refused(bad: float) -> None:
    table = [[1.0, 2.0], [3.0, bad], [2.0, 2.0]]
    for measure in (icc, kendall_w):
        with pytest.raises(ValueError, match="entry number 2 by judge number 2"):
            measure(table)
    if not np.isnan(bad):
        with pytest.raises(ValueError, match="entry number 2"):
            krippendorff_alpha(table)


def test_other_shapes_and_levels_are_refused() -> None:
    for measure in (icc, kendall_w, krippendorff_alpha):
        with pytest.raises(ValueError, match="must be a table"):
            measure([1, 2, 3])
        with pytest.raises(ValueError, match="must be a table"):
            measure([[]])
    with pytest.raises(ValueError, match="is no level"):
        krippendorff_alpha([[1, 2], [2, 2]], "cardinal")  # type: ignore[arg-type]
    many = np.random.default_rng(1).normal(size=(2000, 3))
    with pytest.raises(ValueError, match="Too many different marks"):
        krippendorff_alpha(many)
