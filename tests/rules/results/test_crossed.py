"""Variances of entries, judges and cards by restricted maximum likelihood."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import minimize

from judging.rules.results.effects import CrossedFit, fit_additive, fit_crossed
from judging.rules.results.reml import absorb, cells_of
from tests.rules.results.clean_show import places

Floats = NDArray[np.float64]


def ragged_scores(seed: int) -> tuple[Any, Any, Any, Floats]:
    """Scores with about a fifth missing and spreads that may be nought."""
    rng = np.random.default_rng(seed)
    shape = (int(rng.integers(3, 8)), int(rng.integers(2, 5)), int(rng.integers(2, 5)))
    entry, judge, row = places(shape)
    keep = rng.random(entry.size) < 0.8
    keep[:8] = True
    spread = rng.choice([0.0, 0.3, 1.0, 3.0], 3)
    score = spread[0] * rng.normal(size=shape[0])[entry]
    score = score + spread[1] * rng.normal(size=shape[1])[judge]
    score = (
        score + spread[2] * rng.normal(size=shape[:2])[entry, judge] + rng.normal(size=entry.size)
    )
    codes = (np.unique(code[keep], return_inverse=True)[1] for code in (entry, judge, row))
    return (*codes, score[keep])


def indicators(code: Any) -> Floats:
    columns: Floats = (code[:, None] == np.unique(code)).astype(float)
    return columns


def definition(entry: Any, judge: Any, row: Any, score: Floats, ratios: Floats) -> Floats:
    """Restricted deviance and the sum of squares left, from the whole covariance matrix."""
    card = entry * (judge.max() + 1) + judge
    v = np.eye(len(score))
    for code, ratio in zip((entry, judge, card), ratios, strict=True):
        v += ratio**2 * indicators(code) @ indicators(code).T
    x, inverse = indicators(row), np.linalg.inv(v)
    inner = x.T @ inverse @ x
    projection = inverse - inverse @ x @ np.linalg.inv(inner) @ x.T @ inverse
    square, df = score @ projection @ score, len(score) - x.shape[1]
    logs = np.linalg.slogdet(v)[1] + np.linalg.slogdet(inner)[1]
    return np.array([logs + df * (1 + np.log(2 * np.pi * square / df)), square])


@given(
    st.integers(0, 2**32 - 1),
    st.tuples(*[st.sampled_from([0.0, 1e-3, 0.4, 1.0, 5.0])] * 3),
)
@settings(deadline=None, max_examples=40)
def test_deviance_and_its_slope_are_those_of_the_definition(
    seed: int, ratios: tuple[float, float, float]
) -> None:
    entry, judge, row, score = ragged_scores(seed)
    at, step = np.array(ratios), 1e-5
    cells = cells_of(entry, judge, row, score)
    state = absorb(cells, at)
    deviance, square = definition(entry, judge, row, score, at)
    assert state.deviance == pytest.approx(deviance, abs=1e-6)
    assert state.quadratic == pytest.approx(square, rel=1e-7)
    for index in range(3):
        move = step * np.eye(3)[index]
        ahead, behind = (
            definition(entry, judge, row, score, at + sign * move)[0] for sign in (1, -1)
        )
        assert state.slope()[index] == pytest.approx((ahead - behind) / (2 * step), abs=2e-3)


@given(st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=6)
def test_no_other_variances_are_likelier(seed: int) -> None:
    entry, judge, row, score = ragged_scores(seed)
    found = fit_crossed(entry, judge, score, row, card=True)
    fine: Any = {"maxiter": 160}

    def worse(ratios: Any) -> float:
        return float(definition(entry, judge, row, score, np.abs(ratios))[0])

    for start in (0.3, 2.0):
        least = minimize(worse, np.full(3, start), method="Nelder-Mead", options=fine)
        assert found.reml <= least.fun + 1e-4


def test_predictions_and_errors_are_those_of_the_definition() -> None:
    entry, judge, row, score = ragged_scores(1)
    fit = fit_crossed(entry, judge, score, row, card=True)
    card = entry * (judge.max() + 1) + judge
    variances = fit.variance_entry, fit.variance_judge, fit.variance_card
    designs = [indicators(code) for code in (entry, judge, card)]
    x = indicators(row)
    whole = np.hstack([x, *designs])
    sizes = [0.0] * x.shape[1]
    for design, variance in zip(designs, variances, strict=True):
        sizes += [fit.variance_residual / max(variance, 1e-12)] * design.shape[1]
    inverse = np.linalg.inv(whole.T @ whole + np.diag(sizes))
    solution = inverse @ whole.T @ score
    a = slice(x.shape[1], x.shape[1] + designs[0].shape[1])
    b = slice(a.stop, a.stop + designs[1].shape[1])
    np.testing.assert_allclose(fit.mean, solution[: x.shape[1]], atol=1e-6)
    np.testing.assert_allclose(fit.entry_effect, solution[a], atol=1e-6)
    np.testing.assert_allclose(fit.judge_effect, solution[b], atol=1e-6)
    np.testing.assert_allclose(fit.card_effect, solution[b.stop :], atol=1e-6)
    errors = fit.variance_residual * inverse
    np.testing.assert_allclose(fit.entry_covariance(), errors[a, a], atol=1e-6)
    np.testing.assert_allclose(
        fit.entry_covariance([2, 0]), errors[a, a][[2, 0]][:, [2, 0]], atol=1e-6
    )
    np.testing.assert_allclose(fit.entry_error**2, np.diag(errors)[a], atol=1e-6)
    np.testing.assert_allclose(fit.judge_error**2, np.diag(errors)[b], atol=1e-6)
    np.testing.assert_allclose(fit.mean_error**2, np.diag(errors)[: x.shape[1]], atol=1e-6)


def test_a_complete_panel_gives_the_mean_squares() -> None:
    """Closed form where no component is negative."""
    rng = np.random.default_rng(5)
    n, k = 12, 4
    table = rng.normal(6, 1, (n, 1)) + rng.normal(0, 1, (1, k)) + rng.normal(0, 0.5, (n, k))
    entry, judge = (axis.ravel() for axis in np.indices(table.shape))
    fit = fit_crossed(entry, judge, table.ravel())
    additive = fit_additive(entry, judge, table.ravel())
    assert additive.sigma2 is not None
    noise = additive.sigma2
    entries = (k * table.mean(1).var(ddof=1) - noise) / k
    judges = (n * table.mean(0).var(ddof=1) - noise) / n
    assert fit.variance_residual == pytest.approx(noise, rel=1e-4)
    assert fit.variance_entry == pytest.approx(entries, rel=1e-4)
    assert fit.variance_judge == pytest.approx(judges, rel=1e-4)
    shrink = entries / (entries + noise / k)
    away = shrink * (table.mean(1) - table.mean())
    np.testing.assert_allclose(fit.entry_effect, away, atol=1e-4)


def test_equals_a_general_library_on_missing_cards() -> None:
    import pandas as pd  # type: ignore[import-untyped]
    import statsmodels.formula.api as smf  # type: ignore[import-untyped]

    entry, judge, row = places((8, 3, 4))
    rng = np.random.default_rng(9)
    keep = rng.random(entry.size) < 0.85
    score = rng.normal(0, 1.5, 8)[entry] + rng.normal(0, 1, 3)[judge]
    score = score + rng.normal(0, 0.7, (8, 3))[entry, judge] + rng.normal(0, 0.5, entry.size)
    frame = pd.DataFrame({"e": entry, "j": judge, "k": row, "y": score})[keep]
    frame["all"], frame["c"] = 1, frame.e * 3 + frame.j
    spreads = {"entry": "0 + C(e)", "judge": "0 + C(j)", "card": "0 + C(c)"}
    theirs = smf.mixedlm(
        "y ~ 0 + C(k)", frame, groups="all", re_formula="0", vc_formula=spreads
    ).fit(reml=True)
    ours = fit_crossed(frame.e.tolist(), frame.j.tolist(), frame.y, frame.k.tolist(), card=True)
    found = dict(zip(theirs.model.exog_vc.names, theirs.vcomp, strict=True))
    assert ours.reml <= -2 * theirs.llf + 1e-3
    assert ours.variance_residual == pytest.approx(theirs.scale, rel=5e-3)
    assert ours.variance_entry == pytest.approx(found["entry"], rel=2e-2)
    assert ours.variance_judge == pytest.approx(found["judge"], rel=2e-2)
    assert ours.variance_card == pytest.approx(found["card"], rel=2e-2)


def test_too_many_pairs_take_another_way_to_the_same_sums(monkeypatch: pytest.MonkeyPatch) -> None:
    entry, judge, row, score = ragged_scores(4)
    usual = absorb(cells_of(entry, judge, row, score), np.array([0.7, 0.4, 0.2]))
    monkeypatch.setattr("judging.rules.results.reml.MANY_PAIRS", 0)
    other = absorb(cells_of(entry, judge, row, score), np.array([0.7, 0.4, 0.2]))
    assert not other._cells.pair_left.size
    assert other.deviance == pytest.approx(usual.deviance, abs=1e-9)
    np.testing.assert_allclose(other.slope(), usual.slope(), atol=1e-8)


def test_one_judge_one_entry_and_equal_scores_say_what_they_leave_open() -> None:
    alone = fit_crossed(list("AABB"), ["J"] * 4, [5, 6, 8, 9])
    assert np.isnan(alone.variance_judge) and alone.variance_entry > 0
    assert "how strict that judge is cannot be told" in alone.cannot_tell[0]
    single = fit_crossed(["A"] * 6, list("XXYYZZ"), [5, 6, 8, 9, 2, 3])
    assert np.isnan(single.variance_entry) and single.variance_judge > 0
    equal = fit_crossed(list("AABB"), list("XYXY"), [7, 7, 7, 7])
    assert (equal.variance_entry, equal.variance_judge, equal.variance_residual) == (0, 0, 0)
    assert "All scores are the same" in equal.cannot_tell[0]
    assert np.isfinite(equal.entry_effect).all()


def test_nothing_to_spare_is_said() -> None:
    found = fit_crossed(["A", "B"], ["X", "X"], [5, 8])
    assert np.isnan(found.variance_residual)
    assert "Every score is needed" in found.cannot_tell[-1]
    lone = fit_crossed(["A"], ["X"], [5])
    assert np.isnan(lone.variance_residual) and np.isnan(lone.variance_entry)


def test_scores_without_noise_keep_the_order() -> None:
    entry, judge = (axis.ravel() for axis in np.indices((5, 3)))
    found: CrossedFit = fit_crossed(entry, judge, 2.0 * entry + judge)
    assert found.variance_residual < 1e-4
    np.testing.assert_allclose(found.entry_effect, 2.0 * (np.arange(5) - 2), atol=0.01)


def test_unlinked_groups_are_named() -> None:
    found = fit_crossed(list("AABBCCDD"), list("XYXYVWVW"), [5, 6, 7, 7, 3, 4, 5, 5])
    assert not found.connected
    assert found.groups == (("A", "B"), ("C", "D"))
    assert found.cannot_tell == ("No judge links these groups of entries: A, B; C, D.",)


@pytest.mark.parametrize(
    ("score", "card", "sentence"),
    [
        ([1, 2, float("nan")], False, "Score number 3"),
        ([1, 2, float("inf")], False, "Score number 3"),
        ([1, 2], False, "2 scores but 3 entry labels"),
        ([], False, "no scores"),
        ([1, 2, 3], True, "cards with several scores"),
    ],
)
def test_unusable_scores_are_refused(score: Any, card: bool, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        fit_crossed(["A", "B", "C"], ["J"] * 3, score, card=card)
