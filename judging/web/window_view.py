"""The window laid out for a reader: whether it fits, the ways out, and who is where when."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from entries.models import Entry
from judging.models import Judge, Pause, Visit, Window
from judging.queries.panel import seats_of
from judging.queries.plan import day_rules, pauses_of
from judging.queries.short_walks import WalkTooShort, walks_too_short
from judging.queries.window import timetable, window_of
from judging.rules.windows.daylight import advice, daylight
from judging.rules.windows.planner import chance_words
from showrun.language import gettext as _
from showrun.shows.models import Show


@dataclass(frozen=True)
class Stop:
    """One visit as a line of a judge's timetable."""

    visit: Visit
    sections: str


@dataclass(frozen=True)
class JudgesDay:
    """One judge's timetable."""

    judge: Judge
    stops: list[Stop]


@dataclass(frozen=True)
class WagonsDay:
    """One wagon's visits, a column for each judge."""

    entry: Entry
    cells: list[tuple[str, Visit | None]]


@dataclass(frozen=True)
class WindowView:
    """Everything the page of the window shows."""

    window: Window | None
    has_panel: bool
    stale: bool
    needed: str = ""
    available: str = ""
    verdict: str = ""
    bound: str = ""
    likely: str = ""
    likely_ends_at: datetime | None = None
    chance: str = ""
    risky: bool = False
    walking: bool = False
    light: tuple[str, ...] = ()
    closes_at: datetime | None = None
    last_ends_at: datetime | None = None
    answer: str = ""
    ways_out: tuple[str, ...] = ()
    judges: tuple[Judge, ...] = ()
    by_judge: tuple[JudgesDay, ...] = ()
    by_wagon: tuple[WagonsDay, ...] = ()
    short_walks: tuple[WalkTooShort, ...] = ()


@dataclass(frozen=True)
class PauseLine:
    """A pause as a line of the list."""

    pk: int
    who: str
    starts_at: datetime
    ends_at: datetime
    why: str


def span(minutes: int) -> str:
    """Say a length of time.

    >>> span(52), span(60), span(252)
    ('52 min', '1 h', '4 h 12 min')
    """
    hours, rest = divmod(minutes, 60)
    words = [f"{hours} h"] if hours else []
    if rest or not hours:
        words.append(_("{rest} min").format(rest=rest))
    return " ".join(words)


def window_view(show: Show) -> WindowView:
    """Lay out the window; `stale` when the panel is not the one it was sized to."""
    window = window_of(show)
    sections: dict[tuple[int, int], list[str]] = defaultdict(list)
    at_entry: dict[int, set[str]] = defaultdict(set)
    for seat in seats_of(show):
        sections[seat.judge_id, seat.entry_id].append(seat.section.name)
        at_entry[seat.entry_id].add(seat.section.name)

    def stop(visit: Visit) -> Stop:
        names = sections[visit.judge_id, visit.entry_id]
        every = 1 < len(names) == len(at_entry[visit.entry_id])
        return Stop(visit, _("every section") if every else ", ".join(names))

    if window is None:
        return WindowView(
            None, has_panel=bool(sections), stale=False, light=_light(show, show.judging_minutes)
        )
    days = timetable(window)
    visits = [visit for _, own in days for visit in own]
    likely = window.likely_minutes
    short = window.needed_minutes - window.available_minutes
    return WindowView(
        window=window,
        has_panel=bool(sections),
        stale={(visit.judge_id, visit.entry_id) for visit in visits} != set(sections),
        needed=span(window.needed_minutes),
        available=span(window.available_minutes),
        verdict=_("{minutes} short").format(minutes=span(short))
        if short > 0
        else _("fits, {minutes} to spare").format(minutes=span(-short)),
        bound=_bound_words(window),
        likely="" if likely is None else span(likely),
        likely_ends_at=None if likely is None else window.opens_at + timedelta(minutes=likely),
        chance="" if window.chance is None else chance_words(window.chance),
        risky=likely is not None and likely > window.available_minutes,
        walking=day_rules(show).style == "walking",
        light=_light(show, likely or window.needed_minutes),
        closes_at=window.opens_at + timedelta(minutes=window.available_minutes),
        last_ends_at=max((visit.ends_at for visit in visits), default=None),
        answer=window.advice[0] if window.advice else "",
        ways_out=tuple(window.advice[1:]),
        judges=tuple(judge for judge, _ in days),
        by_judge=tuple(JudgesDay(judge, [stop(visit) for visit in own]) for judge, own in days),
        by_wagon=_by_wagon([judge for judge, _ in days], visits),
        short_walks=walks_too_short(window, days),
    )


def _light(show: Show, minutes: int) -> tuple[str, ...]:
    """Say how the judging lies in the day's light; nothing where the place is not known."""
    rules = day_rules(show)
    if rules.latitude is None or rules.longitude is None:
        return ()
    day = show.judging_starts_at.astimezone(show.tz).date()
    light = daylight(rules.latitude, rules.longitude, day, show.tz)
    return (light.sentence, *advice(light, show.judging_starts_at, minutes, show.tz))


def pauses_view(show: Show) -> list[PauseLine]:
    """Say who cannot take part when."""
    return [
        PauseLine(pause.pk, _who(pause), pause.starts_at, pause.ends_at, pause.why)
        for pause in pauses_of(show)
    ]


def _who(pause: Pause) -> str:
    if pause.judge:
        return f"{pause.judge.person.name} ({pause.judge.code})"
    return _("crew of {entry}").format(entry=pause.entry.called) if pause.entry else _("everybody")


def _bound_words(window: Window) -> str:
    gap = window.needed_minutes - window.bound_minutes
    if window.proven or gap <= 0:
        return _("No plan of these visits can be shorter.")
    return _(
        "No plan can be shorter than {bound}; this one is at most {gap} longer than the best "
        "there is."
    ).format(bound=span(window.bound_minutes), gap=span(gap))


def _by_wagon(judges: Iterable[Judge], visits: Iterable[Visit]) -> tuple[WagonsDay, ...]:
    at: dict[int, dict[int, Visit]] = defaultdict(dict)
    entries: dict[int, Entry] = {}
    for visit in visits:
        at[visit.entry_id][visit.judge_id] = visit
        entries[visit.entry_id] = visit.entry
    order = sorted(entries.values(), key=lambda entry: entry.number or 0)
    return tuple(
        WagonsDay(entry, [(judge.code, at[entry.pk].get(judge.pk)) for judge in judges])
        for entry in order
    )
