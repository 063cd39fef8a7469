"""Tables of minutes are read cell by cell, and a wrong one is named."""

from __future__ import annotations

import numpy as np
import pytest

from judging.rules.windows.search_table import problem_of


def test_lists_and_arrays_give_the_same_problem():
    travel = [[0, 2], [2, 0]]
    listed = problem_of([[5, None], [7, 4]], travel, gate=[1, 3], reset=1)
    arrays = problem_of(
        np.array([[5, 0], [7, 4]]), np.array(travel), gate=np.array([1, 3]), reset=1
    )
    assert listed == arrays
    assert [(need.entry, need.judge, need.minutes) for need in listed.visits] == [
        (0, 0, 5),
        (1, 0, 7),
        (1, 1, 4),
    ]


@pytest.mark.parametrize(
    ("durations", "travel", "sentence"),
    [
        ([], None, "the durations are empty"),
        ([[0, None]], None, "no visit"),
        ([[5, 4], [7]], None, "row 1 of the durations has 1 of 2 cells"),
        ([[5.5]], None, "5.5"),
        ([[-5]], None, "-5"),
        ([[float("nan")]], None, "nan"),
        ([["five"]], None, "five"),
        ([[5], [6]], [[0, 2]], "the travel table has 1 rows for 2 wagons"),
        ([[5], [6]], [[0, 2], [3, 0]], "but back"),
    ],
)
def test_a_table_that_cannot_be_is_refused_in_words(durations, travel, sentence):
    with pytest.raises(ValueError, match=sentence):
        problem_of(durations, travel)
