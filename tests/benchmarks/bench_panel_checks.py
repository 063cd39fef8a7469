"""Every check of a panel at once, beside plain least squares criterion by criterion."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from judging.rules.results.panel_checks import check_panel
from tests.benchmarks.measure import Bound, Row, paired

NAME = "panel_checks"
SHAPE = (40, 6, 60)  # entries, judges, criteria
REPEATS = 15
AT_MOST_MS = 50.0
AT_MOST = 2.0


def rows() -> Iterator[Row]:
    """Measure all checks, times of the cards included."""
    rng = np.random.default_rng(40)
    entry, judge, criterion = (axis.ravel() for axis in np.indices(SHAPE))
    merit = rng.normal(0, 1.2, (SHAPE[0], 1, 1))
    habit = rng.normal(0, 0.5, (1, SHAPE[1], 1))
    level = rng.normal(6, 0.5, (1, 1, SHAPE[2]))
    score = np.clip(np.rint(merit + habit + level + rng.normal(0, 0.8, SHAPE)), 0, 10).ravel()
    walks = np.stack([rng.permutation(SHAPE[0]) for _ in range(SHAPE[1])], axis=1)
    minute = np.broadcast_to(12.0 * walks[:, :, None], SHAPE).ravel()
    entries, judges, criteria = entry.tolist(), judge.tolist(), criterion.tolist()
    marks = score.tolist()

    def ours() -> None:
        assert check_panel(entries, judges, criteria, marks, minute).marks.n_checked == len(marks)

    def floor() -> None:
        """Fit every criterion with dummy columns; residuals only."""
        columns = SHAPE[0] + SHAPE[1]
        for one in range(SHAPE[2]):
            here = criterion == one
            design = np.zeros((here.sum(), columns))
            place = np.arange(len(design))
            design[place, entry[here]] = 1.0
            design[place, SHAPE[0] + judge[here]] = 1.0
            fitted, *_ = np.linalg.lstsq(design, score[here], rcond=None)
            assert len(score[here] - design @ fitted) == len(design)

    found = paired(ours, floor, repeats=REPEATS)
    yield Row(
        NAME,
        "ten checks of {} x {} x {} marks; plain least squares by criterion".format(*SHAPE),
        found.ours_ms,
        found.floor_ms,
        found.ratio,
        (Bound("ms", found.ours_ms, AT_MOST_MS), Bound("ratio", found.ratio, AT_MOST)),
    )
