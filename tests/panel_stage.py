"""A show of ten wagons and three judges with simulated marks, and things planted in them."""

from __future__ import annotations

from typing import Any

import numpy as np

from entries.models import Entry
from judging.models import Criterion, Judge
from showrun.shows.models import Show
from tests.judged_show import build_show, mark_everything
from tests.rules.results.clean_show import REALISTIC, Floats, clean_show
from tests.small_card import SCORECARD

WAGONS, JUDGES = 10, 3
ROWS = [row["code"] for section in SCORECARD["sections"] for row in section["criteria"]]
SEED = 38  # looked for: the checks find what is planted, and nothing else


def clean_marks() -> Floats:
    """Return marks by wagon, judge and row in which no check finds fault."""
    rng = np.random.default_rng(SEED)
    return clean_show(rng, (WAGONS, JUDGES, len(ROWS)), REALISTIC, severity=0.0)


def with_swap() -> Floats:
    """J2 filled wagons 2 and 7 in for each other; they have the same rig."""
    marks = clean_marks()
    marks[[1, 6], 1] = marks[[6, 1], 1]
    return marks


def with_favour() -> Floats:
    """J3 gave every row of wagon 4 three points more than was meant."""
    marks = clean_marks()
    marks[3, 2] = np.clip(marks[3, 2] + 3, 0, 10)
    return marks


def with_slip() -> Floats:
    """J1 keyed 0 for the fire tools of wagon 5."""
    marks = clean_marks()
    marks[4, 0, ROWS.index("ck_fire")] = 0
    return marks


def with_one_mark() -> Floats:
    """J1 gave wagon 3 the same mark on every row."""
    marks = clean_marks()
    marks[2, 0] = 7
    return marks


def with_severe_judge() -> Floats:
    """J2 marks two points lower throughout."""
    marks = clean_marks()
    marks[:, 1] = np.clip(marks[:, 1] - 2, 0, 10)
    return marks


def judged_as(marks: Floats, *, slug: str = "simulated", **more: Any) -> Show:
    """Build the show and have its judges give these marks."""
    show = build_show(
        slug=slug, n_entries=WAGONS, n_judges=JUDGES, judges_per_section=JUDGES, kin=False,
        judging_minutes=900, **more,
    )  # fmt: skip

    def given(judge: Judge, entry: Entry, row: Criterion) -> int:
        return int(marks[(entry.number or 0) - 1, int(judge.code[1:]) - 1, ROWS.index(row.code)])

    mark_everything(show, given)
    return show
