"""The statistics of the results against published figures."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from judging.rules.results.cards import card_table
from judging.rules.results.checks import bonferroni_threshold, studentized
from judging.rules.results.effects import fit_additive
from judging.rules.results.odd_cards import odd_cards
from judging.rules.results.panel import analyse, read_marks
from judging.rules.results.placing import competition_ranks
from judging.rules.results.thresholds import RESERVE

Fact = dict[str, Any]
REFERENCE = Path(__file__).parents[1] / "reference" / "statistics.json"
FACTS: dict[str, Fact] = {fact["id"]: fact for fact in json.loads(REFERENCE.read_text("utf-8"))}


def two_way(fact: Fact) -> tuple[list[int], list[int], list[float]]:
    """Treatment as entry, block as judge, and the reading."""
    data = fact["data"]
    if "x" in data:
        table = np.array(data["x"], dtype=float)
        block, treatment = np.indices(table.shape)
        return (treatment.ravel().tolist(), block.ravel().tolist(), table.ravel().tolist())
    return data["treatment"], data.get("block", data.get("blend")), data["y"]


@pytest.mark.parametrize(
    "name",
    [
        "anova-winer-drugs-5x4",
        "rcbd-penicillin-blends",
        "bibd-catalyst-intrablock",
        "bibd-kuehl-vinylation",
        "bibd-li-1964",
    ],
)
def test_additive_model(name: str) -> None:
    fact = FACTS[name]
    treatment, block, y = two_way(fact)
    fit = fit_additive(treatment, block, y)
    blocks_only = fit_additive([0] * len(y), block, y)
    assert fit.sigma2 is not None
    ss_treatment = blocks_only.sse - fit.sse
    ms_treatment = ss_treatment / (len(fit.entries) - 1)
    found = {
        "adj_means": fit.adjusted_mean,
        "treat_means": fit.adjusted_mean,
        "effects": fit.adjusted_mean - fit.adjusted_mean.mean(),
        "se": fit.standard_error,
        "SSE": fit.sse,
        "MSE": fit.sigma2,
        "MS_res": fit.sigma2,
        "SS_treat": ss_treatment,
        "SS_treat_adj": ss_treatment,
        "MS_cols": ms_treatment,
        "F": ms_treatment / fit.sigma2,
        "F_cols": ms_treatment / fit.sigma2,
    }
    for key, expected in fact["expected"].items():
        np.testing.assert_allclose(
            found[key], expected, rtol=0, atol=fact["tolerance"], err_msg=key
        )


@pytest.mark.parametrize("name", ["rstudent-stackloss"])
def test_studentized_residuals(name: str) -> None:
    fact = FACTS[name]
    columns = np.array(fact["data"]["X_no_intercept"])
    x = np.column_stack([np.ones(len(columns)), columns])
    y = np.array(fact["data"]["y"])
    hat = x @ np.linalg.pinv(x)
    residual = y - hat @ y
    sse, df = float(residual @ residual), len(y) - x.shape[1]
    t = studentized(residual, np.diag(hat), sse, df)
    for key, expected in fact["expected"].items():
        observation = int(key.removeprefix("obs")) - 1
        assert t[observation] == pytest.approx(expected, abs=fact["tolerance"])


@pytest.mark.parametrize("alpha", [0.01, 0.05])
@pytest.mark.parametrize("name", ["mnr-stefansky"])
def test_largest_normed_residual(name: str, alpha: float) -> None:
    """The limit for |r| / sqrt(SSE) which the threshold for studentized residuals implies."""
    fact = FACTS[name]
    expected = fact["expected"][f"a{round(alpha * 100):02d}"]
    for (rows, columns), limit in zip(fact["data"]["RC"], expected, strict=True):
        cells, df = rows * columns, (rows - 1) * (columns - 1)
        t = bonferroni_threshold(alpha, cells, df)
        normed = np.sqrt(t**2 / (df - 1 + t**2) * df / cells)
        assert normed == pytest.approx(limit, abs=fact["tolerance"])


def test_largest_normed_residual_as_used_for_cards() -> None:
    """A table just below the published limit is let pass, one just above is flagged."""
    fact = FACTS["mnr-stefansky"]
    noise = np.random.default_rng(5)
    margin = 2 * fact["tolerance"]
    for shape, limit in zip(fact["data"]["RC"], fact["expected"]["a05"], strict=True):
        base = noise.normal(size=shape)
        tried = [normed_and_flagged(base, slip) for slip in np.geomspace(1, 200, 80)]
        below = [flags for size, flags in tried if size < limit - margin]
        above = [flags for size, flags in tried if size > limit + margin]
        assert below and above
        assert max(below) == 0
        assert min(above) >= 1


def normed_and_flagged(base: NDArray[np.float64], slip: float) -> tuple[float, int]:
    """Largest normed residual of a table with a slip in its first cell, and the flags it gets."""
    entry, judge = (axis.ravel() for axis in np.indices(base.shape))
    score = base.ravel() + slip * (np.arange(base.size) == 0)
    fit = fit_additive(entry, judge, score)
    table = card_table(analyse(read_marks(entry, judge, np.zeros_like(entry), score)))
    odd = odd_cards(table, 0.05 / RESERVE)
    return float(np.abs(fit.residual).max() / np.sqrt(fit.sse)), len(odd.flagged)


@pytest.mark.parametrize(
    ("name", "data", "expected"),
    [("competition-rank-descending", "scores", "rank"), ("rank-methods-ties", "x", "min")],
)
def test_competition_ranking(name: str, data: str, expected: str) -> None:
    fact = FACTS[name]
    sign = -1 if fact["data"].get("order") == "ascending" else 1
    keys = [sign * Decimal(str(value)) for value in fact["data"][data]]
    assert competition_ranks(keys) == fact["expected"][expected]
