"""Plans of a whole show, drawn again when something changes: rotating or walking together."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import ceil, floor

from judging.rules.windows.bound import Bound, by, rotation_bound, total
from judging.rules.windows.cases import Length, Share
from judging.rules.windows.problem import (
    Break,
    Judge,
    Names,
    Rotation,
    RotationProblem,
    Span,
    Visit,
    VisitNeed,
)
from judging.rules.windows.risk import RotationRisk, rotation_finish
from judging.rules.windows.rotation import RotationSolver
from judging.rules.windows.walk import shortest_walk
from showrun.language import gettext as _

__all__ = [
    "LIKELY",
    "PARTY",
    "Planner",
    "Spread",
    "apart",
    "chance_words",
    "opened_later",
    "party_problem",
    "together",
]

PARTY = "panel"
# Nine days of ten: what a window is sized to unless the office chooses otherwise.
LIKELY = 0.9


@dataclass(frozen=True)
class Spread:
    """How far days differ from the plan.

    Parameters
    ----------
    visit_cv
        Coefficient of variation of one visit's length.
    pace_sd
        Spread of the whole day's pace, as a share.
    """

    visit_cv: float = 0.25
    pace_sd: float = 0.10


def party_problem(problem: RotationProblem) -> RotationProblem:
    """Make one party of all judges: the problem of a panel that walks together.

    Parameters
    ----------
    problem
        A visit for each judge and wagon.

    Returns
    -------
    RotationProblem
        One visit to each wagon by the judge `PARTY`, as long as the longest judge's there, since
        they work side by side. The party is away whenever one of them is, and rests when they do.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> both = [VisitNeed(1, "gear", 5), VisitNeed(1, "fire", 4), VisitNeed(2, "fire", 6)]
    >>> table = ((0, 1, 2), (1, 0, 1), (2, 1, 0))
    >>> party = party_problem(RotationProblem(tuple(both), table, {1: 1, 2: 2}))
    >>> [(need.entry, need.judge, need.minutes) for need in party.visits]
    [(1, 'panel', 5), (2, 'panel', 6)]
    """
    longest = {
        entry: max(need.minutes for need in own)
        for entry, own in by(problem.visits, lambda need: need.entry).items()
    }
    away = sorted({span for spans in problem.judge_away.values() for span in spans})
    breaks = sorted(
        {rest for own in problem.breaks.values() for rest in own},
        key=lambda rest: (rest.earliest, rest.latest, rest.minutes),
    )
    return replace(
        problem,
        visits=tuple(VisitNeed(entry, PARTY, minutes) for entry, minutes in longest.items()),
        judge_away={PARTY: tuple(away)} if away else {},
        breaks={PARTY: tuple(breaks)} if breaks else {},
        fair_ends=False,
    )


def apart(problem: RotationProblem, walked: Rotation) -> Rotation:
    """Give every judge the party's times at the wagons where that judge sits.

    Parameters
    ----------
    problem
        A visit for each judge and wagon.
    walked
        The party's walk over the same wagons.

    Returns
    -------
    Rotation
        Judges at one wagon begin and end together; all else as walked.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> both = (VisitNeed(1, "gear", 5), VisitNeed(1, "fire", 4))
    >>> walked = Rotation((Visit(1, PARTY, 2, 7),), 7, 7, True, "by hand")
    >>> apart(RotationProblem(both, ((0, 2), (2, 0)), {1: 1}), walked).visits
    (Visit(entry=1, judge='gear', start=2, end=7), Visit(entry=1, judge='fire', start=2, end=7))
    """
    judges = by(problem.visits, lambda need: need.entry)
    return replace(
        walked,
        visits=tuple(
            Visit(stop.entry, need.judge, stop.start, stop.end)
            for stop in walked.visits
            for need in judges[stop.entry]
        ),
    )


def opened_later(problem: RotationProblem, minutes: int) -> RotationProblem:
    """Open a problem so many minutes later, absences and breaks staying where the clock has them.

    Parameters
    ----------
    problem
        As it was counted from the first opening.
    minutes
        Not below zero [min].

    Returns
    -------
    RotationProblem
        Counted from the later opening. A break whose span has begun by then has been taken.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> early = RotationProblem(
    ...     (VisitNeed(1, "gear", 5),), ((0, 2), (2, 0)), {1: 1}, judge_away={"gear": ((30, 40),)},
    ...     breaks={"gear": (Break(5, 10, 60), Break(5, 25, 60))})
    >>> late = opened_later(early, 20)
    >>> late.judge_away, late.breaks
    ({'gear': ((10, 20),)}, {'gear': (Break(minutes=5, earliest=5, latest=40),)})
    """
    ahead = {
        judge: tuple(_moved(rest, -minutes) for rest in own if rest.earliest >= minutes)
        for judge, own in problem.breaks.items()
    }
    return replace(
        problem,
        judge_away={who: _later(spans, -minutes) for who, spans in problem.judge_away.items()},
        crew_away={who: _later(spans, -minutes) for who, spans in problem.crew_away.items()},
        breaks={judge: own for judge, own in ahead.items() if own},
    )


@dataclass
class Planner:
    """Draws plans of a problem, and of the problem with something changed.

    Parameters
    ----------
    problem
        What is planned; for a panel that walks together its `party_problem`.
    walking
        Whether each judge of the problem is a party that walks by itself.
    solver
        Draws rotations, and walks with pauses.
    spread
        How far days differ from the plan.
    seed
        The same inputs and seed give the same answers.
    runs
        Days simulated for the 90 % finish.
    names
        Words for judges and entries.

    Notes
    -----
    A party without pauses and breaks takes the shortest walk and never waits. All else is drawn by
    ``solver``. The 90 % finish is that of the plan drawn, starts held to the announced minute.

    Source
    ------
    Common practice, no source.
    """

    problem: RotationProblem
    walking: bool
    solver: RotationSolver
    spread: Spread = field(default_factory=Spread)
    seed: int = 1
    runs: int = 2000
    names: Names = field(default_factory=dict)
    _known: dict[Hashable, Length] = field(default_factory=dict, init=False)

    def changed(self, visits: Sequence[VisitNeed], earlier: int = 0) -> RotationProblem:
        """The problem with other visits, opened so many minutes earlier.

        A judge who shares a round is away, and rests, when the judge whose round it was does.
        """
        who = {need.judge: _base(need.judge) for need in visits}
        old = self.problem
        return replace(
            old,
            visits=tuple(visits),
            judge_away={
                j: _later(old.judge_away[b], earlier) for j, b in who.items() if b in old.judge_away
            },
            crew_away={
                need.entry: _later(old.crew_away[need.entry], earlier)
                for need in visits
                if need.entry in old.crew_away
            },
            breaks={
                j: tuple(_moved(rest, earlier) for rest in old.breaks[b])
                for j, b in who.items()
                if b in old.breaks
            },
        )

    def plan(self, problem: RotationProblem) -> Rotation:
        """Draw the plan of a problem."""
        if self.walking and not problem.on_the_clock:
            return _walked(problem)
        return self.solver.solve(problem)

    def risk(self, problem: RotationProblem, rotation: Rotation) -> RotationRisk:
        """Simulate the days a plan may have."""
        return rotation_finish(
            problem,
            rotation,
            visit_cv=self.spread.visit_cv,
            pace_sd=self.spread.pace_sd,
            runs=self.runs,
            seed=self.seed,
        )

    def bounded(self, visits: Sequence[VisitNeed], earlier: int = 0) -> Bound:
        """What no plan of the changed problem is shorter than, in words."""
        problem = self.changed(visits, earlier)
        return rotation_bound(
            problem.visits,
            problem.walk,
            problem.spot,
            problem.crew_reset_minutes,
            self.names,
            judge_away=problem.judge_away,
            crew_away=problem.crew_away,
            breaks=problem.breaks,
        )

    def keep(self, rotation: Rotation) -> Length:
        """Take a plan of the unchanged problem as drawn already; give its lengths."""
        length = self._length(self.problem, rotation)
        self._known[self.problem.visits, 0] = length
        return length

    def solved(self, visits: Sequence[VisitNeed], earlier: int = 0) -> Length:
        """The lengths of the changed problem's plan; `size.Solved` for the sizing rules."""
        if not self.problem.on_the_clock:
            earlier = 0  # the same plan, begun sooner
        key = (tuple(visits), earlier)
        if key not in self._known:
            problem = self.changed(visits, earlier)
            self._known[key] = self._length(problem, self.plan(problem))
        return self._known[key]

    def _length(self, problem: RotationProblem, rotation: Rotation) -> Length:
        likely = ceil(self.risk(problem, rotation).quantile(LIKELY) - 1e-9)
        return Length(rotation.makespan, max(rotation.makespan, likely))


