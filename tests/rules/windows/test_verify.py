"""The checker: each of the seven rules broken by one minute, and against days played by minutes."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from judging.rules.windows.problem import Break, Rotation, RotationProblem, Visit, VisitNeed
from judging.rules.windows.verify import Gap, faults, free_pieces, gaps, rests

# Two spots, 2 and 5 minutes from the gate and 3 from each other.
WALK = ((0, 2, 5), (2, 0, 3), (5, 3, 0))
SPOT = {"A": 1, "B": 2}


def rotation(*visits: Visit) -> Rotation:
    return Rotation(visits, max(visit.end for visit in visits), 0, False, "by hand")


def day(*starts: int, **rules: Any) -> tuple[str, ...]:
    """Faults of Cole's day: 10 minutes at A, then 10 at B."""
    problem = RotationProblem(
        (VisitNeed("A", "Cole", 10), VisitNeed("B", "Cole", 10)), WALK, SPOT, **rules
    )
    a, b = starts
    return faults(problem, rotation(Visit("A", "Cole", a, a + 10), Visit("B", "Cole", b, b + 10)))


# -- rules 1 to 3 ----------------------------------------------------------------------------

PAIR = RotationProblem(
    (VisitNeed("A", "Cole", 10), VisitNeed("A", "Wynn", 5)), WALK, SPOT, crew_reset_minutes=4
)


def test_a_clean_day_has_no_fault() -> None:
    assert day(2, 15) == ()
    assert faults(PAIR, rotation(Visit("A", "Cole", 2, 12), Visit("A", "Wynn", 16, 21))) == ()


@pytest.mark.parametrize("end", [11, 13])
def test_rule_1_a_minute_too_few_or_too_many(end: int) -> None:
    found = faults(PAIR, rotation(Visit("A", "Cole", 2, end), Visit("A", "Wynn", 17, 22)))
    assert found == (f"Cole has {end - 2} of 10 minutes at A",)


def test_rule_1_left_out_twice_and_not_asked_for() -> None:
    cole, wynn = Visit("A", "Cole", 2, 12), Visit("A", "Wynn", 16, 21)
    assert faults(PAIR, rotation(cole)) == ("Wynn visits A 0 times",)
    again = Visit("A", "Wynn", 25, 30)
    assert faults(PAIR, rotation(cole, wynn, again)) == ("Wynn visits A 2 times",)
    other = Visit("B", "Wynn", 24, 29)
    assert faults(PAIR, rotation(cole, wynn, other)) == ("nobody asked Wynn to visit B",)


@pytest.mark.parametrize(
    ("start", "fault"),
    [(15, "Wynn comes to A before the crew is ready"), (11, "Cole and Wynn are at A at once")],
)
def test_rule_2_a_minute_before_the_crew_is_ready(start: int, fault: str) -> None:
    found = faults(PAIR, rotation(Visit("A", "Cole", 2, 12), Visit("A", "Wynn", start, start + 5)))
    assert found == (fault,)


def test_rule_2_time_away_serves_as_reset() -> None:
    away = replace(PAIR, crew_away={"A": ((12, 16),)})
    cole = Visit("A", "Cole", 2, 12)
    assert faults(away, rotation(cole, Visit("A", "Wynn", 16, 21))) == ()


def test_rule_2_a_long_visit_over_several_others_is_found_more_than_once() -> None:
    problem = RotationProblem(
        (VisitNeed("A", "Cole", 9), VisitNeed("A", "Wynn", 2), VisitNeed("A", "Ada", 2)),
        ((0, 0), (0, 0)),
        {"A": 1},
    )
    assert faults(
        problem,
        rotation(Visit("A", "Cole", 0, 9), Visit("A", "Wynn", 1, 3), Visit("A", "Ada", 4, 6)),
    ) == ("Cole and Wynn are at A at once", "Cole and Ada are at A at once")


def test_rule_3_a_minute_too_few_to_walk() -> None:
    assert day(1, 15) == ("Cole is at A at minute 1 but needs 2 to walk there",)
    assert day(2, 14) == ("Cole has no time to walk from A to B",)
    assert "Cole is at A and B at once" in day(2, 11)


