"""Noise levels of judges."""

import numpy as np
import pytest

from judging.rules.results.panel import Analysis, analyse, read_marks
from judging.rules.results.steadiness import careful_variances, own_scale, steadiness
from tests.rules.results.clean_show import places

TRUE = np.array([0.3, 0.8, 1.5, 0.6]) ** 2


def panel(rng: np.random.Generator, keep: float = 1.0, judges: int = 4) -> Analysis:
    entry, judge, row = places((12, judges, 10))
    score = entry % 3 + judge + rng.normal(size=entry.size) * np.sqrt(TRUE[judge])
    kept = rng.random(entry.size) < keep
    return analyse(read_marks(entry[kept], judge[kept], row[kept], score[kept]))


@pytest.mark.parametrize("keep", [1.0, 0.7])
def test_variances_are_right_on_average_in_complete_and_incomplete_panels(keep: float) -> None:
    rng = np.random.default_rng(3)
    found = np.mean([steadiness(panel(rng, keep)).variance for _ in range(60)], axis=0)
    np.testing.assert_allclose(found, TRUE, rtol=0.12, atol=0.03)


def test_the_parts_make_up_the_whole() -> None:
    noise = steadiness(panel(np.random.default_rng(4), 0.7))
    assert noise.information.sum() == pytest.approx(noise.df)
    assert noise.sum_of_squares.sum() / noise.df == pytest.approx(noise.pooled)


def test_two_judges_cannot_be_told_apart() -> None:
    analysis = panel(np.random.default_rng(5), judges=2)
    noise = steadiness(analysis)
    assert np.isnan(noise.variance).all()
    np.testing.assert_allclose(careful_variances(noise), noise.pooled)
    error, df = own_scale(analysis, noise)
    np.testing.assert_allclose(df, noise.df - 1)
    assert np.isfinite(error).all()


def test_judges_alike_lean_to_one_level_and_judges_unlike_do_not() -> None:
    noise = steadiness(panel(np.random.default_rng(6)))
    careful = careful_variances(noise)
    between = np.abs(careful - noise.pooled) <= np.abs(noise.variance - noise.pooled) + 1e-12
    assert between.all()
    np.testing.assert_allclose(careful, noise.variance, rtol=0.25, atol=0.08)
    assert careful.min() >= 0.05 * noise.pooled
