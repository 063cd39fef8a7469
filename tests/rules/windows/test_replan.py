"""Re-planning a running day: clean, never worse than the push, few moved, the frozen kept."""

from __future__ import annotations

import random
import threading
import time
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.rules.windows.problem import Break, Rotation, RotationProblem, Visit, VisitNeed
from judging.rules.windows.replan import Replan, push, replan
from judging.rules.windows.replan_case import Case
from judging.rules.windows.rotation import DispatchSolver
from tests.rules.windows.running_day import (
    crew_leaves,
    ground,
    judge_loses,
    slack_judge,
    under_way,
)

NEVER_SHORT = 20.0  # seconds; the solver's own measure of work ends a search long before


@cache
def day(wagons: int, judges: int, seed: int = 3) -> tuple[RotationProblem, Rotation]:
    problem = ground(wagons, judges, seed)
    return problem, DispatchSolver(rounds=4_000).solve(problem)


def starts(plan: Replan) -> dict[Any, int]:
    return {(visit.entry, visit.judge): visit.start for visit in plan.rotation.visits}


# -- by hand: one judge, wagons in a row, no walking -----------------------------------------


def row(wagons: int, minutes: int = 10, **rules: Any) -> RotationProblem:
    return RotationProblem(
        tuple(VisitNeed(w, "Cole", minutes) for w in range(1, wagons + 1)),
        ((0,) * (wagons + 1),) * (wagons + 1),
        {w: w for w in range(1, wagons + 1)},
        **rules,
    )


def announced(*times: int, minutes: int = 10) -> Rotation:
    visits = tuple(Visit(w, "Cole", at, at + minutes) for w, at in enumerate(times, start=1))
    return Rotation(visits, max(times) + minutes, minutes, False, "by hand")


FOUR = announced(0, 10, 20, 30)


def test_nothing_happened_nothing_moves() -> None:
    case = under_way(row(4), FOUR, 5)
    for plan in (push(case), replan(case)):
        assert plan.moved == ()
        assert plan.score == (0, 0, 0)
        assert plan.faults() == ()
    assert replan(case).proven


def test_the_push_keeps_the_order_and_the_plan_moves_one() -> None:
    """Cole is 8 minutes late after his first wagon; there is room at the end of the window."""
    case = under_way(row(4), FOUR, 5, judge_ready={"Cole": (18, 1)}, window_minutes=50)
    late = push(case)
    assert starts(late) == {(2, "Cole"): 18, (3, "Cole"): 28, (4, "Cole"): 38}
    assert late.score == (0, 3, 24)
    light = replan(case)
    assert starts(light) == {(2, "Cole"): 40, (3, "Cole"): 20, (4, "Cole"): 30}
    assert (light.visits_moved, light.wagons_moved, light.largest_shift) == (1, 1, 30)
    assert light.proven
    assert light.faults() == ()
    assert late.sentences()[0] == "3 visits at 3 wagons move by more than 5 minutes."
    assert light.sentences(beside=late)[0] == (
        "1 visit at 1 wagon moves by more than 5 minutes; pushing everybody later would move 3."
    )
    assert late.solver == late.rotation.solver == "push"
    assert light.solver == light.rotation.solver != "push"


def test_overrun_counts_more_than_any_number_of_visits() -> None:
    """To leave two of three where they were would end two minutes later than moving two."""
    case = under_way(
        row(4), FOUR, 5, judge_ready={"Cole": (18, 1)}, window_minutes=40, frozen_minutes=14
    )
    light = replan(case)
    assert (light.overrun, light.visits_moved) == (8, 2)
    assert light.proven


def test_five_minutes_are_not_noticed() -> None:
    """Two are called two minutes early, which nobody notices, and one goes last."""
    case = under_way(row(4), FOUR, 5, judge_ready={"Cole": (18, 1)}, window_minutes=40)
    light = replan(case)
    assert starts(light) == {(2, "Cole"): 38, (3, "Cole"): 18, (4, "Cole"): 28}
    assert light.score == (8, 1, 32)


