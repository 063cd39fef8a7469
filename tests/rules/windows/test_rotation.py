"""Rotations: clean by a validator of their own, never below the bound, repeatable."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from itertools import permutations
from math import inf
from operator import add

import numpy
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.dispatch import file_order
from judging.rules.windows.rotation import (
    DispatchSolver,
    Rotation,
    RotationProblem,
    RotationSolver,
    Visit,
    planned_minutes,
    solve,
    validate,
)
from judging.rules.windows.search import Tour, starts
from judging.rules.windows.search_shop import Field, shop_of
from judging.rules.windows.size import VisitNeed
from tests.rules.windows.busy_days import busy_ground, busy_problems

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


@given(busy_problems())
@settings(max_examples=80, deadline=None)
def test_every_rule_is_kept_by_draft_and_improvement(problem: RotationProblem) -> None:
    rotation = QUICK.solve(problem)
    assert validate(problem, rotation) == ()
    assert rotation.makespan >= rotation.lower_bound
    assert rotation.makespan <= DispatchSolver(drafts=0, rounds=0).solve(problem).makespan
    assert QUICK.solve(problem) == rotation


@given(busy_problems(), st.randoms(use_true_random=False))
@settings(max_examples=80, deadline=None)
def test_the_quick_way_to_play_an_order_agrees_with_the_plain_one(
    problem: RotationProblem, rng: random.Random
) -> None:
    shop, _, _ = shop_of(problem)
    order = list(range(len(shop.minutes) + len(shop.rest_of)))
    rng.shuffle(order)
    tour = Tour(shop, order)
    for _ in range(6):
        start = starts(shop, order)
        assert tour.start == start
        assert max(tour.ends) == max(map(add, start, shop.minutes))
        first, last = sorted(rng.sample(range(len(order)), 2)) if len(order) > 1 else (0, 0)
        order = [*order[:first], *order[first : last + 1][::-1], *order[last + 1 :]]
        assert tour.changed(order, first, last, tour.cost - 1e9) is None
        changed = tour.changed(order, first, last, inf)
        assert changed is not None
        tour = changed


@given(busy_problems())
@settings(max_examples=30, deadline=None)
def test_drafts_keep_the_same_clock_as_the_played_order(problem: RotationProblem) -> None:
    shop, _, _ = shop_of(problem)
    order = file_order(shop)
    field = Field(shop)
    at = [0] * len(order)
    for visit in order:
        soonest = field.earliest(visit)
        at[visit] = field.go(visit)
        assert at[visit] == soonest
    assert at == starts(shop, order)


def test_a_longer_order_is_played_from_where_it_changed() -> None:
    problem = busy_ground(15, 5, seed=3)
    shop, _, _ = shop_of(problem)
    rng = random.Random(7)
    order = list(range(len(shop.minutes)))
    rng.shuffle(order)
    tour = Tour(shop, order)
    for _ in range(60):
        first, last = sorted(rng.sample(range(len(order)), 2))
        tried = order[:]
        tried.insert(last, tried.pop(first))
        changed = tour.changed(tried, first, last, tour.cost + 3)
        cost = Tour(shop, tried).cost
        assert (changed is not None) == (cost <= tour.cost + 3)
        if changed is not None:
            assert changed.start == starts(shop, tried)
            assert changed.cost == cost
            tour, order = changed, tried


@pytest.mark.parametrize("judges", [3, 7])
def test_first_and_last_stops_are_spread(judges: int) -> None:
    problem = busy_ground(3, judges, seed=1)
    rotation = QUICK.solve(replace(problem, fair_ends=True))
    for which in (0, -1):
        own = [[v.entry for v in rotation.visits if v.judge == j][which] for j in range(judges)]
        assert max(own.count(entry) for entry in own) == -(-judges // 3)
    assert validate(replace(problem, fair_ends=True), rotation) == ()


def test_stops_that_cannot_be_spread_are_said() -> None:
    """Three judges who come to the same two of three wagons."""
    visits = [VisitNeed(w, j, 5) for w in (1, 2) for j in "abc"]
    problem = RotationProblem(
        (*visits, VisitNeed(3, "a", 5)), ((0,) * 4,) * 4, {1: 1, 2: 2, 3: 3}, fair_ends=True
    )
    with pytest.raises(ValueError, match="cannot be spread over the wagons"):
        QUICK.solve(problem)


@pytest.mark.parametrize(
    ("size", "share"), [((15, 5), 0.03), ((20, 5), 0.02)], ids=["15 x 5", "20 x 5"]
)
def test_turn_ins_and_breaks_cost_little(size: tuple[int, int], share: float) -> None:
    rotations = [DispatchSolver().solve(busy_ground(*size, seed)) for seed in range(3)]
    assert sum(rotation.gap_share for rotation in rotations) / 3 <= share


TABLE = [[5, 4, None], [6, 0, 3]]
WAYS = [[0, 2], [2, 0]]


def test_a_bare_table_is_solved() -> None:
    solved = solve(TABLE, WAYS, gate=[1, 3], reset=1)
    assert [[at is None for at in row] for row in solved.starts] == [
        [False, False, True],
        [False, True, False],
    ]
    # The first judge: 1 from the gate, 5, 2 to walk, 6.
    assert (solved.makespan, solved.bound, solved.proven) == (14, 14, True)
    assert solved.starts[0][0] == 1
    assert solve(numpy.array([[5, 4], [6, 7]]), numpy.array(WAYS)) == solve([[5, 4], [6, 7]], WAYS)


def test_a_bare_table_with_people_away() -> None:
    solved = solve([[5], [6]], crew_away=[[(0, 9)], []], judge_breaks=[[(4, 0, 12)]])
    assert (solved.makespan, solved.proven) == (15, True)
    assert solved.starts == ((10,), (0,))


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: solve([]), "the durations are empty"),
        (lambda: solve([[]]), "the durations are empty"),
        (lambda: solve([[1, 2], [3]]), "row 1 of the durations has 1 of 2 cells"),
        (lambda: solve([[1, -2]]), "cell 1, is -2, less than no time"),
        (lambda: solve([[1, 2.5]]), "cell 1, is 2.5, not a whole number"),
        (lambda: solve([[1, float("nan")]]), "not a whole number"),
        (lambda: solve([["x"]]), "is 'x', not a whole number"),
        (lambda: solve([[0, None]]), "there is no visit to plan"),
        (lambda: solve([[1], [2]], [[0, 1]]), "the travel table has 1 rows for 2 wagons"),
        (lambda: solve([[1], [2]], [[0, 1], [2, 0]]), "walking from"),
        (lambda: solve([[1], [2]], [[0, 1], [1]]), "row 1 of the travel has 1 of 2 cells"),
        (lambda: solve([[1]], gate=[1, 2]), "row 0 of the way from the gate has 2 of 1 cells"),
        (lambda: solve([[1]], reset=-1), "the reset is -1"),
        (lambda: solve([[1]], crew_away=[[], []]), "2 lists of times away for 1 wagons"),
        (lambda: solve([[1]], judge_breaks=[]), "0 lists of breaks for 1 sections"),
        (lambda: solve([[1]], judge_breaks=[[(9, 0, 5)]]), "does not fit between minute 0 and 5"),
    ],
)
def test_a_table_that_makes_no_sense_is_refused(ask: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        ask()


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
