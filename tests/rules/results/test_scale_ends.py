"""What the ends of the scale hide of a card's mean."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.rules.results.scale_ends import beyond_the_ends


@pytest.mark.parametrize("meant", [0.5, 1.0, 3.0, 5.0, 8.0, 9.0, 9.8])
def test_the_mean_of_marks_cut_off_at_the_ends_is_taken_back(meant: float) -> None:
    marks = np.clip(np.random.default_rng(4).normal(meant, 1.2, 200_000), 0.0, 10.0)
    assert beyond_the_ends([marks.mean()], 1.2)[0] == pytest.approx(meant, abs=0.02)


@given(st.lists(st.floats(0.0, 10.0), min_size=2, max_size=20), st.floats(0.0, 20.0, width=32))
def test_a_higher_card_stays_higher_and_the_two_ends_are_alike(
    means: list[float], spread: float
) -> None:
    ordered = np.sort(np.array(means))
    stretched = beyond_the_ends(ordered, spread)
    assert np.isfinite(stretched).all()
    assert (np.diff(stretched) >= -1e-9).all()
    mirrored = 10.0 - beyond_the_ends(10.0 - ordered, spread)
    np.testing.assert_allclose(stretched, mirrored, atol=1e-6)


def test_cards_of_one_mark_only_stay_finite_and_off_the_ends_nothing_happens() -> None:
    full = beyond_the_ends([0.0, 10.0], 1.0)
    assert full.tolist() == pytest.approx([-0.4, 10.4], abs=0.01)
    assert beyond_the_ends([3.0, 6.0], 0.4).tolist() == pytest.approx([3.0, 6.0], abs=1e-3)


@pytest.mark.parametrize("spread", [-0.1, math.nan, math.inf])
def test_an_impossible_spread_is_refused(spread: float) -> None:
    with pytest.raises(ValueError, match="no spread"):
        beyond_the_ends([5.0], spread)
