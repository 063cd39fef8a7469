"""The busiest judge's own round first: rules kept, repeatable, and as short as it can be."""

from __future__ import annotations

import random
import threading
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.bound_judge import stronger_bound
from judging.rules.windows.dispatch import booking_order
from judging.rules.windows.problem import Break, Rotation, RotationProblem, VisitNeed
from judging.rules.windows.rotation import DispatchSolver
from judging.rules.windows.search import Tour
from judging.rules.windows.search_lead import _around, _stretch_moved, led
from judging.rules.windows.search_shop import shop_of
from judging.rules.windows.verify import faults
from tests.benchmarks.bench_rotation_cases import ground
from tests.rules.windows.busy_days import busy_ground, busy_problems

ROUGH = DispatchSolver(drafts=2, rounds=0)


@given(busy_problems())
@settings(max_examples=60, deadline=None)
def test_it_keeps_every_rule_repeats_itself_and_is_never_worse(problem: RotationProblem) -> None:
    rough = ROUGH.solve(problem)
    told: list[int] = []

    def drawn() -> Rotation:
        return led(
            problem,
            rough,
            bound=rough.lower_bound,
            rounds=400,
            seed=3,
            on_better=lambda rotation: told.append(rotation.makespan),
        )

    first = drawn()
    assert first == drawn()
    assert rough.lower_bound <= first.makespan <= rough.makespan
    assert faults(problem, first) == ()
    assert (min(told) if told else rough.makespan) == first.makespan


@pytest.mark.parametrize("seed", range(4))
def test_with_one_judge_far_busier_the_day_ends_with_that_judge_alone(seed: int) -> None:
    problem = ground("E", 10, 4, seed=seed, wide=True)
    busy = replace(
        problem,
        visits=tuple(
            replace(need, minutes=need.minutes + 6) if need.judge == 3 else need
            for need in problem.visits
        ),
    )
    shortest = stronger_bound(busy, limit=10**9)
    rough = ROUGH.solve(busy)
    assert rough.makespan > shortest
    found = led(busy, rough, bound=shortest, rounds=60_000)
    assert (found.makespan, found.proven, found.solver) == (shortest, True, "led")
    assert faults(busy, found) == ()


@given(st.integers(1, 12), st.integers(0, 10**6))
@settings(deadline=None)
def test_a_round_is_changed_only_where_it_says(wagons: int, seed: int) -> None:
    shop, _, _ = shop_of(ground("E", wagons, 1, seed=1))
    tour = Tour(shop, list(range(wagons + 1)))
    tried, first, last = _stretch_moved(tour, random.Random(seed))
    assert sorted(tried) == tour.order
    assert tried[:first] == tour.order[:first]
    assert tried[last + 1 :] == tour.order[last + 1 :]


@given(st.integers(0, 10**6))
@settings(max_examples=30, deadline=None)
def test_the_others_are_drafted_around_a_round_that_stays_as_it_is(seed: int) -> None:
    rng = random.Random(seed)
    problem = busy_ground(8, 3, seed=1)
    shop, _, _ = shop_of(problem)
    judges = shop.busiest_first()
    lead = [*shop.visits_of(judges[0]), len(shop.minutes) + shop.rest_of.index(judges[0])]
    rng.shuffle(lead)
    drafts = [order for _, order in _around(shop, judges, lead, rng)]
    for order in drafts:
        assert sorted(order) == list(range(len(shop.minutes) + len(shop.rest_of)))
        assert [piece for piece in order if piece in lead] == lead


def test_a_break_of_the_lead_is_booked_where_it_stands() -> None:
    """Rests at the gate to minute 20, then A and B; the other judge has A before that."""
    problem = RotationProblem(
        tuple(VisitNeed(entry, judge, 10) for judge in ("Cole", "Wynn") for entry in "AB"),
        ((0, 0, 0),) * 3,
        {"A": 1, "B": 2},
        breaks={"Cole": (Break(20, 0, 90),)},
    )
    shop, _, _ = shop_of(problem)
    chance = random.Random(0)
    assert booking_order(shop, [0, 1], chance, noise=0, detour=1, lead=[4, 0, 1]) == [2, 3, 0, 1]
    assert booking_order(shop, [0, 1], chance, noise=0, detour=1, lead=[0, 4, 1]) == [0, 3, 2, 1]


def test_it_is_called_off() -> None:
    problem = busy_ground(20, 5, seed=1)
    rough, stop = ROUGH.solve(problem), threading.Event()
    stop.set()
    assert led(problem, rough, bound=0, rounds=10**9, stop=stop) == rough
    assert led(problem, rough, bound=0, rounds=10**9, until=0.0) == rough
