"""A running day as the planners' rules take it: what is left, and where everybody stands."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from entries.models import Entry
from judging.models import Judge, Window
from judging.queries.plan import ShowProblem, pair_of, row_of, show_problem
from judging.queries.visit_times import VisitTime, visit_times
from judging.queries.window import window_of
from judging.rules.windows.planner import PARTY, apart, party_problem, together
from judging.rules.windows.problem import Rotation, RotationProblem, Visit
from judging.rules.windows.replan_case import Case
from showrun.errors import NotYet
from showrun.language import gettext as _
from showrun.shows.models import Show

Pair = tuple[int, int]
Rows = list[list[int]]


@dataclass(frozen=True)
class DayCase:
    """The case of a show's day, and what it was made from.

    With a panel that walks together the case is the party's; `rows` gives every judge the
    party's times.
    """

    case: Case
    plan: ShowProblem
    times: tuple[VisitTime, ...]
    window: Window

    @property
    def wanted(self) -> set[Pair]:
        """Who is to see whom: judge and entry ids."""
        return {pair_of(need) for need in self.plan.problem.visits}

    @property
    def called_off(self) -> list[list[int]]:
        """Announced visits nobody wants any more."""
        wanted = self.wanted
        return sorted(list(time.pair) for time in self.times if time.pair not in wanted)

    def rows(self, rotation: Rotation) -> Rows:
        """Return the visits of a rotation as [judge, entry, start minute, end minute]."""
        if self.plan.style == "walking":
            begun = {time.pair for time in self.times if time.began_at}
            visits = apart(self._left(rotation), rotation).visits
            return [row for row in map(row_of, visits) if (row[0], row[1]) not in begun]
        return [row_of(visit) for visit in rotation.visits]

    def _left(self, rotation: Rotation) -> RotationProblem:
        here = {visit.entry for visit in rotation.visits}
        needs = tuple(need for need in self.plan.problem.visits if need.entry in here)
        return replace(self.plan.problem, visits=needs)


def day_case(show: Show, *, at: datetime, times: Sequence[VisitTime] | None = None) -> DayCase:
    """Gather what has become of the announced day; `times` where they are at hand already."""
    window = window_of(show)
    if window is None or window.published_at is None:
        raise NotYet(_("The times are not published yet; publish the window first."))
    plan = show_problem(show)
    times = visit_times(show) if times is None else times
    entries = Entry.objects.filter(show=show).in_bulk()
    judges = Judge.objects.filter(show=show).select_related("person").in_bulk()
    teller = _Teller(window.opens_at, at, judges, entries)
    announced = teller.announced(times)
    known = [time for time in times if entries[time.entry_id] in plan.problem.spot]
    done = [teller.real(time) for time in known if time.ended_at]
    under_way = [teller.real(time) for time in known if time.began_at and not time.ended_at]
    problem = plan.problem
    if plan.style == "walking":
        problem, announced = party_problem(problem), together(announced)
        done, under_way = _as_party(done, under_way, times)
    case = Case(
        problem=problem,
        announced=announced,
        now=teller.now,
        window_minutes=window.available_minutes,
        done=tuple(done),
        under_way=tuple(under_way),
        judge_ready=_off_the_map(times, teller, plan),
    )
    return DayCase(case, plan, tuple(times), window)


@dataclass(frozen=True)
class _Teller:
    """Tells instants as whole minutes from the opening."""

    opens_at: datetime
    at: datetime
    judges: dict[int, Judge]
    entries: dict[int, Entry]

    @property
    def now(self) -> int:
        """The present minute; 0 before the opening."""
        return max(0, self.minute(self.at))

    def minute(self, moment: datetime) -> int:
        return round((moment - self.opens_at).total_seconds() / 60)

    def announced(self, times: Iterable[VisitTime]) -> Rotation:
        visits = tuple(
            Visit(
                self.entries[time.entry_id],
                self.judges[time.judge_id],
                self.minute(time.starts_at),
                self.minute(time.ends_at),
            )
            for time in times
        )
        return Rotation(visits, max(visit.end for visit in visits), 0, False, "announced")

    def real(self, time: VisitTime) -> Visit:
        """The visit as it came about; one under way takes its planned minutes, or until now."""
        assert time.began_at
        start = self.minute(time.began_at)
        end = self.minute(time.ended_at) if time.ended_at else self.now
        if time.ended_at is None:
            end = max(end, start + round(time.planned_minutes))
        return Visit(
            self.entries[time.entry_id], self.judges[time.judge_id], start, max(start, end)
        )


def _off_the_map(
    times: Sequence[VisitTime], teller: _Teller, plan: ShowProblem
) -> dict[Judge, tuple[int, int]]:
    """Judges whose last wagon has left its spot go on from the gate; nothing else is known."""
    last: dict[int, VisitTime] = {}
    for time in times:
        if time.began_at:
            before = last.get(time.judge_id)
            if before is None or (before.began_at or time.began_at) < time.began_at:
                last[time.judge_id] = time
    return {
        teller.judges[judge_id]: (max(1, teller.real(time).end), 0)
        for judge_id, time in last.items()
        if teller.entries[time.entry_id] not in plan.problem.spot and plan.style != "walking"
    }


def _as_party(
    done: Sequence[Visit], under_way: Sequence[Visit], times: Sequence[VisitTime]
) -> tuple[list[Visit], list[Visit]]:
    """A wagon is done for the party when every judge with a visit there has ended it."""
    judges: dict[int, int] = defaultdict(int)
    for time in times:
        judges[time.entry_id] += 1
    here: dict[Entry, list[Visit]] = defaultdict(list)
    for visit in (*done, *under_way):
        assert isinstance(visit.entry, Entry)
        here[visit.entry].append(visit)
    over: list[Visit] = []
    going: list[Visit] = []
    for entry, visits in here.items():
        start = min(visit.start for visit in visits)
        party = Visit(entry, PARTY, start, max(visit.end for visit in visits))
        ended = sum(visit in done for visit in visits)
        (over if ended == judges[entry.pk] else going).append(party)
    return over, going
