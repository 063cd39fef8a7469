"""Who is where when, as last announced, laid out for lists, charts and papers."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from entries.models import Entry
from judging.models import Announcement, CalledOffVisit, Judge, Pause, Visit, Window
from judging.queries.panel import seats_of
from judging.queries.window import timetable, window_of
from judging.rules.windows.chart_shapes import Busy, ChartVisit, Who
from showrun.language import gettext as _
from showrun.shows.models import Show


@dataclass(frozen=True)
class TimesAsOf:
    """Which announcement the times are of; 1 is the first publication."""

    number: int
    at: datetime
    reason: str = ""


@dataclass(frozen=True)
class Stay:
    """A visit with what is looked at."""

    visit: Visit
    sections: str


@dataclass(frozen=True)
class JudgeTimes:
    """A judge's visits in order of time, and the times away from them."""

    judge: Judge
    stays: tuple[Stay, ...]
    pauses: tuple[Pause, ...]
    called_off: tuple[CalledOffVisit, ...]


@dataclass(frozen=True)
class WagonTimes:
    """A wagon's visits in order of time, and the times its crew is not there for them."""

    entry: Entry
    stays: tuple[Stay, ...]
    pauses: tuple[Pause, ...]
    called_off: tuple[CalledOffVisit, ...]


@dataclass(frozen=True)
class Timetable:
    """All of a show's visits; `as_of` is None until they are published."""

    window: Window
    as_of: TimesAsOf | None
    judges: tuple[JudgeTimes, ...]
    wagons: tuple[WagonTimes, ...]
    pauses: tuple[Pause, ...]

    def of_judge(self, judge_id: int) -> JudgeTimes | None:
        """Return one judge's times."""
        return next((one for one in self.judges if one.judge.pk == judge_id), None)

    def of_wagon(self, entry_id: int) -> WagonTimes | None:
        """Return one wagon's times."""
        return next((one for one in self.wagons if one.entry.pk == entry_id), None)


def times_as_of(show: Show, window: Window | None) -> TimesAsOf | None:
    """Return which announcement counts, or None while no times are published."""
    if window is None or window.published_at is None:
        return None
    newest = Announcement.objects.filter(show=show).order_by("-number").first()
    if newest is None:  # published before announcements were kept
        return TimesAsOf(1, window.published_at)
    return TimesAsOf(newest.number, newest.at, newest.reason)


def show_timetable(show: Show) -> Timetable | None:
    """Return the show's visits by judge and by wagon, or None while there are none."""
    window = window_of(show)
    if window is None:
        return None
    days = timetable(window)
    if not days:
        return None
    as_of = times_as_of(show, window)
    pauses = tuple(Pause.objects.filter(show=show))
    called_off = called_off_visits(show) if as_of else []
    words = sections_at(show)
    stays = [
        Stay(visit, words.get((visit.judge_id, visit.entry_id), ""))
        for _, own in days
        for visit in own
    ]
    at_wagon: dict[int, list[Stay]] = defaultdict(list)
    entries: dict[int, Entry] = {one.entry_id: one.entry for one in called_off}
    of_judge: dict[int, list[Stay]] = defaultdict(list)
    judges: dict[int, Judge] = {one.judge_id: one.judge for one in called_off}
    for stay in sorted(stays, key=lambda one: (one.visit.starts_at, one.visit.judge.code)):
        at_wagon[stay.visit.entry_id].append(stay)
        entries[stay.visit.entry_id] = stay.visit.entry
        of_judge[stay.visit.judge_id].append(stay)
        judges[stay.visit.judge_id] = stay.visit.judge
    return Timetable(
        window=window,
        as_of=as_of,
        judges=tuple(
            JudgeTimes(
                judge,
                tuple(of_judge[judge.pk]),
                tuple(p for p in pauses if p.entry_id is None and p.judge_id in (None, judge.pk)),
                tuple(one for one in called_off if one.judge_id == judge.pk),
            )
            for judge in sorted(judges.values(), key=lambda judge: judge.code)
        ),
        wagons=tuple(
            WagonTimes(
                entry,
                tuple(at_wagon[entry.pk]),
                tuple(p for p in pauses if p.judge_id is None and p.entry_id in (None, entry.pk)),
                tuple(one for one in called_off if one.entry_id == entry.pk),
            )
            for entry in sorted(entries.values(), key=lambda entry: (entry.number or 0, entry.pk))
        ),
        pauses=pauses,
    )


def sections_at(show: Show) -> dict[tuple[int, int], str]:
    """Return in words what each judge looks at, by judge and entry."""
    names: dict[tuple[int, int], list[str]] = defaultdict(list)
    at_entry: dict[int, set[str]] = defaultdict(set)
    for seat in seats_of(show):
        names[seat.judge_id, seat.entry_id].append(seat.section.name)
        at_entry[seat.entry_id].add(seat.section.name)
    return {
        (judge_id, entry_id): _("every section")
        if 1 < len(own) == len(at_entry[entry_id])
        else ", ".join(own)
        for (judge_id, entry_id), own in names.items()
    }


def called_off_visits(show: Show) -> list[CalledOffVisit]:
    """Return announced visits that will not take place, without those announced again since."""
    there = Visit.objects.filter(window__show=show).values_list("judge_id", "entry_id")
    planned = set(there)
    gone = CalledOffVisit.objects.filter(show=show)
    gone = gone.select_related("judge__person", "entry__spot")
    return [one for one in gone if (one.judge_id, one.entry_id) not in planned]


def chart_words(
    table: Timetable,
) -> tuple[Sequence[ChartVisit], Sequence[Who], Sequence[Who], Sequence[Busy]]:
    """Return a timetable as the chart wants it: visits, wagons, judges, busy times."""
    visits = [
        ChartVisit(one.visit.entry_id, one.visit.judge_id, one.visit.starts_at, one.visit.ends_at)
        for wagon in table.wagons
        for one in wagon.stays
    ]
    wagons = [
        Who(one.entry.pk, str(one.entry.number or ""), one.entry.wagon_name)
        for one in table.wagons
        if one.stays
    ]
    judges = [
        Who(one.judge.pk, one.judge.code, one.judge.person.name)
        for one in table.judges
        if one.stays
    ]
    busy = [
        Busy(pause.entry_id, pause.starts_at, pause.ends_at, pause.why)
        for pause in table.pauses
        if pause.judge_id is None
    ]
    return visits, wagons, judges, busy
