"""Studentized residuals and the line they must cross."""

import math

import numpy as np
import pytest
from scipy.stats import t as student

from judging.rules.results.thresholds import bonferroni_threshold, studentized


def test_studentized_edges() -> None:
    assert np.isnan(studentized([0.0, 1.0], [1.0, 0.5], 4.0, 3)).tolist() == [True, False]
    assert np.isnan(studentized([1.0, -1.0], [0.5, 0.5], 2.0, 1)).all()
    assert studentized([0.0, 0.0], [0.5, 0.5], 0.0, 5).tolist() == [0.0, 0.0]
    assert studentized([-1.0, 0.0], [0.5, 0.5], 2.0, 3).tolist() == [-math.inf, 0.0]


@pytest.mark.parametrize(("alpha", "n", "df"), [(0.05, 1800, 1120), (0.01, 9, 4), (0.2, 14400, 2)])
def test_threshold_is_bonferronis(alpha: float, n: int, df: int) -> None:
    threshold = bonferroni_threshold(alpha, n, df)
    assert 2 * n * student.sf(threshold, df - 1) == pytest.approx(alpha, rel=1e-6)


@pytest.mark.parametrize(("n", "df"), [(0, 5), (5, 1)])
def test_nothing_to_check_crosses_no_line(n: int, df: int) -> None:
    assert bonferroni_threshold(0.05, n, df) == math.inf