def chance_words(chance: float) -> str:
    """Say how many days of ten go well.

    Parameters
    ----------
    chance
        Share of the days, 0 to 1.

    Returns
    -------
    str
        With its verb; rounded down, so that nothing sounds safer than it is.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> for share in (0.04, 0.19, 0.9, 0.996, 1.0):
    ...     print(chance_words(share))
    not even 1 day of 10 ends
    1 day of 10 ends
    9 days of 10 end
    99 days of 100 end
    all days simulated end
    """
    if chance >= 1:
        return _("all days simulated end")
    if chance >= 0.95:
        return _("{days} days of 100 end").format(days=floor(chance * 100))
    days = floor(chance * 10 + 1e-9)
    if days < 2:
        return _("1 day of 10 ends") if days else _("not even 1 day of 10 ends")
    return _("{days} days of 10 end").format(days=days)


def together(rotation: Rotation) -> Rotation:
    """Give the party's walk back from its judges' times, as `apart` gave them out.

    Parameters
    ----------
    rotation
        Judges who walk together.

    Returns
    -------
    Rotation
        One visit to each wagon.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> two = (Visit(1, "gear", 2, 7), Visit(1, "fire", 2, 7))
    >>> together(Rotation(two, 7, 7, True, "by hand")).visits
    (Visit(entry=1, judge='panel', start=2, end=7),)
    """
    stops = dict.fromkeys((visit.entry, visit.start, visit.end) for visit in rotation.visits)
    return replace(
        rotation,
        visits=tuple(Visit(entry, PARTY, start, end) for entry, start, end in stops),
    )


