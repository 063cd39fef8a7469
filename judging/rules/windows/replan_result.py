"""What a re-plan comes to: who is moved, by how much, whether the window holds, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from judging.rules.windows.bound import counted, named
from judging.rules.windows.problem import Entry, Judge, Names, Rotation, RotationProblem, Visit
from judging.rules.windows.pushing import Pushed
from judging.rules.windows.replan_case import Case, adjusted
from judging.rules.windows.verify import faults

NOTICED = 5  # minutes; a visit moved by no more does not count as moved
FARTHEST = 60  # minutes a moved visit may shift, where possible


@dataclass(frozen=True)
class Moved:
    """A visit whose announced time changes.

    Parameters
    ----------
    entry, judge
        Whose visit it is.
    was
        Announced start; None where it was never announced [min].
    now
        New start [min].
    """

    entry: Entry
    judge: Judge
    was: int | None
    now: int

    @property
    def minutes(self) -> int:
        """How far it moves, either way; 0 for a visit that is new [min]."""
        return 0 if self.was is None else abs(self.now - self.was)


@dataclass(frozen=True)
class Replan:
    """New times for what is left of a day.

    Parameters
    ----------
    case
        The running day.
    problem
        What is left as a problem: the stands of judges as visits, breaks as far as they hold.
    full
        All visits of that problem, stands included.
    rotation
        The visits still to come.
    proven
        Whether no other times move fewer visits, nor by fewer minutes, at no greater overrun.
    solver
        What made it: ``"push"``, ``"mended"`` or ``"exact"``.
    """

    case: Case
    problem: RotationProblem | None
    full: Rotation
    rotation: Rotation
    proven: bool
    solver: str

    @cached_property
    def moved(self) -> tuple[Moved, ...]:
        """Every visit whose start changes, and new ones, by new start."""
        was = self.case.was
        return tuple(
            Moved(visit.entry, visit.judge, was.get((visit.entry, visit.judge)), visit.start)
            for visit in self.rotation.visits
            if was.get((visit.entry, visit.judge)) != visit.start
        )

    @cached_property
    def noticed(self) -> tuple[Moved, ...]:
        """Those of them that were announced and move by more than five minutes."""
        return tuple(each for each in self.moved if each.minutes > NOTICED)

    @property
    def visits_moved(self) -> int:
        """How many visits move by more than five minutes."""
        return len(self.noticed)

    @property
    def wagons_moved(self) -> int:
        """How many wagons have such a visit."""
        return len({each.entry for each in self.noticed})

    @property
    def minutes_moved(self) -> int:
        """Sum over all visits [min]."""
        return sum(each.minutes for each in self.moved)

    @property
    def largest_shift(self) -> int:
        """The farthest move [min]."""
        return max((each.minutes for each in self.moved), default=0)

    @property
    def end(self) -> int:
        """End of the last visit, those under way included [min]."""
        return max(self.rotation.makespan, self.case.last_known_end)

    @property
    def overrun(self) -> int:
        """Minutes beyond the window [min]."""
        return max(0, self.end - self.case.window)

    @property
    def score(self) -> tuple[int, int, int]:
        """Overrun, visits moved, minutes moved: less is better, the first counts most."""
        return self.overrun, self.visits_moved, self.minutes_moved

    def faults(self) -> tuple[str, ...]:
        """List the rules that the new times break against what is left; empty if clean."""
        return () if self.problem is None else faults(self.problem, self.full)

    def sentences(
        self, names: Names | None = None, beside: Replan | None = None
    ) -> tuple[str, ...]:
        """Say in words what changes.

        Parameters
        ----------
        names
            Words for judges and entries.
        beside
            The push, to be compared with.

        Returns
        -------
        tuple of str
            Whole sentences.
        """
        names = names or {}
        lines = [self._moves(beside), self._ends()]
        if self.noticed:
            far = max(self.noticed, key=lambda each: each.minutes)
            visit = f"{named(far.judge, names)} at {named(far.entry, names)}"
            cap = "" if far.minutes <= FARTHEST else f", more than the {FARTHEST} aimed at"
            lines.append(f"The farthest move is {counted(far.minutes, 'minute')}{cap}: {visit}.")
        new = [each for each in self.moved if each.was is None]
        if new:
            lines.append(f"{counted(len(new), 'visit')} were not announced before.")
        if self.case.gone:
            lines.append(f"{counted(len(self.case.gone), 'announced visit')} fall away.")
        return (*lines, *self._late_rests(names))

    def _moves(self, beside: Replan | None) -> str:
        if not self.visits_moved:
            text = f"No visit moves by more than {NOTICED} minutes"
        else:
            verb = "moves" if self.visits_moved == 1 else "move"
            text = (
                f"{counted(self.visits_moved, 'visit')} at {counted(self.wagons_moved, 'wagon')} "
                f"{verb} by more than {NOTICED} minutes"
            )
        if beside is None:
            return f"{text}."
        return f"{text}; pushing everybody later would move {beside.visits_moved}."

    def _ends(self) -> str:
        if self.overrun:
            return f"The last visit ends {counted(self.overrun, 'minute')} after the window."
        return f"The last visit ends at minute {self.end} of {self.case.window}."

    def _late_rests(self, names: Names) -> list[str]:
        lines = []
        for judge, breaks in {} if self.problem is None else self.problem.breaks.items():
            before = list(self.case.owed(judge))
            for each in breaks:
                same = [
                    b for b in before if (b.minutes, b.earliest) == (each.minutes, each.earliest)
                ]
                if same and each.latest > same[0].latest:
                    late = counted(each.latest - same[0].latest, "minute")
                    lines.append(
                        f"{named(judge, names)} may end the break of "
                        f"{counted(each.minutes, 'minute')} {late} late."
                    )
                if same:
                    before.remove(same[0])
        return lines


def result(case: Case, base: Pushed, visits: Sequence[Visit] | None, solver: str) -> Replan:
    """Make a re-plan of new times; those of the push unless others are given."""
    chosen = base.visits if visits is None else visits
    if not chosen:
        nothing = Rotation((), 0, 0, True, solver)
        return Replan(case, None, nothing, nothing, True, solver)
    return Replan(
        case,
        adjusted(case, base.breaks),
        _rotation((*case.standing_visits, *chosen), solver),
        _rotation(chosen, solver),
        False,
        solver,
    )


def _rotation(visits: Sequence[Visit], solver: str) -> Rotation:
    """A rotation that makes no claim to be a shortest one; its bound is its longest visit."""
    ordered = tuple(sorted(visits, key=lambda visit: (visit.start, visit.end)))
    bound = max(visit.end - visit.start for visit in ordered)
    end = max(visit.end for visit in ordered)
    return Rotation(ordered, end, bound, bound == end, solver)