def test_frozen_visits_keep_their_times_unless_that_is_impossible() -> None:
    plan = announced(0, 12, 22, 32)
    ahead = under_way(row(4), plan, 5, frozen_minutes=20, window_minutes=60)
    pinned = replace(ahead, judge_ready={"Cole": (12, 1)})
    assert starts(replan(pinned))[2, "Cole"] == 12
    late = replace(ahead, judge_ready={"Cole": (13, 1)})
    found = replan(late)
    assert starts(found)[3, "Cole"] >= 22
    assert starts(found)[2, "Cole"] != 12
    # Nobody but those is called on at shorter notice than the frozen minutes.
    assert all(at >= 25 for key, at in starts(found).items() if key == (4, "Cole"))


def test_no_visit_is_moved_into_the_frozen_minutes() -> None:
    """Wagon 2 is scratched, so Cole could be early everywhere; nobody is called on early."""
    problem = row(4)
    without = replace(problem, visits=tuple(v for v in problem.visits if v.entry != 2))
    case = under_way(without, FOUR, 5)
    found = replan(case)
    assert found.moved == ()
    assert [(visit.entry, visit.judge) for visit in case.gone] == [(2, "Cole")]
    assert "1 announced visit fall" in " ".join(found.sentences())


def test_the_farthest_move_is_capped_where_it_can_be() -> None:
    """Put last, wagon 2 would move by 90 minutes; with a cap the nearest few move instead."""
    plan = announced(*range(0, 110, 10))
    case = under_way(row(11), plan, 5, judge_ready={"Cole": (18, 1)}, window_minutes=120)
    free, capped = replan(case, farthest=200), replan(case, farthest=30)
    assert (free.visits_moved, free.largest_shift) == (1, 100)
    assert capped.largest_shift <= 30
    assert 1 < capped.visits_moved < push(case).visits_moved
    assert "more than the 60 aimed at" in " ".join(free.sentences())


def test_a_visit_given_to_another_judge_is_put_where_it_moves_nobody() -> None:
    """Wynn is gone; her visit at wagon 1 goes to Cole, who is free from minute 40."""
    needs = (*row(4).visits, VisitNeed(1, "Wynn", 10))
    before = replace(row(4), visits=(*needs, VisitNeed(2, "Wynn", 10)))
    plan = Rotation(
        (*FOUR.visits, Visit(1, "Wynn", 20, 30), Visit(2, "Wynn", 30, 40)), 40, 10, False, ""
    )
    gone = replace(
        before, visits=(*row(4).visits, VisitNeed(1, "Ada", 10), VisitNeed(2, "Ada", 10))
    )
    case = under_way(gone, plan, 5, window_minutes=60)
    for found in (push(case), replan(case)):
        assert found.faults() == ()
        assert found.visits_moved == 0
        assert {each.entry for each in found.moved if each.was is None} == {1, 2}
        assert all(each.now >= 15 for each in found.moved)
        assert {visit.judge for visit in case.gone} == {"Wynn"}
    assert "2 visits were not announced" in " ".join(push(case).sentences())


def test_a_crew_is_visited_no_sooner_than_it_is_ready() -> None:
    case = under_way(row(4), FOUR, 5, crew_ready={3: 28}, window_minutes=50)
    assert starts(push(case)) == {(2, "Cole"): 10, (3, "Cole"): 28, (4, "Cole"): 38}
    assert starts(replan(case)) == {(2, "Cole"): 10, (3, "Cole"): 40, (4, "Cole"): 30}


def test_a_break_that_cannot_be_held_is_rested_late_and_said() -> None:
    problem = row(3, breaks={"Cole": (Break(10, 10, 22),)})
    plan = announced(0, 22, 32)
    case = under_way(problem, plan, 5, judge_ready={"Cole": (16, 1)})
    for found in (push(case), replan(case)):
        assert starts(found)[2, "Cole"] == 26
        assert found.faults() == ()
        assert "Cole may end the break of 10 minutes 4 minutes late." in found.sentences()


