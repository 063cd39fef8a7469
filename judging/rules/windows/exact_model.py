"""A rotation as a model for constraint programming: all seven rules, nothing left to a heuristic.

`build` is for whoever wants to search with a goal of their own; `exact.improve` shortens.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from judging.rules.windows.bound import bound_of, by
from judging.rules.windows.exact_day import AFTER_ALL, GATE, JudgeDay, hint_day
from judging.rules.windows.problem import Entry, Judge, Rotation, RotationProblem, Span, Visit
from judging.rules.windows.search_day import fitted, merged, reached, rests
from judging.rules.windows.walk import from_gate

Key = tuple[Entry, Judge]


@dataclass
class ExactModel:
    """A rotation problem in a form that a constraint solver reads.

    Parameters
    ----------
    problem
        What it was made of.
    model
        Variables and rules; without a goal until you set one.
    start
        Start of each visit [min], by entry and judge. Its end is the start plus fixed minutes.
    end
        End of each visit [min].
    makespan
        End of the last visit [min].
    horizon
        No visit ends later [min].
    lower_bound
        What `rotation_bound` says [min].
    days
        One for each judge.
    """

    problem: RotationProblem
    model: cp_model.CpModel
    start: dict[Key, cp_model.IntVar]
    end: dict[Key, cp_model.LinearExpr]
    makespan: cp_model.IntVar
    horizon: int
    lower_bound: int
    days: tuple[JudgeDay, ...]

    def hint(self, rotation: Rotation) -> None:
        """Tell the solver of a rotation it may begin with.

        Parameters
        ----------
        rotation
            Of this problem; where a break of it cannot be placed, its time is left open.

        Example
        -------
        >>> from judging.rules.windows.problem import VisitNeed
        >>> problem = RotationProblem((VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1})
        >>> exact = build(problem, horizon=9)
        >>> exact.hint(Rotation((Visit(1, "gear", 2, 7),), 7, 7, True, "by hand"))
        >>> len(exact.model.proto.solution_hint.vars) >= 2
        True
        """
        # The library's own method has no types.
        self.model.clear_hints()  # type: ignore[no-untyped-call]
        times = {(visit.entry, visit.judge): visit for visit in rotation.visits}
        for key, variable in self.start.items():
            self.model.add_hint(variable, times[key].start)
        self.model.add_hint(self.makespan, rotation.makespan)
        for day in self.days:
            hint_day(
                self.model,
                self.problem,
                day,
                [times[need.entry, need.judge] for need in day.visits],
            )

    def rotation(self, starts: dict[Key, int], lower_bound: int, solver: str) -> Rotation:
        """Turn solved starts into a rotation [min]."""
        visits = [
            Visit(need.entry, need.judge, at, at + need.minutes)
            for need in self.problem.visits
            for at in [starts[need.entry, need.judge]]
        ]
        makespan = max(visit.end for visit in visits)
        bound = min(makespan, lower_bound)
        ordered = tuple(sorted(visits, key=lambda visit: visit.start))
        return Rotation(ordered, makespan, bound, makespan == bound, solver)


def build(problem: RotationProblem, *, horizon: int, lower_bound: int | None = None) -> ExactModel:
    """Write a rotation problem down for the constraint solver.

    Parameters
    ----------
    problem
        The visits and all rules.
    horizon
        No visit ends later [min]; the shorter, the quicker the search.
    lower_bound
        Known not to be beaten [min]; `rotation_bound` unless given. Breaks and times away count.

    Returns
    -------
    ExactModel
        Variables for starts, ends and the makespan, and every rule of the problem.

    Raises
    ------
    ValueError
        When a judge has no time for a break, or some visit cannot end by the horizon.

    Notes
    -----
    Starts keep out of every time away by their very domains. A wagon's visits, each with its
    reset, do not overlap; nor do a judge's visits and breaks. A judge's round is a circuit from
    the gate: a step from i to k is walked in the free minutes between the end of i and the start
    of k, less the breaks that follow i. Free minutes are counted by clock, less the times away
    that lie wholly between, which is exact because no visit lies across one. A break may lie
    anywhere in the gap, the walk before and behind it. Where nobody walks and ends need not be
    fair, there are no circuits. The judge's visits, each longer by its shortest way on, do not
    overlap either; breaks are not in that one, since a break may come before the walk.

    Source
    ------
    Common practice, no source: open shop with sequence-dependent times as a circuit.

    Example
    -------
    >>> from judging.rules.windows.problem import VisitNeed
    >>> visits = tuple(VisitNeed(w, j, m) for w in (1, 2) for j, m in (("gear", 5), ("fire", 4)))
    >>> problem = RotationProblem(visits, ((0, 1, 2), (1, 0, 1), (2, 1, 0)), {1: 1, 2: 2})
    >>> exact = build(problem, horizon=20)
    >>> exact.model.minimize(exact.makespan)
    >>> solver = cp_model.CpSolver()
    >>> solver.solve(exact.model) == cp_model.OPTIMAL, solver.value(exact.makespan)
    (True, 12)
    """
    model = cp_model.CpModel()
    judges = by(problem.visits, lambda need: need.judge)
    soonest = from_gate(problem.walk)
    if lower_bound is None:
        lower_bound = bound_of(problem).minutes
    if lower_bound > horizon:
        raise ValueError(f"no rotation ends by minute {horizon}; it takes {lower_bound} at least")
    makespan = model.new_int_var(lower_bound, horizon, "makespan")
    start: dict[Key, cp_model.IntVar] = {}
    days = []
    for j, (judge, own) in enumerate(judges.items()):
        away = merged(problem.judge_away.get(judge, ()))
        breaks = tuple(problem.breaks.get(judge, ()))
        rests(breaks, away, judge)
        day = JudgeDay(judge, tuple(own), away, breaks)
        for i, need in enumerate(own):
            arrival = reached(0, soonest[problem.spot[need.entry]], away)
            closed = merged((*away, *problem.crew_away.get(need.entry, ())))
            domain = _open(arrival, horizon - need.minutes, need.minutes, closed)
            if not domain:
                raise ValueError(f"{judge} cannot be done at {need.entry} by minute {horizon}")
            start[need.entry, judge] = model.new_int_var_from_domain(
                cp_model.Domain.from_intervals(domain), f"start {j}.{i}"
            )
        days.append(day)
    end = {
        (need.entry, need.judge): start[need.entry, need.judge] + need.minutes
        for need in problem.visits
    }
    exact = ExactModel(problem, model, start, end, makespan, horizon, lower_bound, tuple(days))
    for key in start:
        model.add(makespan >= end[key])
    _add_wagons(exact)
    for day in days:
        _add_day(exact, day)
    if problem.fair_ends:
        _add_fair_ends(exact)
    return exact


def _open(first: int, last: int, minutes: int, away: Sequence[Span]) -> list[list[int]]:
    """Starts from first to last of a piece that overlaps no span."""
    pieces = []
    now = fitted(first, minutes, away)
    for begins, ends in away:
        if ends <= now:
            continue
        if now > last:
            break
        pieces.append([now, min(last, begins - minutes)])
        now = fitted(ends, minutes, away)
    if now <= last:
        pieces.append([now, last])
    return [piece for piece in pieces if piece[0] <= piece[1]]


def _add_wagons(exact: ExactModel) -> None:
    model, problem = exact.model, exact.problem
    for entry, own in by(problem.visits, lambda need: need.entry).items():
        model.add_no_overlap(
            model.new_fixed_size_interval_var(
                exact.start[entry, need.judge], need.minutes + problem.crew_reset_minutes, "crew"
            )
            for need in own
        )
        closed = merged(problem.crew_away.get(entry, ()))
        if closed:
            model.add_no_overlap(
                [
                    *(
                        model.new_fixed_size_interval_var(
                            exact.start[entry, need.judge], need.minutes, "visit"
                        )
                        for need in own
                    ),
                    *(model.new_fixed_size_interval_var(a, b - a, "away") for a, b in closed),
                ]
            )


def _add_day(exact: ExactModel, day: JudgeDay) -> None:
    model, spots = exact.model, [exact.problem.spot[need.entry] for need in day.visits]
    starts = [exact.start[need.entry, day.judge] for need in day.visits]
    walk = exact.problem.walk
    for b, rest in enumerate(day.breaks):
        domain = _open(max(0, rest.earliest), rest.latest - rest.minutes, rest.minutes, day.away)
        day.break_begin.append(
            model.new_int_var_from_domain(cp_model.Domain.from_intervals(domain), f"break {b}")
        )
    model.add_no_overlap(
        [
            *(
                model.new_fixed_size_interval_var(at, need.minutes, "visit")
                for at, need in zip(starts, day.visits, strict=True)
            ),
            *(
                model.new_fixed_size_interval_var(at, rest.minutes, "break")
                for at, rest in zip(day.break_begin, day.breaks, strict=True)
            ),
            *(model.new_fixed_size_interval_var(a, b - a, "away") for a, b in day.away),
        ]
    )
    rows = {0, *spots}
    if exact.problem.fair_ends or any(walk[a][b] for a in rows for b in rows):
        _add_round(exact, day, starts, spots)


def _add_round(
    exact: ExactModel, day: JudgeDay, starts: Sequence[cp_model.IntVar], spots: Sequence[int]
) -> None:
    model, walk = exact.model, exact.problem.walk
    n = len(starts)
    stops = range(n)
    day.follows = {
        (i, k): model.new_bool_var(f"{i} then {k}")
        for i in (GATE, *stops)
        for k in (GATE, *stops)
        if i != k
    }
    model.add_circuit([(i + 1, k + 1, follows) for (i, k), follows in day.follows.items()])
    _add_away_order(exact, day, starts)
    _add_break_places(exact, day, starts)
    # Start and end of each visit by a clock that stands still while the judge is away.
    shift = [
        sum((b - a) * day.after_away[s, i] for s, (a, b) in enumerate(day.away)) for i in stops
    ]
    legs = []
    for (i, k), follows in day.follows.items():
        if k == GATE:
            continue
        way = walk[0 if i == GATE else spots[i]][spots[k]]
        legs.append(way * follows)
        done = 0 if i == GATE else starts[i] + day.visits[i].minutes - shift[i]
        resting = sum(rest.minutes * day.break_after[b, i] for b, rest in enumerate(day.breaks))
        model.add(starts[k] - shift[k] >= done + way + resting).only_enforce_if(follows)
        if day.breaks:
            model.add(starts[k] >= day.leaves[i]).only_enforce_if(follows)
    inside = sum(
        rest.minutes * (1 - day.break_after[b, AFTER_ALL]) for b, rest in enumerate(day.breaks)
    )
    model.add(exact.makespan >= sum(need.minutes for need in day.visits) + sum(legs) + inside)
    if n > 1:
        model.add_no_overlap(
            model.new_fixed_size_interval_var(
                starts[i],
                day.visits[i].minutes + min(walk[spots[i]][spots[k]] for k in stops if k != i),
                "visit and way on",
            )
            for i in stops
        )


def _add_away_order(exact: ExactModel, day: JudgeDay, starts: Sequence[cp_model.IntVar]) -> None:
    for s, (a, b) in enumerate(day.away):
        for i, need in enumerate(day.visits):
            after = exact.model.new_bool_var(f"{i} after away {s}")
            exact.model.add(starts[i] >= b).only_enforce_if(after)
            exact.model.add(starts[i] + need.minutes <= a).only_enforce_if(~after)
            day.after_away[s, i] = after


def _add_break_places(exact: ExactModel, day: JudgeDay, starts: Sequence[cp_model.IntVar]) -> None:
    model, stops = exact.model, range(len(starts))
    if not day.breaks:
        return
    for i in (GATE, *stops):
        day.leaves[i] = model.new_int_var(0, exact.horizon, f"leaves {i}")
    for b, rest in enumerate(day.breaks):
        at = day.break_begin[b]
        places = {i: model.new_bool_var(f"break after {i}") for i in (GATE, *stops, AFTER_ALL)}
        model.add_exactly_one(places.values())
        for i, here in places.items():
            day.break_after[b, i] = here
            if i == AFTER_ALL:
                for k in stops:
                    model.add(at >= starts[k] + day.visits[k].minutes).only_enforce_if(here)
                continue
            model.add(day.leaves[i] >= at + rest.minutes).only_enforce_if(here)
            if i != GATE:
                model.add(at >= starts[i] + day.visits[i].minutes).only_enforce_if(here)
                model.add_implication(here, ~day.follows[i, GATE])


def _add_fair_ends(exact: ExactModel) -> None:
    wagons = {need.entry for need in exact.problem.visits}
    most = -(-len(exact.days) // len(wagons))
    for entry in wagons:
        for end in (0, 1):
            comes = [
                day.follows[(GATE, i) if end == 0 else (i, GATE)]
                for day in exact.days
                if len(day.visits) > 1
                for i, need in enumerate(day.visits)
                if need.entry == entry
            ]
            if len(comes) > most:
                exact.model.add(sum(comes) <= most)
