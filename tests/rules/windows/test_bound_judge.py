"""The bound of a judge alone: never above a true optimum, and above the simple one where it can."""

from __future__ import annotations

import random
import threading
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.bound import bound_of
from judging.rules.windows.bound_judge import stronger_bound
from judging.rules.windows.bound_sets import JudgeAlone, _fitted, _reached
from judging.rules.windows.exact import build, improve, search
from judging.rules.windows.problem import Break, RotationProblem, VisitNeed
from judging.rules.windows.rotation import DispatchSolver
from judging.rules.windows.search_day import fitted, merged, reached
from judging.rules.windows.search_long import annealed
from judging.rules.windows.verify import faults
from tests.benchmarks.bench_rotation_cases import ground
from tests.rules.windows.busy_days import busy_ground, busy_problems, spans

ROUGH = DispatchSolver(drafts=2, rounds=0)
MANY = 10**9


def shortest(problem: RotationProblem) -> int:
    """Solve a small problem to the end by the full model, without any bound's help."""
    exact = build(problem, horizon=ROUGH.solve(problem).makespan, lower_bound=0)
    exact.model.minimize(exact.makespan)
    found = search(exact, limit_s=60, deterministic=60)
    assert found.status == "OPTIMAL"
    assert found.bound is not None
    return found.bound


@st.composite
def camps(draw: st.DrawFn) -> RotationProblem:
    """Small camps as the benchmark lays them out, with turn-ins and breaks that are in the way."""
    seed, wide = draw(st.integers(0, 999)), draw(st.booleans())
    judges = draw(st.integers(1, 2))
    problem = ground(
        "E", draw(st.integers(2, 6 if judges == 1 else 4)), judges, seed=seed, wide=wide
    )
    rng = random.Random(seed)
    turns = {w: rng.choice((5, 10, 20, 30)) for w in problem.spot}
    rest = draw(st.integers(1, 25))
    return replace(
        problem,
        crew_away={w: ((at, at + 15), (at + 25, at + 40)) for w, at in turns.items()},
        breaks=dict.fromkeys(
            range(judges), (Break(rest, rest, rest + draw(st.integers(rest, 40))),)
        ),
    )


@given(st.one_of(camps(), busy_problems(wagons=3, most=6)))
@settings(max_examples=60, deadline=None)
def test_it_is_never_above_the_shortest_rotation(problem: RotationProblem) -> None:
    assert bound_of(problem).minutes <= stronger_bound(problem) <= shortest(problem)


@given(st.one_of(camps(), busy_problems(wagons=6, most=6)))
@settings(max_examples=60, deadline=None)
def test_for_one_judge_with_one_break_it_is_the_shortest(problem: RotationProblem) -> None:
    judge = problem.visits[0].judge
    alone = replace(
        problem,
        visits=tuple(need for need in problem.visits if need.judge == judge),
        breaks={judge: problem.breaks[judge][:1]},
        fair_ends=False,
    )
    makespan = shortest(alone)
    assert stronger_bound(alone) == makespan
    days = JudgeAlone(alone)
    assert [days.done_by(makespan + by, limit=MANY) for by in (-1, 0, 3)] == [False, True, True]


@given(spans(4), st.integers(0, 30))
@settings(deadline=None)
def test_many_minutes_at_once_count_like_one(
    away: tuple[tuple[int, int], ...], length: int
) -> None:
    times, apart = np.arange(90, dtype=np.int16), merged(away)
    assert _reached(times, length, apart).tolist() == [reached(t, length, apart) for t in range(90)]
    assert _fitted(times, length, apart).tolist() == [fitted(t, length, apart) for t in range(90)]


@pytest.mark.parametrize("size", [(10, 4), (15, 5)])
def test_it_is_above_the_simple_bound_on_wide_grounds_with_turn_ins(size: tuple[int, int]) -> None:
    grounds = [ground("E", *size, seed=seed, wide=True) for seed in range(3)]
    raised = [stronger_bound(each) - bound_of(each).minutes for each in grounds]
    assert min(raised) >= 1
    assert [stronger_bound(each) - bound_of(each).minutes for each in grounds] == raised


def test_limits_leave_the_simple_bound() -> None:
    problem = ground("E", 10, 4, seed=0, wide=True)
    simple, stop = bound_of(problem).minutes, threading.Event()
    stop.set()
    assert stronger_bound(problem, stop=stop) == simple
    assert stronger_bound(problem, until=0.0) == simple
    assert stronger_bound(problem, limit=5) == simple
    assert stronger_bound(problem, most=simple) == simple
    assert stronger_bound(problem, most=simple + 1) == simple + 1
    days = JudgeAlone(replace(problem, visits=problem.visits[::4]))
    assert days.done_by(simple, limit=5) is None


def test_a_break_that_cannot_be_had_is_said() -> None:
    problem = RotationProblem(
        (VisitNeed("A", "Cole", 10),),
        ((0, 4), (4, 0)),
        {"A": 1},
        judge_away={"Cole": ((5, 12),)},
        breaks={"Cole": (Break(10, 0, 15),)},
    )
    with pytest.raises(ValueError, match="Cole has no time for a break"):
        stronger_bound(problem)


@given(busy_problems())
@settings(max_examples=40, deadline=None)
def test_annealing_on_keeps_every_rule_and_is_never_worse(problem: RotationProblem) -> None:
    rough = ROUGH.solve(problem)
    told: list[int] = []
    first, second = (
        annealed(
            problem,
            rough,
            bound=rough.lower_bound,
            rounds=300,
            seed=3,
            on_better=lambda rotation: told.append(rotation.makespan),
        )
        for _ in range(2)
    )
    assert first == second
    assert first.makespan <= rough.makespan
    assert faults(problem, first) == ()
    assert (min(told) if told else rough.makespan) == first.makespan


def test_annealing_on_is_called_off() -> None:
    problem = busy_ground(20, 5, seed=1)
    rough, stop = ROUGH.solve(problem), threading.Event()
    stop.set()
    assert annealed(problem, rough, bound=0, rounds=MANY, stop=stop) == rough
    assert annealed(problem, rough, bound=0, rounds=MANY, until=0.0) == rough


def test_a_search_says_the_stronger_bound() -> None:
    problem = ground("E", 10, 4, seed=0, wide=True)
    found = improve(problem, ROUGH.solve(problem), limit_s=60, deterministic=1.0)
    assert found.lower_bound >= stronger_bound(problem) > bound_of(problem).minutes
    assert faults(problem, found) == ()


ONE = RotationProblem((VisitNeed("A", "Cole", 10),), ((0, 4), (4, 0)), {"A": 1})


@pytest.mark.parametrize(
    ("latest", "makespan"),
    # The break may wait until after the visit, which ends at 14, but not so the second.
    [(19, 14), (18, 19)],
)
def test_a_break_can_come_last_to_the_minute(latest: int, makespan: int) -> None:
    days = JudgeAlone(replace(ONE, breaks={"Cole": (Break(5, 2, latest),)}))
    assert [days.done_by(makespan - 1, limit=MANY), days.done_by(makespan, limit=MANY)] == [
        False,
        True,
    ]


def test_a_question_not_answered_raises_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = ground("E", 10, 4, seed=0, wide=True)
    monkeypatch.setattr(JudgeAlone, "done_by", lambda *_, **__: None)
    assert stronger_bound(problem) == bound_of(problem).minutes
