"""Rotations: clean by a validator of their own, never below the bound, repeatable."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.rotation import (
    DispatchSolver,
    Rotation,
    RotationProblem,
    RotationSolver,
    Visit,
    planned_minutes,
    validate,
)
from judging.rules.windows.size import VisitNeed

QUICK: RotationSolver = DispatchSolver(drafts=12, rounds=2_000)


@st.composite
def problems(draw: st.DrawFn, wagons: int = 6, most: int = 24) -> RotationProblem:
    """Any table, spots that may be shared, and wagons some judges do not visit."""
    n_spots = draw(st.integers(1, wagons))
    half = {(i, k): draw(st.integers(0, 6)) for i in range(n_spots + 1) for k in range(i)}
    walk = tuple(
        tuple(0 if i == k else half[max(i, k), min(i, k)] for k in range(n_spots + 1))
        for i in range(n_spots + 1)
    )
    spot = {f"w{w}": draw(st.integers(1, n_spots)) for w in range(draw(st.integers(1, wagons)))}
    pairs = [(entry, f"j{j}") for entry in spot for j in range(4)]
    chosen = draw(st.lists(st.sampled_from(pairs), unique=True, min_size=1, max_size=most))
    visits = tuple(VisitNeed(entry, judge, draw(st.integers(1, 12))) for entry, judge in chosen)
    return RotationProblem(visits, walk, spot, draw(st.integers(0, 3)))


@given(problems())
@settings(max_examples=60, deadline=None)
def test_every_rotation_is_clean_and_no_shorter_than_the_bound(problem: RotationProblem) -> None:
    rotation = QUICK.solve(problem)
    assert validate(problem, rotation) == ()
    assert rotation.makespan >= rotation.lower_bound
    assert rotation.proven == (rotation.makespan == rotation.lower_bound)
    assert rotation.makespan <= DispatchSolver(drafts=0, rounds=0).solve(problem).makespan
    assert QUICK.solve(problem) == rotation


@given(problems(wagons=3, most=6))
@settings(max_examples=40, deadline=None)
def test_small_rotations_are_the_shortest(problem: RotationProblem) -> None:
    rotation = DispatchSolver(rounds=4_000).solve(problem)
    best = min(played(problem, order) for order in permutations(problem.visits))
    assert rotation.lower_bound <= best <= rotation.makespan
    assert rotation.makespan <= best + 1
    assert not rotation.proven or rotation.makespan == best


def played(problem: RotationProblem, order: tuple[VisitNeed, ...]) -> int:
    """End of the day when visits are begun in this order, each as early as it can be."""
    judges: dict[object, tuple[int, int]] = {}
    crews: dict[object, int] = {}
    for need in order:
        free, where = judges.get(need.judge, (0, 0))
        spot = problem.spot[need.entry]
        start = max(free + problem.walk[where][spot], crews.get(need.entry, 0))
        judges[need.judge] = (start + need.minutes, spot)
        crews[need.entry] = start + need.minutes + problem.crew_reset_minutes
    return max(free for free, _ in judges.values())


@pytest.mark.parametrize("seed", range(4))
def test_fifteen_wagons_and_five_judges_end_within_two_per_cent(seed: int) -> None:
    """Three rows of five spots, 1 to 3 minutes apart; 75 visits of 9 to 14 minutes."""
    rng = random.Random(seed)
    places = [(0, 0), *((1 + w % 5, w // 5) for w in range(15))]
    walk = tuple(
        tuple(
            0 if a == b else max(1, (abs(a[0] - b[0]) + abs(a[1] - b[1]) + 1) // 2) for b in places
        )
        for a in places
    )
    problem = RotationProblem(
        visits=tuple(VisitNeed(w, j, rng.randint(9, 14)) for w in range(1, 16) for j in "abcde"),
        walk=walk,
        spot={w: w for w in range(1, 16)},
        crew_reset_minutes=1,
    )
    rotation = DispatchSolver().solve(problem)
    assert validate(problem, rotation) == ()
    assert rotation.gap_share <= 0.02
    assert rotation.gap_minutes == (
        0 if rotation.proven else rotation.makespan - rotation.lower_bound
    )


# One spot 2 minutes from the gate, another 5; 3 minutes between them; the crew needs 1.
PROBLEM = RotationProblem(
    visits=(VisitNeed("A", "Cole", 4), VisitNeed("B", "Cole", 6), VisitNeed("A", "Wynn", 5)),
    walk=((0, 2, 5), (2, 0, 3), (5, 3, 0)),
    spot={"A": 1, "B": 2},
    crew_reset_minutes=1,
)
COLE_A, WYNN_A, COLE_B = (
    Visit("A", "Cole", 2, 6),
    Visit("A", "Wynn", 7, 12),
    Visit("B", "Cole", 9, 15),
)


def by_hand(*visits: Visit) -> Rotation:
    return Rotation(visits, max(visit.end for visit in visits), 15, False, "by hand")


def test_a_clean_rotation_has_no_fault() -> None:
    assert validate(PROBLEM, by_hand(COLE_A, WYNN_A, COLE_B)) == ()


@pytest.mark.parametrize(
    ("rotation", "fault"),
    [
        (by_hand(Visit("A", "Cole", 1, 5), WYNN_A, COLE_B), "Cole is at A at minute 1 but needs 2"),
        (by_hand(COLE_A, Visit("A", "Wynn", 5, 10), COLE_B), "Cole and Wynn are at A at once"),
        (by_hand(COLE_A, Visit("A", "Wynn", 6, 11), COLE_B), "Wynn comes to A before the crew"),
        (by_hand(COLE_A, WYNN_A, Visit("B", "Cole", 5, 11)), "Cole is at A and B at once"),
        (
            by_hand(COLE_A, WYNN_A, Visit("B", "Cole", 8, 14)),
            "Cole has no time to walk from A to B",
        ),
        (by_hand(COLE_A, COLE_B), "Wynn visits A 0 times"),
        (by_hand(COLE_A, WYNN_A, COLE_B, Visit("B", "Cole", 20, 26)), "Cole visits B 2 times"),
        (by_hand(COLE_A, WYNN_A, Visit("B", "Cole", 10, 15)), "Cole has 5 of 6 minutes at B"),
        (
            by_hand(COLE_A, WYNN_A, COLE_B, Visit("B", "Wynn", 30, 35)),
            "nobody asked Wynn to visit B",
        ),
        (
            replace(by_hand(COLE_A, WYNN_A, COLE_B), makespan=14),
            "the last visit ends at 15, not at 14",
        ),
        (
            replace(by_hand(COLE_A, WYNN_A, COLE_B), lower_bound=16),
            "the bound 16 is above the makespan 15",
        ),
    ],
)
def test_each_fault_is_found(rotation: Rotation, fault: str) -> None:
    assert any(words.startswith(fault) for words in validate(PROBLEM, rotation))


def test_a_long_visit_over_several_others_is_found_more_than_once() -> None:
    problem = RotationProblem(
        visits=(VisitNeed("A", "Cole", 9), VisitNeed("A", "Wynn", 2), VisitNeed("A", "Ada", 2)),
        walk=((0, 0), (0, 0)),
        spot={"A": 1},
    )
    faults = validate(
        problem,
        by_hand(Visit("A", "Cole", 0, 9), Visit("A", "Wynn", 1, 3), Visit("A", "Ada", 4, 6)),
    )
    assert "Cole and Ada are at A at once" in faults
    assert "Cole and Wynn are at A at once" in faults


def test_a_problem_must_make_sense() -> None:
    walk = ((0, 1), (1, 0))
    need = VisitNeed("A", "Cole", 4)
    with pytest.raises(ValueError, match="no camp spot"):
        RotationProblem((need,), walk, {})
    with pytest.raises(ValueError, match="no camp spot"):
        RotationProblem((need,), walk, {"A": 2})
    with pytest.raises(ValueError, match="2 times"):
        RotationProblem((need, need), walk, {"A": 1})
    with pytest.raises(ValueError, match="no visit"):
        RotationProblem((), walk, {})
    with pytest.raises(ValueError, match="less than no time"):
        RotationProblem((need,), walk, {"A": 1}, -1)


def test_another_solver_can_take_the_place() -> None:
    class Fixed:
        def solve(self, problem: RotationProblem) -> Rotation:
            return by_hand(COLE_A, WYNN_A, COLE_B)

    length = planned_minutes(walk=PROBLEM.walk, spot=PROBLEM.spot, solver=Fixed())
    assert length(PROBLEM.visits) == 15
