"""The exact model: every rule in it, repeatable, stopped at once, never worse than what it got."""

from __future__ import annotations

import threading
import time
from dataclasses import replace

import pytest
from hypothesis import given, settings
from ortools.sat.python import cp_model

from judging.rules.windows.bound import bound_of
from judging.rules.windows.exact import build, improve, search
from judging.rules.windows.problem import Break, Rotation, RotationProblem, Visit, VisitNeed
from judging.rules.windows.rotation import DispatchSolver
from judging.rules.windows.verify import faults
from tests.rules.windows.busy_days import busy_ground, busy_problems

ROUGH = DispatchSolver(drafts=2, rounds=0)


def shortest(problem: RotationProblem) -> Rotation:
    """Solve a small problem to the end, without the bound's help."""
    horizon = ROUGH.solve(problem).makespan
    exact = build(problem, horizon=horizon, lower_bound=0)
    exact.model.minimize(exact.makespan)
    found = search(exact, limit_s=60, deterministic=60)
    assert found.status == "OPTIMAL"
    rotation = exact.rotation(found.values, found.bound or 0, "exact")
    assert rotation.makespan == found.bound
    return rotation


@given(busy_problems(wagons=3, most=7))
@settings(max_examples=25, deadline=None)
def test_the_bound_is_never_above_the_shortest_and_dispatch_never_below(
    problem: RotationProblem,
) -> None:
    rotation = shortest(problem)
    assert faults(problem, rotation) == ()
    drafted = DispatchSolver(drafts=12, rounds=1_500).solve(problem)
    assert bound_of(problem).minutes <= rotation.makespan <= drafted.makespan


def test_a_model_of_every_rule_gives_clean_rotations_and_takes_clean_ones_as_hint() -> None:
    problem = replace(busy_ground(8, 3, seed=1), fair_ends=True, judge_away={1: ((30, 42),)})
    given_one = ROUGH.solve(problem)
    exact = build(problem, horizon=given_one.makespan)
    exact.hint(given_one)
    # The hint is whole and breaks no rule: fixing every variable to it leaves a solution.
    solver = cp_model.CpSolver()
    solver.parameters.fix_variables_to_their_hinted_value = True
    solver.parameters.num_workers = 1
    assert solver.solve(exact.model) in {cp_model.OPTIMAL, cp_model.FEASIBLE}
    assert all(
        solver.value(exact.start[visit.entry, visit.judge]) == visit.start
        for visit in given_one.visits
    )
    better = improve(problem, given_one, limit_s=60, deterministic=0.1)
    assert faults(problem, better) == ()
    assert better.makespan <= given_one.makespan


def test_the_same_input_gives_the_same_answer_and_it_is_shorter() -> None:
    problem = busy_ground(8, 3, seed=2)
    rough = ROUGH.solve(problem)
    told: list[int] = []
    first, second = (
        improve(
            problem,
            rough,
            limit_s=120,
            deterministic=0.1,
            seed=5,
            on_better=lambda rotation: told.append(rotation.makespan),
        )
        for _ in range(2)
    )
    assert first == second
    assert first.makespan < rough.makespan
    assert told
    assert all(first.makespan <= makespan < rough.makespan for makespan in told)
    assert faults(problem, first) == ()
    assert first.proven == (first.makespan == first.lower_bound)


def test_a_call_to_stop_is_heard_at_once() -> None:
    problem = busy_ground(20, 5, seed=1)
    rough = ROUGH.solve(problem)
    assert not rough.proven
    stop = threading.Event()
    threading.Timer(0.5, stop.set).start()
    began = time.monotonic()
    found = improve(problem, rough, limit_s=90, deterministic=1e6, stop=stop)
    assert time.monotonic() - began < 20  # of 90, on a busy machine too
    assert found.makespan <= rough.makespan
    assert faults(problem, found) == ()


def test_stopped_before_it_began_it_keeps_the_given_rotation() -> None:
    problem = busy_ground(8, 3, seed=2)
    rough = ROUGH.solve(problem)
    stop = threading.Event()
    stop.set()
    exact = build(problem, horizon=rough.makespan)
    exact.model.minimize(exact.makespan)
    found = search(exact, limit_s=60, stop=stop)
    assert (found.stopped, found.bound, found.values) == (True, None, {})
    assert improve(problem, rough, limit_s=60, stop=stop) == rough


def test_with_no_time_to_find_anything_it_keeps_the_given_rotation() -> None:
    problem = busy_ground(20, 5, seed=1)
    rough = ROUGH.solve(problem)
    found = improve(problem, rough, limit_s=30, deterministic=1e-6)
    assert found.makespan == rough.makespan
    assert found.visits == rough.visits
    assert improve(problem, rough, limit_s=0) == rough