def test_a_break_that_has_been_rested_is_not_rested_again() -> None:
    problem = row(3, breaks={"Cole": (Break(10, 0, 60),)})
    plan = announced(0, 20, 30)
    case = under_way(problem, plan, 21)
    assert case.owed("Cole") == ()
    assert push(case).moved == ()
    # With the second visit begun two minutes sooner there was no room for it.
    soon = replace(case, under_way=(Visit(2, "Cole", 18, 28),))
    assert case.problem.breaks["Cole"] == soon.owed("Cole")


def test_nothing_left() -> None:
    case = under_way(row(4), FOUR, 40)
    for found in (push(case), replan(case)):
        assert found.rotation.visits == ()
        assert found.score == (0, 0, 0)
        assert found.faults() == ()
        assert found.sentences()
    late = under_way(row(4), FOUR, 35, window_minutes=38)
    assert replan(late).overrun == 2


@pytest.mark.parametrize(
    "changes",
    [
        {"now": -1},
        {"frozen_minutes": -1},
        {"judge_ready": {"Cole": (5, 5)}},
        {"judge_ready": {"Cole": (-5, 1)}},
        {"done": (Visit(1, "Cole", 9, 8),)},
    ],
)
def test_a_case_must_make_sense(changes: Any) -> None:
    with pytest.raises(ValueError, match=r"opening|place|no time"):
        replace(under_way(row(4), FOUR, 5), **changes)


# -- any small day: clean, and never worse than the push -------------------------------------


@st.composite
def running_days(draw: st.DrawFn) -> Case:
    """A planned day of up to five wagons and three judges, and mishaps of all kinds."""
    rng = random.Random(draw(st.integers(0, 10**6)))
    wagons, judges = draw(st.integers(1, 5)), draw(st.integers(1, 3))
    n = range(wagons + 1)
    half = {(i, k): rng.randint(0, 4) for i in n for k in range(i)}
    walk = tuple(tuple(0 if i == k else half[max(i, k), min(i, k)] for k in n) for i in n)
    names = [f"judge {j}" for j in range(judges)]
    problem = RotationProblem(
        tuple(VisitNeed(w, j, rng.randint(2, 9)) for w in n[1:] for j in names),
        walk,
        {w: w for w in n[1:]},
        rng.randint(0, 2),
        breaks={names[0]: (Break(rng.randint(3, 8), 10, 60),)} if rng.random() < 0.4 else {},
    )
    plan = DispatchSolver(drafts=4, rounds=100).solve(problem)
    now = rng.randint(0, plan.makespan)
    case = under_way(
        problem,
        plan,
        now,
        frozen_minutes=rng.choice((0, 5, 10)),
        window_minutes=plan.makespan + rng.choice((0, 10, 30)),
    )
    if rng.random() < 0.6:
        judge = rng.choice(names)
        busy = max((v.end for v in case.seen if v.judge == judge), default=0)
        ready = max(now, busy) + rng.randint(0, 25)
        case = replace(case, judge_ready={judge: (ready, rng.randrange(wagons + 1))})
    if rng.random() < 0.6:
        away = {rng.randint(1, wagons): ((now + rng.randint(0, 10), now + rng.randint(11, 40)),)}
        case = replace(case, problem=replace(case.problem, crew_away=away))
    if rng.random() < 0.4:
        span = (now + rng.randint(0, 5), now + rng.randint(6, 30))
        case = replace(case, problem=replace(case.problem, judge_away={rng.choice(names): (span,)}))
    if rng.random() < 0.3:
        gone = rng.choice(names)
        begun = {(v.entry, v.judge) for v in case.seen}
        visits = tuple(
            replace(v, judge="stand-in") if v.judge == gone and (v.entry, gone) not in begun else v
            for v in case.problem.visits
        )
        case = replace(case, problem=replace(case.problem, visits=visits))
    return case


