"""Variances of a class by restricted maximum likelihood, beside a general mixed-model library."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd  # type: ignore[import-untyped]
import statsmodels.formula.api as smf  # type: ignore[import-untyped]

from judging.rules.results.effects import CrossedFit, fit_crossed
from tests.benchmarks.measure import Bound, Row, alone, clocked

NAME = "reml"
SHAPE = (40, 6, 60)  # entries, judges, criteria
REPEATS = 7
AT_MOST_MS = 500.0
TIMES_FASTER = 20.0
# Deviances of the two must agree; theirs may stop a little short of the best.
NEAR = 0.5


def rows() -> Iterator[Row]:
    """Fit entries, judges, cards and noise both ways; the library runs once, it takes long."""
    rng = np.random.default_rng(40)
    entry, judge, criterion = (axis.ravel() for axis in np.indices(SHAPE))
    score = rng.normal(0, 1.2, SHAPE[0])[entry] + rng.normal(0, 0.5, SHAPE[1])[judge]
    score = score + rng.normal(6, 0.5, SHAPE[2])[criterion]
    score = score + rng.normal(0, 0.4, SHAPE[:2])[entry, judge] + rng.normal(0, 0.8, entry.size)
    found: list[CrossedFit] = []

    def ours() -> None:
        found[:] = [fit_crossed(entry, judge, score, criterion, card=True)]

    taken = alone(ours, repeats=REPEATS)
    frame = pd.DataFrame({"e": entry, "j": judge, "k": criterion, "y": score})
    frame["all"], frame["c"] = 1, frame.e * SHAPE[1] + frame.j
    spreads = {"entry": "0 + C(e)", "judge": "0 + C(j)", "card": "0 + C(c)"}
    deviance: list[float] = []

    def library() -> None:
        model = smf.mixedlm("y ~ 0 + C(k)", frame, groups="all", re_formula="0", vc_formula=spreads)
        deviance[:] = [-2.0 * model.fit(reml=True).llf]

    theirs = clocked(library)
    assert abs(deviance[0] - found[0].reml) < NEAR
    assert found[0].reml <= deviance[0] + 1e-3
    yield Row(
        NAME,
        "variances with card term, {} x {} x {} marks; a general library, once".format(*SHAPE),
        taken,
        theirs,
        taken / theirs,
        (
            Bound("ms", taken, AT_MOST_MS),
            Bound("of the library's time", taken / theirs, 1.0 / TIMES_FASTER),
        ),
        f"{theirs / taken:.0f} times faster, deviance {found[0].reml:.3f} and {deviance[0]:.3f}",
    )
