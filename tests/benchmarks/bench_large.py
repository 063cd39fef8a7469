"""A huge sparse show: 5,000 entries, 400 judges, 20,000 cards, beside sparse factorisations."""

from __future__ import annotations

from collections.abc import Iterator
from unittest.mock import patch

import numpy as np
from scipy.sparse import block_array, coo_array, csc_array, diags_array
from scipy.sparse.linalg import splu

from judging.rules.results.effects import fit_crossed
from judging.rules.results.labels import Floats
from judging.rules.results.reml import Absorbed, Cells, absorb
from tests.benchmarks.measure import Bound, Row, paired

NAME = "large"
ENTRIES, JUDGES, CARDS_EACH = 5_000, 400, 4
REPEATS = 5
AT_MOST_MS = 1000.0
AT_MOST = 5.0


def rows() -> Iterator[Row]:
    """Fit the variances; the floor factorises the same equations as often, and does no more."""
    rng = np.random.default_rng(5)
    entry = np.repeat(np.arange(ENTRIES), CARDS_EACH)
    judge = np.concatenate([rng.choice(JUDGES, CARDS_EACH, replace=False) for _ in range(ENTRIES)])
    score = rng.normal(6, 1.2, ENTRIES)[entry] + rng.normal(0, 0.5, JUDGES)[judge]
    score = score + rng.normal(0, 0.8, entry.size)
    steps: list[float] = []

    def counted(cells: Cells, ratios: Floats) -> Absorbed:
        steps.append(float(ratios[0]))
        return absorb(cells, ratios)

    with patch("judging.rules.results.crossed.absorb", counted):
        fit_crossed(entry, judge, score)
    n_steps = len(steps)
    seen = coo_array((np.ones(entry.size), (entry, judge)), shape=(ENTRIES, JUDGES)).tocsc()
    of_entry, of_judge = seen.sum(axis=1), seen.sum(axis=0)

    def ours() -> None:
        assert fit_crossed(entry, judge, score).connected

    def floor() -> None:
        for step in range(n_steps):
            ratio = 0.5 + step / n_steps
            equations = block_array(
                [
                    [diags_array(of_entry + ratio), seen],
                    [seen.T, diags_array(of_judge + ratio)],
                ]
            )
            factor = splu(
                csc_array(equations),
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.0,
                options={"SymmetricMode": True},
            )
            assert factor.L.nnz > entry.size

    found = paired(ours, floor, repeats=REPEATS)
    yield Row(
        NAME,
        f"variances of {ENTRIES} entries x {JUDGES} judges; one sparse factorisation a step",
        found.ours_ms,
        found.floor_ms,
        found.ratio,
        (Bound("ms", found.ours_ms, AT_MOST_MS), Bound("ratio", found.ratio, AT_MOST)),
        f"{entry.size} card means, {n_steps} steps",
    )
