"""One judge's day in an exact model."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from judging.rules.windows.problem import Break, Judge, RotationProblem, Span, Visit, VisitNeed
from judging.rules.windows.search_day import Gap, placed_rests

# A visit's number among a judge's own, or one of these two.
GATE, AFTER_ALL = -1, -2


@dataclass
class JudgeDay:
    """What the model holds for one judge.

    Parameters
    ----------
    visits
        The judge's visits; their positions number the stops.
    away
        When the judge is away, in order and apart [min].
    follows
        Whether stop ``(i, k)`` of the round is walked, -1 being the gate at either end.
    after_away
        Whether visit i comes after span s, by ``(s, i)``.
    breaks, break_begin
        The judge's breaks and when each begins [min].
    break_after
        Whether break b comes after visit i and before the next, by ``(b, i)``; -1 is the gate,
        -2 after the last visit.
    leaves
        When the judge is done with a visit and all breaks that follow it, by visit [min].
    """

    judge: Judge
    visits: tuple[VisitNeed, ...]
    away: tuple[Span, ...]
    breaks: tuple[Break, ...]
    follows: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    after_away: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    break_begin: list[cp_model.IntVar] = field(default_factory=list)
    break_after: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    leaves: dict[int, cp_model.IntVar] = field(default_factory=dict)


def hint_day(
    model: cp_model.CpModel, problem: RotationProblem, day: JudgeDay, visits: Sequence[Visit]
) -> None:
    """Tell the solver of one judge's day: round, breaks, and what comes before or after away.

    Parameters
    ----------
    model, problem, day
        The solver's model, what is asked of it, and this day in it.
    visits
        In the order of ``day.visits``.
    """
    order = sorted(range(len(visits)), key=lambda i: visits[i].start)
    way = [GATE, *order]
    spots = [problem.spot[visit.entry] for visit in visits]
    gaps = [
        Gap(
            0 if i == GATE else visits[i].end,
            visits[k].start,
            problem.walk[0 if i == GATE else spots[i]][spots[k]],
        )
        for i, k in zip(way, order, strict=False)
    ]
    gaps.append(Gap(visits[order[-1]].end, None, 0))
    steps = set(zip(way, [*order, GATE], strict=True))
    for step, follows in day.follows.items():
        model.add_hint(follows, step in steps)
    for (s, i), after in day.after_away.items():
        model.add_hint(after, visits[i].start >= day.away[s][1])
    placed = placed_rests(day.breaks, gaps, day.away)
    if placed is None:
        return
    leaves = {i: 0 for i in day.leaves}
    for b, (gap, begin) in enumerate(placed):
        model.add_hint(day.break_begin[b], begin)
        after_stop = AFTER_ALL if gap == len(order) else way[gap]
        leaves[after_stop] = max(leaves.get(after_stop, 0), begin + day.breaks[b].minutes)
        for (b2, i), here in day.break_after.items():
            if b2 == b:
                model.add_hint(here, i == after_stop)
    for i, variable in day.leaves.items():
        model.add_hint(variable, leaves[i])