def _base(judge: Judge) -> Judge:
    return judge.judge if isinstance(judge, Share) else judge


def _later(spans: Sequence[Span], minutes: int) -> tuple[Span, ...]:
    return tuple((a + minutes, b + minutes) for a, b in spans)


def _moved(rest: Break, minutes: int) -> Break:
    return Break(rest.minutes, rest.earliest + minutes, rest.latest + minutes)


def _walked(problem: RotationProblem) -> Rotation:
    """Every party by its shortest walk, nobody waiting; no two parties come to one wagon."""
    visits: list[Visit] = []
    bounds: Mapping[Judge, list[VisitNeed]] = by(problem.visits, lambda need: need.judge)
    bound = 0
    for party, own in bounds.items():
        walk = shortest_walk(problem.walk, [problem.spot[need.entry] for need in own])
        bound = max(bound, total(own) + walk.lower_bound)
        place = {spot: p for p, spot in enumerate(walk.order)}
        at, here = 0, 0
        for need in sorted(own, key=lambda need: place[problem.spot[need.entry]]):
            at += problem.walk[here][problem.spot[need.entry]]
            visits.append(Visit(need.entry, party, at, at + need.minutes))
            at, here = at + need.minutes, problem.spot[need.entry]
    makespan = max(visit.end for visit in visits)
    visits.sort(key=lambda visit: (visit.start, visit.end))
    return Rotation(tuple(visits), makespan, bound, makespan == bound, "shortest walk")
