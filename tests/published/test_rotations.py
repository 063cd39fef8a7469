"""Rotations against published optima of the open shop and against self-proving timetables."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from judging.rules.windows.exact import improve
from judging.rules.windows.problem import Break, Rotation, RotationProblem, Visit, VisitNeed
from judging.rules.windows.rotation import DispatchSolver, Solved, solve
from judging.rules.windows.verify import faults

ITEMS: dict[str, dict[str, Any]] = {
    item["id"]: item
    for item in json.loads(
        (Path(__file__).parents[1] / "reference" / "planning.json").read_text(encoding="utf-8")
    )
}
# Seconds; a few are enough on two idle cores, a busy machine takes its time.
LIMIT_S = 60.0


def ids(prefix: str) -> list[str]:
    return [name for name in ITEMS if name.startswith(prefix)]


def rules_kept(problem: RotationProblem, solved: Solved) -> bool:
    """Whether the starts of a table, put down as visits, break no rule."""
    minutes = {(need.entry, need.judge): need.minutes for need in problem.visits}
    visits = tuple(
        Visit(w, s, at, at + minutes[w, s])
        for w, row in enumerate(solved.starts)
        for s, at in enumerate(row)
        if at is not None
    )
    return not faults(
        problem, Rotation(visits, solved.makespan, solved.bound, solved.proven, "table")
    )


@pytest.mark.parametrize("name", ids("openshop-"))
def test_the_published_optimum_is_reached(name: str) -> None:
    item = ITEMS[name]
    minutes = item["data"]["p"]
    solved = solve(minutes, limit_s=LIMIT_S)
    assert solved.makespan == item["expected"]
    assert solved.bound <= solved.makespan
    n = len(minutes)
    problem = RotationProblem(
        tuple(VisitNeed(w, s, each) for w, row in enumerate(minutes) for s, each in enumerate(row)),
        ((0,) * (n + 1),) * (n + 1),
        {w: w + 1 for w in range(n)},
    )
    assert rules_kept(problem, solved)


@pytest.mark.parametrize("name", ids("latin-"))
def test_a_rotation_with_walking_meets_the_bound(name: str) -> None:
    data, expected = ITEMS[name]["data"], ITEMS[name]["expected"]
    solved = solve(
        [data["section_minutes"]] * len(data["walk"]),
        data["walk"],
        gate=data["gate"],
        reset=data["reset"],
    )
    assert (solved.makespan, solved.bound) == (expected["makespan"], expected["bound"])
    assert solved.proven


def busy(name: str) -> RotationProblem:
    """Turn-ins of every crew and a break of every judge."""
    data = ITEMS[name]["data"]
    n, sections = len(data["p"]), len(data["p"][0])
    rest = Break(data["brk"]["len"], data["brk"]["from"], data["brk"]["to"])
    gate = data["gate"]
    return RotationProblem(
        visits=tuple(
            VisitNeed(w, s, each) for w, row in enumerate(data["p"]) for s, each in enumerate(row)
        ),
        walk=((0, *gate), *((leg, *row) for leg, row in zip(gate, data["walk"], strict=True))),
        spot={w: w + 1 for w in range(n)},
        crew_reset_minutes=data["reset"],
        crew_away={w: tuple((a, b) for a, b in spans) for w, spans in enumerate(data["away"])},
        breaks=dict.fromkeys(range(sections), (rest,)),
    )


@pytest.mark.parametrize("name", ids("rotation-"))
def test_turn_ins_and_a_break(name: str) -> None:
    problem, expected = busy(name), ITEMS[name]["expected"]
    rotation = DispatchSolver().solve(problem)
    assert faults(problem, rotation) == ()
    most = expected.get("makespan", expected.get("makespan_at_most"))
    if rotation.makespan > most:
        rotation = improve(problem, rotation, limit_s=LIMIT_S, deterministic=4)
        assert faults(problem, rotation) == ()
    assert expected["lower_bound"] <= rotation.lower_bound <= rotation.makespan <= most
