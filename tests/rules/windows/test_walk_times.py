"""Walks of a panel with times: clean, as short as any order, and what cannot be is refused."""

from __future__ import annotations

import random
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.problem import Break, Rotation, RotationProblem, VisitNeed
from judging.rules.windows.verify import faults
from judging.rules.windows.walk import shortest_walk
from judging.rules.windows.walk_times import PARTY, TimedWalk, timed_walk

Table = tuple[tuple[int, ...], ...]


def check(found: TimedWalk, minutes: dict[Any, int], walk: Table, **rules: Any) -> None:
    problem = RotationProblem(
        tuple(VisitNeed(w, PARTY, m) for w, m in minutes.items()),
        walk,
        {w: w for w in minutes},
        crew_away=rules.get("crew_away", {}),
        judge_away={PARTY: tuple(rules.get("away", ()))},
        breaks={PARTY: tuple(rules.get("breaks", ()))},
    )
    plan = Rotation(found.visits, found.end, found.lower_bound, found.proven, "walk")
    assert faults(problem, plan) == ()


def table(rng: random.Random, places: int) -> Table:
    half = {(i, k): rng.randint(0, 6) for i in range(places) for k in range(i)}
    n = range(places)
    return tuple(tuple(0 if i == k else half[max(i, k), min(i, k)] for k in n) for i in n)


def soonest_end(
    minutes: dict[int, int], walk: Table, crew_away: dict[int, tuple[tuple[int, int], ...]]
) -> int:
    """Try every order, each visit as soon as it can be."""
    ends = []
    for order in permutations(minutes):
        now, here = 0, 0
        for wagon in order:
            now += walk[here][wagon]
            for a, b in sorted(crew_away.get(wagon, ())):
                if now < b and a < now + minutes[wagon]:
                    now = b
            now, here = now + minutes[wagon], wagon
        ends.append(now)
    return min(ends)


@given(st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_no_order_ends_sooner(seed: int) -> None:
    rng = random.Random(seed)
    wagons = rng.randint(1, 5)
    walk = table(rng, wagons + 1)
    minutes = {w: rng.randint(2, 9) for w in range(1, wagons + 1)}
    begins = {w: rng.randint(0, 30) for w in minutes if rng.random() < 0.6}
    crew_away: dict[int, tuple[tuple[int, int], ...]] = {
        w: ((a, a + rng.randint(1, 20)),) for w, a in begins.items()
    }
    found = timed_walk(minutes, walk, crew_away=crew_away, limit_s=5)
    check(found, minutes, walk, crew_away=crew_away)
    assert found.end == soonest_end(minutes, walk, crew_away)
    assert found.proven
    assert set(found.order) == set(minutes)


def test_breaks_and_times_away_are_kept() -> None:
    rng = random.Random(4)
    walk = table(rng, 11)
    minutes = {w: rng.randint(6, 9) for w in range(1, 11)}
    rules: dict[str, Any] = {
        "crew_away": {3: ((0, 60),), 7: ((20, 90),)},
        "away": ((40, 55),),
        "breaks": (Break(15, 50, 100),),
    }
    quick = timed_walk(minutes, walk, limit_s=0, **rules)
    found = timed_walk(minutes, walk, limit_s=1, **rules)
    for each in (quick, found):
        check(each, minutes, walk, **rules)
        assert each.lower_bound <= each.end
        assert each.gap_minutes == (0 if each.proven else each.end - each.lower_bound)
    assert found.end <= quick.end
    assert found.end >= sum(minutes.values()) + 15 + 15


def test_without_times_it_is_the_shortest_walk() -> None:
    rng = random.Random(9)
    walk = table(rng, 9)
    minutes = dict.fromkeys(range(1, 9), 8)
    found = timed_walk(minutes, walk)
    assert found.end == 64 + shortest_walk(walk, range(1, 9)).minutes


def test_none_and_one() -> None:
    assert timed_walk({}, ((0,),)) == TimedWalk((), 0, 0, True)
    one = timed_walk({"Lazy J": 8}, ((0, 3), (3, 0)), spot={"Lazy J": 1})
    assert (one.order, one.end, one.proven) == (("Lazy J",), 11, True)


@pytest.mark.parametrize(
    ("walk", "sentence"),
    [
        (((0, 3), (2, 0)), "takes 3 minutes but back 2"),
        (((0, -1), (-1, 0)), "takes -1 minutes"),
        (((0, 1), (1,)), "row 1 of the walking table"),
        (((0,),), "no camp spot"),
    ],
)
def test_what_cannot_be_walked_is_refused(walk: Table, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        timed_walk({1: 8}, walk)


def test_a_break_that_cannot_be_held_is_refused() -> None:
    with pytest.raises(ValueError, match="break"):
        timed_walk(
            {1: 8}, ((0, 1), (1, 0)), away=((0, 60),), breaks=(Break(10, 20, 50),), limit_s=0
        )