# -- rules 4 and 5 ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("span", "clean"),
    [((12, 15), True), ((11, 14), False), ((25, 40), True), ((24, 40), False), ((15, 16), False)],
)
def test_rule_4_no_visit_while_the_crew_is_away(span: tuple[int, int], clean: bool) -> None:
    found = day(2, 15, crew_away={"A": (span,), "B": (span,)})
    assert (found == ()) == clean
    assert clean or all("but the crew is away from" in words for words in found)


def test_rule_4_no_visit_while_the_judge_is_away() -> None:
    assert day(2, 15, judge_away={"Cole": ((25, 40),)}) == ()
    assert day(2, 15, judge_away={"Cole": ((24, 40),)}) == (
        "Cole is at B from minute 15 to 25 but away from 24 to 40",
    )


def test_rule_5_nobody_walks_while_away() -> None:
    assert day(2, 20, judge_away={"Cole": ((13, 18),)}) == ()
    assert day(2, 19, judge_away={"Cole": ((12, 16),)}) == ()
    assert day(2, 19, judge_away={"Cole": ((13, 18),)}) == ("Cole has no time to walk from A to B",)
    assert day(4, 17, judge_away={"Cole": ((0, 2),)}) == ()
    assert day(4, 17, judge_away={"Cole": ((0, 3),)}) == (
        "Cole is at A at minute 4 but needs 2 to walk there",
    )


def test_spans_that_overlap_count_once() -> None:
    spans = ((13, 16), (14, 18), (13, 18))
    assert day(2, 20, judge_away={"Cole": spans}) == ()
    assert free_pieces(12, 20, spans) == ((12, 13), (18, 20))


# -- rule 6 ----------------------------------------------------------------------------------


def rest(minutes: int, earliest: int, latest: int, *more: Break) -> dict[str, tuple[Break, ...]]:
    return {"Cole": (Break(minutes, earliest, latest), *more)}


@pytest.mark.parametrize(
    ("start", "breaks", "clean"),
    [
        (25, rest(10, 12, 25), True),  # 13 minutes between the visits, 3 to walk
        (24, rest(10, 12, 25), False),
        (25, rest(11, 12, 25), False),
        (25, rest(10, 12, 22), True),
        (25, rest(10, 13, 23), True),  # a minute's walk before it, two after
        (25, rest(10, 11, 21), False),  # in the visit
        (25, rest(10, 16, 26), False),  # in the next one
        (25, rest(5, 12, 30, Break(5, 12, 30)), True),
        (25, rest(5, 12, 30, Break(6, 12, 30)), False),  # each alone would do
        (15, rest(5, 0, 40), True),  # after the last visit
        (15, rest(5, 0, 29), False),
        (15, rest(5, 0, 30), True),
    ],
)
def test_rule_6_a_minute_too_few_to_rest(start: int, breaks: Any, clean: bool) -> None:
    assert (day(2, start, breaks=breaks) == ()) == clean


def test_rule_6_before_the_first_visit() -> None:
    assert day(22, 35, breaks=rest(20, 0, 25)) == ()
    assert day(22, 35, breaks=rest(20, 0, 20)) == ()
    assert day(21, 35, breaks=rest(20, 0, 25)) == (
        "Cole has no 20 minutes in one piece to rest between minute 0 and 25",
    )


def test_rule_6_in_one_piece_and_not_while_away() -> None:
    breaks = rest(10, 12, 40)
    assert day(2, 30, breaks=breaks, judge_away={"Cole": ((12, 15),)}) == ()
    assert day(2, 30, breaks=breaks, judge_away={"Cole": ((20, 22),)}) != ()
    assert day(2, 30, breaks=breaks, judge_away={"Cole": ((22, 24),)}) == ()


def test_rule_6_two_breaks_in_one_gap_want_the_right_order() -> None:
    """The one that must end first comes first, whatever order they were written in."""
    late, soon = Break(6, 12, 40), Break(6, 12, 18)
    for pair in ((late, soon), (soon, late)):
        assert day(2, 28, breaks={"Cole": pair}) == ()
    assert day(2, 28, breaks={"Cole": (soon, replace(soon, latest=19))}) == (
        "Cole has no time for all 2 breaks together",
    )


def test_rule_6_of_a_judge_without_a_visit() -> None:
    away = {"Wynn": ((0, 10),)}
    assert day(2, 15, breaks={"Wynn": (Break(5, 0, 15),)}, judge_away=away) == ()
    assert day(2, 15, breaks={"Wynn": (Break(5, 0, 14),)}, judge_away=away) != ()


