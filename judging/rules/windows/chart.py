"""The rotation as a chart: time across, wagons down. Only geometry; a template draws it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Sequence
from datetime import UTC, datetime, timedelta, tzinfo

from judging.rules.windows.chart_shapes import (
    Bar,
    Busy,
    Chart,
    ChartVisit,
    Frame,
    Hatched,
    Look,
    Row,
    Tick,
    Who,
)
from judging.rules.windows.chart_text import fitted, text_width
from showrun.language import gettext as _
from showrun.language import ngettext, pgettext

FILLS = 4
# How the line at the foot of a judge's bars is broken; with the fills, looks for 32 judges.
DASHES = ("", "1 2", "4 2", "8 2", "6 2 1 2", "2 4", "10 2 2 2", "1 1")
LONGEST_LABEL = 4  # letters
_STEPS_MINUTES = (15, 30, 60, 120, 180, 240, 360, 720)
_AIR = 3.0  # between a bar's label and whatever is beside it
_HATCH = 5.0
_THICKEST_FOOT = 2.0  # the line at a bar's foot


def looks(judges: Sequence[Who]) -> dict[Hashable, Look]:
    """Give each judge a label, a fill and a line that no other judge has.

    Parameters
    ----------
    judges : sequence of Who, shape (n_judges,)
        In the order of the lists.

    Returns
    -------
    dict
        The judges' own labels when all are short, else the letters A, B, C.

    Raises
    ------
    ValueError
        Above 32 judges, the number of different looks.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> [look.label for look in looks([Who(1, "J1", "Ada"), Who(2, "J2", "Bo")]).values()]
    ['J1', 'J2']
    >>> [look.label for look in looks([Who(1, "senior-1", "Ada"), Who(2, "J2", "Bo")]).values()]
    ['A', 'B']
    """
    if len(judges) > FILLS * len(DASHES):
        raise ValueError(f"a chart tells {FILLS * len(DASHES)} judges apart, not {len(judges)}")
    short = all(len(judge.label) <= LONGEST_LABEL for judge in judges)
    return {
        judge.key: Look(
            label=judge.label if short else _letter(place),
            name=judge.name,
            fill=place % FILLS,
            dash=DASHES[place // FILLS],
        )
        for place, judge in enumerate(judges)
    }


def draw(
    visits: Sequence[ChartVisit],
    wagons: Sequence[Who],
    judges: Sequence[Who],
    *,
    zone: tzinfo,
    busy: Sequence[Busy] = (),
    now_at: datetime | None = None,
    frame: Frame | None = None,
) -> Chart:
    """Lay a rotation out as a chart.

    Parameters
    ----------
    visits : sequence of ChartVisit, shape (n_visits,)
        Of the wagons and judges named. Visits that overlap at a wagon make one bar.
    wagons, judges : sequence of Who, shapes (n_wagons,) and (n_judges,)
        In the order they are shown.
    zone : tzinfo
        The show's own clock, for the scale.
    busy : sequence of Busy
        What is hatched: a row's part, or a column over all rows.
    now_at : datetime, optional
        Where the line of the present time stands; left out beyond the chart.
    frame : Frame
        Measures of the drawing.

    Returns
    -------
    Chart

    Raises
    ------
    ValueError
        Without a visit, or when there are more judges than looks.

    Notes
    -----
    The scale runs from the quarter of an hour before the first visit to the one after the
    last. A label stands in its bar, or beside it where there is room to the next thing in the
    row, or nowhere; it never runs over.

    Source
    ------
    Gantt's chart of work over time (from memory); common practice, no source (the labels).

    Examples
    --------
    >>> at = datetime(2027, 5, 15, 14, 0, tzinfo=UTC)
    >>> told = [ChartVisit(7, 1, at, at + timedelta(minutes=30))]
    >>> chart = draw(told, [Who(7, "7", "Patient Mule")], [Who(1, "J1", "Ada")], zone=UTC)
    >>> chart.rows[0].bars[0].title
    'J1 Ada at 7 Patient Mule, 2:00 PM to 2:30 PM'
    >>> [tick.label for tick in chart.ticks]
    ['2 PM', '2:15', '2:30']
    """
    if not visits:
        raise ValueError("there is no visit to draw")
    frame = frame or Frame()
    canvas = _Canvas(visits, len(wagons), zone, frame)
    worn = looks(judges)
    at_wagon: dict[Hashable, list[ChartVisit]] = defaultdict(list)
    for visit in sorted(visits, key=lambda one: (one.starts_at, str(one.judge))):
        at_wagon[visit.wagon].append(visit)
    rows = tuple(
        _row(canvas, place, wagon, at_wagon[wagon.key], worn, busy)
        for place, wagon in enumerate(wagons)
    )
    first, last = canvas.clock(min(canvas.starts)), canvas.clock(max(canvas.ends))
    return Chart(
        width=frame.width,
        height=round(canvas.bottom + 4, 2),
        left=canvas.left,
        right=canvas.right,
        top=canvas.top,
        text_size=frame.text_size,
        foot_width=canvas.foot,
        number_x=round(frame.text_size * 2.2, 2),
        name_x=round(frame.text_size * 2.8, 2),
        scale_y=round(canvas.top - frame.text_size * 0.6, 2),
        rows=rows,
        pauses=tuple(
            canvas.hatched(one, canvas.top, canvas.bottom - canvas.top)
            for one in busy
            if one.wagon is None and canvas.shows(one)
        ),
        ticks=canvas.ticks(),
        now_x=canvas.x(now_at) if now_at and canvas.from_at <= now_at <= canvas.to_at else None,
        judges=tuple(worn.values()),
        title=_("Rotation: {wagons}, {judges}, {visits}").format(
            wagons=ngettext("{n} wagon", "{n} wagons", len(wagons)).format(n=len(wagons)),
            judges=ngettext("{n} judge", "{n} judges", len(judges)).format(n=len(judges)),
            visits=ngettext("{n} visit", "{n} visits", len(visits)).format(n=len(visits)),
        ),
        description=_(
            "A row for each wagon, time from left to right, from {first} to {last}. The tables "
            "beside it say the same in words."
        ).format(first=first, last=last),
    )


class _Canvas:
    """Where times stand on the drawing."""

    def __init__(
        self, visits: Sequence[ChartVisit], n_wagons: int, zone: tzinfo, frame: Frame
    ) -> None:
        self.frame, self.zone = frame, zone
        self.starts = [visit.starts_at for visit in visits]
        self.ends = [visit.ends_at for visit in visits]
        quarter = timedelta(minutes=15).total_seconds()
        self.from_at = datetime.fromtimestamp(
            min(self.starts).timestamp() // quarter * quarter, UTC
        )
        self.to_at = datetime.fromtimestamp(
            -(-max(self.ends).timestamp() // quarter) * quarter, UTC
        )
        self.left = frame.name_width
        self.foot = round(min(_THICKEST_FOOT, frame.row_height * 0.09), 2)
        # Room for half a label of the scale.
        self.right = round(frame.width - text_width("00 PM", frame.text_size) / 2, 2)
        self.top = round(frame.text_size * 2, 2)
        self.bottom = round(self.top + n_wagons * frame.row_height, 2)

    def x(self, at: datetime) -> float:
        """Return where an instant stands; what lies beyond stands at the edge."""
        share = (at - self.from_at) / (self.to_at - self.from_at)
        return round(self.left + min(max(share, 0.0), 1.0) * (self.right - self.left), 2)

    def clock(self, at: datetime) -> str:
        """Say a time of the day."""
        local = at.astimezone(self.zone)
        return f"{local.hour % 12 or 12}:{local.minute:02} {'AM' if local.hour < 12 else 'PM'}"

    def shows(self, busy: Busy) -> bool:
        """Whether any of it lies inside the drawing."""
        return busy.starts_at < self.to_at and busy.ends_at > self.from_at

    def hatched(self, busy: Busy, y: float, height: float) -> Hatched:
        """Lay out a time without visits."""
        x, right = self.x(busy.starts_at), self.x(busy.ends_at)
        title = _("{why}, {start} to {end}").format(
            why=busy.why, start=self.clock(busy.starts_at), end=self.clock(busy.ends_at)
        )
        width = round(right - x, 2)
        return Hatched(x, y, width, height, _strokes(x, y, width, height), title)

    def ticks(self) -> tuple[Tick, ...]:
        """Place times on the scale, as many as leave their labels apart."""
        room = text_width("00 PM", self.frame.text_size) + 2 * _AIR
        minutes = (self.to_at - self.from_at) / timedelta(minutes=1)
        a_minute = (self.right - self.left) / minutes
        steps = [step for step in _STEPS_MINUTES if step * a_minute >= room]
        step = steps[0] if steps else _STEPS_MINUTES[-1]
        ticks, at = [], self.from_at
        while at <= self.to_at:
            # By the show's clock, so that a full hour stands at a full hour in every zone.
            local = at.astimezone(self.zone)
            if (local.hour * 60 + local.minute) % step == 0:
                ticks.append(Tick(self.x(at), _hour(local)))
            at += timedelta(minutes=15)
        return tuple(ticks)


def _row(
    canvas: _Canvas,
    place: int,
    wagon: Who,
    visits: Sequence[ChartVisit],
    worn: dict[Hashable, Look],
    busy: Sequence[Busy],
) -> Row:
    frame = canvas.frame
    y = round(canvas.top + place * frame.row_height, 2)
    own = [one for one in busy if one.wagon == wagon.key and canvas.shows(one)]
    every = [one for one in busy if one.wagon is None and canvas.shows(one)]
    taken = [canvas.x(one.starts_at) for one in (*own, *every)]
    taken += [canvas.x(visit.starts_at) for visit in visits]
    bars = []
    for group in _together(visits):
        x = canvas.x(group[0].starts_at)
        right = canvas.x(max(visit.ends_at for visit in group))
        free = min([edge for edge in taken if edge >= right], default=canvas.right)
        look = _one_look([worn[visit.judge] for visit in group], len(worn))
        label, label_x = _label(look.label, x, right, free, frame)
        gap = round(frame.row_height * 0.1, 2)
        bars.append(
            Bar(
                x=x,
                y=round(y + gap, 2),
                width=round(right - x, 2),
                height=round(frame.row_height - 2 * gap, 2),
                look=look,
                label=label,
                label_x=label_x,
                # In the middle of what the line at the foot leaves.
                label_y=round(y + (frame.row_height - canvas.foot) / 2 + frame.text_size * 0.35, 2),
                foot_y=round(y + frame.row_height - gap - canvas.foot * 0.7, 2),
                title="; ".join(_said(canvas, visit, worn[visit.judge], wagon) for visit in group),
            )
        )
    return Row(
        y=y,
        height=frame.row_height,
        text_y=round(y + frame.row_height / 2 + frame.text_size * 0.3, 2),
        label=fitted(wagon.label, frame.text_size, frame.text_size * 2.2),
        name=fitted(wagon.name, frame.text_size, canvas.left - frame.text_size * 2.8 - _AIR),
        title=f"{wagon.label} {wagon.name}",
        bars=tuple(bars),
        busy=tuple(canvas.hatched(one, y, frame.row_height) for one in own),
    )


def _together(visits: Sequence[ChartVisit]) -> list[list[ChartVisit]]:
    """Join visits that overlap, as those of a panel that walks together do."""
    groups: list[list[ChartVisit]] = []
    for visit in visits:
        if groups and visit.starts_at < max(one.ends_at for one in groups[-1]):
            groups[-1].append(visit)
        else:
            groups.append([visit])
    return groups


def _one_look(looks_of_bar: Sequence[Look], n_judges: int) -> Look:
    if len(looks_of_bar) == 1:
        return looks_of_bar[0]
    labels = " ".join(look.label for look in looks_of_bar)
    label = pgettext("judges", "all") if len(looks_of_bar) == n_judges else labels
    return Look(label, ", ".join(look.name for look in looks_of_bar), fill=0, dash="")


def _said(canvas: _Canvas, visit: ChartVisit, look: Look, wagon: Who) -> str:
    return _("{judge} at {wagon}, {start} to {end}").format(
        judge=f"{look.label} {look.name}",
        wagon=f"{wagon.label} {wagon.name}",
        start=canvas.clock(visit.starts_at),
        end=canvas.clock(visit.ends_at),
    )


def _label(words: str, x: float, right: float, free: float, frame: Frame) -> tuple[str, float]:
    """Return a bar's label and where its left edge stands, inside or beside."""
    width = text_width(words, frame.text_size)
    if width + 2 <= right - x:
        return words, round(x + (right - x - width) / 2, 2)
    if width + 2 * _AIR <= free - right:
        return words, round(right + _AIR, 2)
    return "", x


def _strokes(x: float, y: float, width: float, height: float) -> str:
    """Return slanting strokes inside a rectangle."""
    right, bottom = x + width, y + height
    parts = []
    along = x + y + _HATCH / 2
    while along < right + bottom:
        x1, x2 = max(x, along - bottom), min(right, along - y)
        parts.append(f"M{x1:.2f} {along - x1:.2f}L{x2:.2f} {along - x2:.2f}")
        along += _HATCH
    return "".join(parts)


def _hour(local: datetime) -> str:
    if local.minute:
        return f"{local.hour % 12 or 12}:{local.minute:02}"
    return f"{local.hour % 12 or 12} {'AM' if local.hour < 12 else 'PM'}"


def _letter(place: int) -> str:
    lap, letter = divmod(place, 26)
    return ("A" if lap else "") + chr(ord("A") + letter)
