"""Rotation problems with every rule in them, for tests of planners."""

from __future__ import annotations

import random
from dataclasses import replace

from hypothesis import strategies as st

from judging.rules.windows.problem import Break, RotationProblem, VisitNeed


@st.composite
def spans(draw: st.DrawFn, most: int = 2) -> tuple[tuple[int, int], ...]:
    """Up to so many spans, which may overlap and begin before the window opens."""
    found = []
    for _ in range(draw(st.integers(0, most))):
        begins = draw(st.integers(-5, 50))
        found.append((begins, begins + draw(st.integers(1, 25))))
    return tuple(found)


@st.composite
def busy_problems(draw: st.DrawFn, wagons: int = 5, most: int = 16) -> RotationProblem:
    """Any table of ways, wagons some judges pass by, people away, breaks, fair ends or not."""
    n_spots = draw(st.integers(1, wagons))
    half = {(i, k): draw(st.integers(0, 6)) for i in range(n_spots + 1) for k in range(i)}
    walk = tuple(
        tuple(0 if i == k else half[max(i, k), min(i, k)] for k in range(n_spots + 1))
        for i in range(n_spots + 1)
    )
    spot = {f"w{w}": draw(st.integers(1, n_spots)) for w in range(draw(st.integers(1, wagons)))}
    judges = ("j0", "j1", "j2")
    pairs = [(entry, judge) for entry in spot for judge in judges]
    chosen = draw(st.lists(st.sampled_from(pairs), unique=True, min_size=1, max_size=most))
    # Breaks end late enough to fit whatever the times away, which lie before minute 76.
    breaks = {
        judge: tuple(
            Break(length, earliest, 76 + 10 * (b + 1) + draw(st.integers(0, 20)))
            for b in range(draw(st.integers(0, 2)))
            for length, earliest in [(draw(st.integers(1, 10)), draw(st.integers(0, 60)))]
        )
        for judge in judges
    }
    problem = RotationProblem(
        visits=tuple(VisitNeed(e, j, draw(st.integers(1, 12))) for e, j in chosen),
        walk=walk,
        spot=spot,
        crew_reset_minutes=draw(st.integers(0, 3)),
        judge_away={judge: draw(spans()) for judge in judges},
        crew_away={entry: draw(spans()) for entry in spot},
        breaks=breaks,
    )
    return replace(problem, fair_ends=_can_be_fair(problem) and draw(st.booleans()))


def _can_be_fair(problem: RotationProblem) -> bool:
    """Every judge comes to every wagon: then some first and last stops are always fair."""
    entries = {need.entry for need in problem.visits}
    judges = {need.judge for need in problem.visits}
    return len(problem.visits) == len(entries) * len(judges)


def busy_ground(wagons: int, judges: int, seed: int) -> RotationProblem:
    """Rows of wagons 1 minute apart, two turn-ins of each crew, a break in the middle."""
    rng = random.Random(seed)
    places = [(0, 0), *((1 + w % 5, w // 5) for w in range(wagons))]
    walk = tuple(tuple(max(abs(a[0] - b[0]), abs(a[1] - b[1])) for b in places) for a in places)
    begins = [30 + 10 * (w % 3) for w in range(wagons + 1)]
    return RotationProblem(
        visits=tuple(
            VisitNeed(w, j, rng.randint(5, 11)) for w in range(1, wagons + 1) for j in range(judges)
        ),
        walk=walk,
        spot={w: w for w in range(1, wagons + 1)},
        crew_reset_minutes=1,
        crew_away={
            w: ((begins[w], begins[w] + 15), (begins[w] + 60, begins[w] + 75))
            for w in range(1, wagons + 1)
        },
        breaks={j: (Break(20, 20, 70),) for j in range(judges)},
    )
