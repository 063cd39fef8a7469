"""Adjusted means and judge effects."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from judging.rules.results.effects import fit_additive

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Cards:
    entry: list[int]
    judge: list[int]
    score: Floats


@st.composite
def cards(draw: st.DrawFn) -> Cards:
    """Any design: incomplete, unconnected, with repeated cards."""
    places = st.tuples(st.integers(0, 5), st.integers(0, 4))
    seen = draw(st.lists(places, min_size=1, max_size=30))
    whole = st.integers(0, 1000)
    score = draw(st.lists(whole, min_size=len(seen), max_size=len(seen)))
    return Cards([e for e, _ in seen], [j for _, j in seen], np.array(score) / 100)


def by_definition(given_cards: Cards) -> dict[str, Any]:
    """The same model through a dense design matrix and its pseudo-inverse."""
    entries, judges = sorted(set(given_cards.entry)), sorted(set(given_cards.judge))
    x = np.zeros((len(given_cards.score), len(entries) + len(judges)))
    for row, (entry, judge) in enumerate(zip(given_cards.entry, given_cards.judge, strict=True)):
        x[row, entries.index(entry)] = 1
        x[row, len(entries) + judges.index(judge)] = 1
    parts = reached(x, len(entries))
    pinv = np.linalg.pinv(x)
    hat = x @ pinv
    mean_of = np.zeros((len(entries), x.shape[1]))
    for index in range(len(entries)):
        mean_of[index, index] = 1
        mean_of[index, len(entries) :] = parts[index] / parts[index].sum()
    return {
        "adjusted_mean": mean_of @ pinv @ given_cards.score,
        "variance": np.diag(mean_of @ np.linalg.pinv(x.T @ x) @ mean_of.T),
        "residual": given_cards.score - hat @ given_cards.score,
        "leverage": np.diag(hat),
        "df": len(given_cards.score) - np.linalg.matrix_rank(x),
        "parts": parts,
    }


def reached(x: Floats, n_entries: int) -> Floats:
    """Judges that each entry is linked to, by walking the links until nothing is added."""
    link = x.T @ x > 0
    while True:
        wider = link.astype(int) @ link.astype(int) > 0
        if (wider == link).all():
            return link[:n_entries, n_entries:].astype(float)
        link = wider


@given(cards())
@settings(deadline=None, max_examples=150)
def test_equals_the_definition_on_any_design(drawn: Cards) -> None:
    fit = fit_additive(drawn.entry, drawn.judge, drawn.score)
    truth = by_definition(drawn)
    np.testing.assert_allclose(fit.adjusted_mean, truth["adjusted_mean"], atol=1e-8)
    np.testing.assert_allclose(fit.residual, truth["residual"], atol=1e-8)
    np.testing.assert_allclose(fit.leverage, truth["leverage"], atol=1e-8)
    assert fit.df == truth["df"]
    assert fit.connected == bool(truth["parts"].all())
    same_part = (truth["parts"] @ truth["parts"].T) > 0
    np.testing.assert_array_equal(fit.component[:, None] == fit.component, same_part)
    if fit.df == 0:
        assert fit.sigma2 is None
        assert np.isnan(fit.standard_error).all()
    else:
        assert fit.sigma2 is not None
        expected = np.sqrt(fit.sigma2 * truth["variance"])
        np.testing.assert_allclose(fit.standard_error, expected, atol=1e-8)
    for row in truth["parts"]:
        assert fit.judge_effect[row > 0].sum() == pytest.approx(0, abs=1e-8)


@given(cards(), st.integers(0, 4), st.floats(-5, 5), st.randoms(use_true_random=False))
@settings(deadline=None, max_examples=60)
def test_a_strict_judge_and_the_order_of_cards_change_no_comparison(
    drawn: Cards, judge: int, strictness: float, shuffler: Any
) -> None:
    order = list(range(len(drawn.score)))
    shuffler.shuffle(order)
    shifted = drawn.score + strictness * (np.array(drawn.judge) == judge)
    before = fit_additive(drawn.entry, drawn.judge, drawn.score)
    after = fit_additive(
        [drawn.entry[i] for i in order], [drawn.judge[i] for i in order], shifted[order]
    )
    assert after.entries == before.entries
    np.testing.assert_allclose(after.residual, before.residual[order], atol=1e-8)
    np.testing.assert_allclose(after.leverage, before.leverage[order], atol=1e-8)
    change = after.adjusted_mean - before.adjusted_mean
    same = before.component[:, None] == before.component
    assert np.abs((change[:, None] - change)[same]).max() < 1e-8


def test_complete_panel_keeps_the_raw_means() -> None:
    table = np.array([[7, 8, 6], [5, 5, 6], [9, 9, 8], [4, 6, 5]], dtype=float)
    entry, judge = (axis.ravel() for axis in np.indices(table.shape))
    fit = fit_additive(entry, judge, table.ravel())
    np.testing.assert_allclose(fit.adjusted_mean, table.mean(axis=1))
    np.testing.assert_allclose(fit.judge_effect, table.mean(axis=0) - table.mean())
    assert fit.df == 6
    # Closed forms of the balanced two-way table.
    assert fit.sigma2 is not None
    np.testing.assert_allclose(fit.standard_error, np.sqrt(fit.sigma2 / 3))
    np.testing.assert_allclose(fit.judge_standard_error, np.sqrt(fit.sigma2 * 2 / 3 / 4))


def test_recovers_truth_without_noise() -> None:
    merit = {"Ace": 8.0, "Bell": 6.5, "Cook": 6.0, "Dray": 3.0}
    habit = {"Lee": -1.0, "Moss": 0.25, "Nash": 0.75}
    pairs = [("Ace", "Lee"), ("Ace", "Moss"), ("Bell", "Moss"), ("Bell", "Nash"), ("Cook", "Nash")]
    pairs += [("Cook", "Lee"), ("Dray", "Nash")]
    fit = fit_additive(
        [e for e, _ in pairs], [j for _, j in pairs], [merit[e] + habit[j] for e, j in pairs]
    )
    np.testing.assert_allclose(fit.adjusted_mean, list(merit.values()))
    np.testing.assert_allclose(fit.judge_effect, list(habit.values()))
    assert fit.sse == 0.0
    assert not fit.residual.any()
    assert fit.leverage[-1] == 1.0


def test_scores_that_nothing_can_confirm_have_leverage_one_exactly() -> None:
    """A chain of entries, each sharing one judge with the next, has no spare score."""
    entry = [position // 2 for position in range(200)]
    judge = [(position + 1) // 2 for position in range(200)]
    fit = fit_additive(entry, judge, np.random.default_rng(4).normal(6, 1, 200))
    assert fit.connected
    assert (fit.df, fit.sse, fit.sigma2) == (0, 0.0, None)
    assert set(fit.leverage.tolist()) == {1.0}


def test_a_long_ring_can_be_checked() -> None:
    """Closing the chain leaves one degree of freedom, spread evenly over its scores."""
    entry = [position // 2 for position in range(400)]
    judge = [(position + 1) // 2 % 200 for position in range(400)]
    fit = fit_additive(entry, judge, np.random.default_rng(4).normal(6, 1, 400))
    assert fit.df == 1
    np.testing.assert_allclose(fit.leverage, 1 - 1 / 400, atol=1e-9)


def test_unlinked_groups_are_adjusted_each_by_itself() -> None:
    fit = fit_additive(
        ["A", "A", "B", "B", "C", "C", "D", "D"], list("12123434"), [6, 8, 4, 6, 1, 1, 3, 5]
    )
    assert not fit.connected
    assert fit.component.tolist() == [0, 0, 1, 1]
    np.testing.assert_allclose(fit.adjusted_mean, [7, 5, 1, 4])
    np.testing.assert_allclose(fit.judge_effect, [-1, 1, -0.5, 0.5])
    assert fit.df == 2


def test_labels_without_an_order_keep_that_of_appearance() -> None:
    fit = fit_additive([7, "guest", 7, "guest"], ["b", "b", "a", "a"], [1, 2, 3, 4])
    assert fit.entries == (7, "guest")
    assert fit.judges == ("a", "b")


@pytest.mark.parametrize(
    ("entry", "judge", "score", "sentence"),
    [
        ([], [], [], "no scores"),
        (["A"], ["J"], [1, 2], "2 scores but 1 entry labels"),
        (["A", "B"], ["J"], [1, 2], "2 scores but 1 judge labels"),
        (["A", "B"], ["J", "J"], [1, float("nan")], "Score number 2 is not a finite number"),
        (["A"], ["J"], [float("inf")], "not a finite number"),
        (["A"], ["J"], [[1]], "one plain list"),
    ],
)
def test_unusable_scores_are_refused(
    entry: list[str], judge: list[str], score: list[Any], sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        fit_additive(entry, judge, score)