def test_an_error_of_the_one_who_is_told_comes_through_and_ends_the_search() -> None:
    problem = busy_ground(8, 3, seed=2)

    def unhappy(rotation: Rotation) -> None:
        raise RuntimeError(f"no room for {rotation.makespan}")

    began = time.monotonic()
    with pytest.raises(RuntimeError, match="no room for"):
        improve(problem, ROUGH.solve(problem), limit_s=90, deterministic=1e6, on_better=unhappy)
    assert time.monotonic() - began < 45
    assert not [thread for thread in threading.enumerate() if "_solve" in thread.name]


ONE = RotationProblem((VisitNeed("A", "Cole", 10),), ((0, 4), (4, 0)), {"A": 1})


def shortest_with(**changes: object) -> int:
    return shortest(replace(ONE, **changes)).makespan  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changes", "makespan"),
    [
        ({}, 14),
        # Walks to minute 2, is away to 12, walks on to 14.
        ({"judge_away": {"Cole": ((2, 12),)}}, 24),
        # Walks before and behind the break.
        ({"breaks": {"Cole": (Break(5, 2, 7),)}}, 19),
        # The break may wait until after the last visit, but not so this one.
        ({"breaks": {"Cole": (Break(5, 2, 19),)}}, 14),
        ({"breaks": {"Cole": (Break(5, 2, 18),)}}, 19),
        # The visit is over by 14 but the crew goes at 13.
        ({"crew_away": {"A": ((13, 20),)}}, 30),
        # Comes back at 14: 4 minutes' walk before, break after being away.
        ({"judge_away": {"Cole": ((4, 14),)}, "breaks": {"Cole": (Break(3, 0, 18),)}}, 27),
    ],
)
def test_rules_worked_by_hand(changes: dict[str, object], makespan: int) -> None:
    assert shortest_with(**changes) == makespan
    problem = replace(ONE, **changes)  # type: ignore[arg-type]
    assert DispatchSolver().solve(problem).makespan == makespan
    assert bound_of(problem).minutes == makespan


def test_a_break_takes_its_time_in_the_very_gap_it_lies_in() -> None:
    """At B until 20, rest to 25, 5 minutes to C; there is room to spare only before B."""
    problem = RotationProblem(
        tuple(VisitNeed(entry, "Cole", 5) for entry in "ABC"),
        ((0, 0, 0, 5), (0, 0, 0, 5), (0, 0, 0, 5), (5, 5, 5, 0)),
        {"A": 1, "B": 2, "C": 3},
        crew_away={"B": ((0, 15),), "C": ((0, 24),)},
        breaks={"Cole": (Break(5, 20, 25),)},
    )
    rotation = shortest(problem)
    assert faults(problem, rotation) == ()
    assert rotation.makespan == DispatchSolver().solve(problem).makespan == 35


def test_fair_ends_are_part_of_the_model() -> None:
    """Wagon 2 is far from the gate and near wagon 1: both judges would rather begin at 1."""
    problem = RotationProblem(
        tuple(VisitNeed(w, j, 5) for w in (1, 2) for j in ("Cole", "Wynn")),
        ((0, 0, 20), (0, 0, 0), (20, 0, 0)),
        {1: 1, 2: 2},
    )
    assert shortest(problem).makespan == 15
    fairly = replace(problem, fair_ends=True)
    assert shortest(fairly).makespan == DispatchSolver().solve(fairly).makespan == 30
    assert faults(fairly, shortest(fairly)) == ()


def test_a_rotation_that_cannot_be_beaten_stays_as_it_is_and_is_proven() -> None:
    problem = RotationProblem(
        tuple(VisitNeed(w, j, 5) for w in (1, 2) for j in ("Cole", "Wynn", "Ada")),
        ((0, 0, 9), (0, 0, 9), (9, 9, 0)),
        {1: 1, 2: 2},
    )
    drafted = DispatchSolver().solve(problem)
    assert not drafted.proven
    found = improve(problem, drafted, limit_s=60)
    assert (found.visits, found.solver) == (drafted.visits, drafted.solver)
    assert found.proven


def test_a_break_that_cannot_be_had_is_said() -> None:
    problem = replace(ONE, breaks={"Cole": (Break(10, 0, 15),)}, judge_away={"Cole": ((5, 12),)})
    words = "Cole has no time for a break of 10 minutes between 0 and 15"
    rotation = Rotation((Visit("A", "Cole", 4, 14),), 14, 14, True, "by hand")
    for ask in (
        lambda: build(problem, horizon=90),
        lambda: improve(problem, rotation, limit_s=5),
        lambda: DispatchSolver().solve(problem),
        lambda: bound_of(problem),
    ):
        with pytest.raises(ValueError, match=words):
            ask()


def test_a_horizon_too_near_is_said() -> None:
    with pytest.raises(ValueError, match="no rotation ends by minute 13; it takes 14"):
        build(ONE, horizon=13)
    with pytest.raises(ValueError, match="Cole cannot be done at A by minute 13"):
        build(ONE, horizon=13, lower_bound=0)