def test_a_gap_left_early_for_a_later_one_is_found() -> None:
    """The first break fits both gaps, the second only the first: one must make room."""
    line = (Gap(None, None, ((0, 8),), 2), Gap(None, None, ((20, 30),), 2))
    assert rests(line, [Break(6, 0, 40), Break(6, 0, 10)]) == ((1, 20), (0, 0))


# -- rule 7 ----------------------------------------------------------------------------------


def test_rule_7_first_and_last_stops() -> None:
    """Two judges, three wagons: no two may begin, nor end, at the same one."""
    problem = RotationProblem(
        tuple(VisitNeed(w, j, 2) for w in "ABC" for j in ("Cole", "Wynn")),
        tuple((0,) * 4 for _ in range(4)),
        {"A": 1, "B": 2, "C": 3},
    )

    def plan(cole: str, wynn: str) -> Rotation:
        both = (("Cole", cole, 0), ("Wynn", wynn, 2))
        return rotation(
            *(
                Visit(w, judge, 6 * i + shift, 6 * i + shift + 2)
                for judge, order, shift in both
                for i, w in enumerate(order)
            )
        )

    fair = replace(problem, fair_ends=True)
    assert faults(fair, plan("ABC", "BCA")) == ()
    assert faults(problem, plan("ABC", "ACB")) == ()
    assert faults(fair, plan("ABC", "ACB")) == ("A is the first stop of 2 judges where 1 would do",)
    assert faults(fair, plan("ABC", "BAC")) == ("C is the last stop of 2 judges where 1 would do",)


def test_rule_7_leaves_out_judges_of_one_wagon() -> None:
    problem = RotationProblem(
        (VisitNeed("A", "Cole", 2), VisitNeed("A", "Wynn", 2), VisitNeed("B", "Wynn", 2)),
        tuple((0,) * 3 for _ in range(3)),
        SPOT,
        fair_ends=True,
    )
    one = Visit("A", "Cole", 0, 2)
    assert faults(problem, rotation(one, Visit("A", "Wynn", 2, 4), Visit("B", "Wynn", 4, 6))) == ()


def test_the_figures_of_a_rotation() -> None:
    plan = rotation(Visit("A", "Cole", 2, 12), Visit("A", "Wynn", 16, 21))
    assert faults(PAIR, replace(plan, makespan=20)) == ("the last visit ends at 21, not at 20",)
    assert faults(PAIR, replace(plan, lower_bound=22)) == ("the bound 22 is above the makespan 21",)


# -- against a day played minute by minute ---------------------------------------------------


def playable(problem: RotationProblem, judge: str, own: list[Visit], until: int) -> bool:
    """Play a judge's day minute by minute in every way there is; True if one keeps all rules.

    A state holds the walking still to do to the next wagon, the breaks rested, and the break
    being rested with its minutes left. Each minute the judge visits, walks, rests, is away or
    idles.
    """
    away = {m for a, b in problem.judge_away.get(judge, ()) for m in range(a, b)}
    breaks = problem.breaks.get(judge, ())
    stops = [0, *(problem.spot[visit.entry] for visit in own), None]
    legs = [
        0 if there is None else problem.walk[here or 0][there] for here, there in pairwise(stops)
    ]
    state_at = {m: visit for visit in own for m in range(visit.start, visit.end)}
    if len(state_at) < sum(visit.end - visit.start for visit in own) or own[0].start < 0:
        return False
    states = {(legs[0], frozenset[int](), -1, 0)}
    arrived = 0
    for minute in range(until):
        visit = state_at.get(minute)
        if visit is not None:
            if minute in away:
                return False
            if minute == visit.start:
                arrived += 1
                states = {
                    (legs[arrived], rested, -1, 0)
                    for walk, rested, resting, _ in states
                    if walk == 0 and resting < 0
                }
            continue
        states = {
            after for before in states for after in a_minute(before, minute, breaks, minute in away)
        }
    # What comes after the last minute of all spans holds no rest any more.
    return any(len(rested) == len(breaks) for _, rested, _, _ in states)