@given(running_days())
@settings(max_examples=150, deadline=None)
def test_the_push_is_clean_and_moves_nobody_forward(case: Case) -> None:
    plan = push(case)
    assert plan.faults() == ()
    assert {(v.entry, v.judge) for v in plan.rotation.visits} == {
        (need.entry, need.judge) for need in case.left
    }
    assert all(each.now > each.was for each in plan.moved if each.was is not None)
    assert all(visit.start >= case.now for visit in plan.rotation.visits)
    assert plan == push(case)


@given(running_days())
@settings(max_examples=40, deadline=None)
def test_a_replan_is_clean_and_never_worse_than_the_push(case: Case) -> None:
    plain = push(case)
    for limit_s in (0.0, 0.6):
        plan = replan(case, limit_s=limit_s)
        assert plan.faults() == ()
        assert plan.score <= plain.score
        assert plan.largest_shift <= max(60, plain.largest_shift)
        for visit in plan.rotation.visits:
            key = visit.entry, visit.judge
            if case.was.get(key) != visit.start:
                assert visit.start >= case.soonest(key)
        for visit in plain.rotation.visits:
            if case.holds(visit):
                assert visit in plan.rotation.visits


# -- whole shows -----------------------------------------------------------------------------


def test_a_judge_who_loses_time_moves_a_quarter_of_what_the_push_moves() -> None:
    problem, plan = day(15, 5)
    now = plan.makespan // 3
    case = judge_loses(problem, plan, now, slack_judge(plan, now), 12)
    plain, found = push(case), replan(case, limit_s=NEVER_SHORT, deterministic=1.0)
    assert plain.faults() == found.faults() == ()
    assert found.overrun == 0
    assert plain.visits_moved >= 8
    assert found.visits_moved <= 0.25 * plain.visits_moved


def test_a_crew_away_for_half_an_hour_moves_a_quarter_of_what_the_push_moves() -> None:
    problem, plan = day(15, 5)
    now = plan.makespan // 3
    case = crew_leaves(problem, plan, now, 12, (now + 12, now + 42))
    plain, found = push(case), replan(case, limit_s=NEVER_SHORT, deterministic=1.0)
    assert found.faults() == ()
    assert plain.visits_moved >= 8
    assert found.overrun <= plain.overrun
    assert found.visits_moved <= 0.25 * plain.visits_moved


def test_the_same_day_gets_the_same_times() -> None:
    problem, plan = day(15, 5)
    now = plan.makespan // 3
    case = judge_loses(problem, plan, now, "judge 3", 12)
    first, second = (
        replan(case, limit_s=2 * NEVER_SHORT, deterministic=0.15, seed=4) for _ in range(2)
    )
    assert first.rotation == second.rotation


def test_a_push_of_a_large_show_is_there_at_once() -> None:
    problem, plan = day(40, 6)
    case = judge_loses(problem, plan, plan.makespan // 3, "judge 1", 25)
    begun = time.process_time()
    found = push(case)
    assert time.process_time() - begun < 0.25
    assert found.visits_moved > 20


def test_a_stop_leaves_what_is_known() -> None:
    problem, plan = day(20, 5)
    case = judge_loses(problem, plan, plan.makespan // 3, "judge 3", 12)
    stop = threading.Event()
    stop.set()
    begun = time.monotonic()
    found = replan(case, limit_s=30, stop=stop)
    assert time.monotonic() - begun < 5
    assert found.faults() == ()
    assert not found.proven
    threading.Timer(0.5, stop.set).start()
    stop.clear()
    begun = time.monotonic()
    assert replan(case, limit_s=30, stop=stop).score <= push(case).score
    assert time.monotonic() - begun < 6