def a_minute(state: Any, minute: int, breaks: tuple[Break, ...], away: bool) -> list[Any]:
    walk, rested, resting, left = state
    if resting >= 0:
        if away or minute >= breaks[resting].latest:
            return []
        return [
            (walk, rested | {resting}, -1, 0) if left == 1 else (walk, rested, resting, left - 1)
        ]
    after = [(walk, rested, -1, 0)]
    if away:
        return after
    if walk:
        after.append((walk - 1, rested, -1, 0))
    for i, each in enumerate(breaks):
        if i not in rested and each.earliest <= minute < each.latest:
            done = each.minutes == 1
            after.append(
                (walk, rested | {i}, -1, 0) if done else (walk, rested, i, each.minutes - 1)
            )
    return after


def crews_ready(problem: RotationProblem, plan: Rotation) -> bool:
    """Play every wagon minute by minute: one judge, crew there, reset before the next."""
    for entry in problem.spot:
        away = {m for a, b in problem.crew_away.get(entry, ()) for m in range(a, b)}
        own = [visit for visit in plan.visits if visit.entry == entry]
        last, since = None, problem.crew_reset_minutes
        for minute in range(plan.makespan + 1):
            there = [visit for visit in own if visit.start <= minute < visit.end]
            if len(there) > 1 or (there and minute in away):
                return False
            if there and there[0] != last and since < problem.crew_reset_minutes:
                return False
            since = 0 if there else since + 1
            last = there[0] if there else last
    return True


SPANS = st.tuples(st.integers(0, 30), st.integers(1, 8)).map(lambda s: (s[0], s[0] + s[1]))


@st.composite
def timetables(draw: st.DrawFn) -> tuple[RotationProblem, Rotation]:
    """Two judges, three wagons, few minutes: tight enough that either answer is common."""
    half = {(i, k): draw(st.integers(0, 3)) for i in range(4) for k in range(i)}
    walk = tuple(
        tuple(0 if i == k else half[max(i, k), min(i, k)] for k in range(4)) for i in range(4)
    )
    spot = {"A": 1, "B": 2, "C": 3}
    needs, visits = [], []
    for judge in draw(st.sampled_from((("Cole",), ("Cole", "Wynn")))):
        order = draw(st.permutations("ABC"))[: draw(st.integers(1, 3))]
        now = 0
        for entry in order:
            now += draw(st.integers(0, 12))
            minutes = draw(st.integers(1, 5))
            needs.append(VisitNeed(entry, judge, minutes))
            visits.append(Visit(entry, judge, now, now + minutes))
            now += minutes
    breaks = tuple(
        Break(minutes, earliest, earliest + minutes + slack)
        for minutes, earliest, slack in draw(
            st.lists(
                st.tuples(st.integers(1, 6), st.integers(0, 25), st.integers(0, 12)), max_size=3
            )
        )
    )
    problem = RotationProblem(
        tuple(needs),
        walk,
        spot,
        draw(st.integers(0, 2)),
        judge_away={"Cole": tuple(draw(st.lists(SPANS, max_size=2)))},
        crew_away={"A": tuple(draw(st.lists(SPANS, max_size=1)))},
        breaks={"Cole": breaks},
    )
    return problem, rotation(*visits)


@given(timetables())
@settings(max_examples=800, deadline=None)
@example(
    (
        RotationProblem(
            (VisitNeed("A", "Cole", 1),),
            ((0, 3), (3, 0)),
            {"A": 1},
            judge_away={"Cole": ((1, 3),)},
            breaks={"Cole": (Break(1, 0, 5), Break(1, 3, 7))},
        ),
        rotation(Visit("A", "Cole", 7, 8)),
    )
)
def test_the_checker_agrees_with_days_played_by_minutes(
    case: tuple[RotationProblem, Rotation],
) -> None:
    problem, plan = case
    until = max(plan.makespan, 50)
    days: dict[Any, list[Visit]] = {}
    for visit in sorted(plan.visits, key=lambda visit: visit.start):
        days.setdefault(visit.judge, []).append(visit)
    clean = crews_ready(problem, plan) and all(
        playable(problem, judge, own, until) for judge, own in days.items()
    )
    assert (faults(problem, plan) == ()) == clean


def test_the_gaps_of_a_day() -> None:
    problem = RotationProblem(
        (VisitNeed("A", "Cole", 10),), WALK, SPOT, judge_away={"Cole": ((0, 4),)}
    )
    before, after = gaps(problem, "Cole", [Visit("A", "Cole", 8, 18)])
    assert (before.free, before.walk, before.spare) == (4, 2, 2)
    assert after.walk == 0
    assert after.pieces[0][0] == 18
