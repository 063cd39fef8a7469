"""The progress page's grid and list of phones, from what the queries found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import NamedTuple

from judging.models import Device, Judge
from judging.queries.progress import CardProgress
from judging.rules.round.phones import QUIET_AFTER
from showrun.language import gettext as _
from showrun.language import ngettext, pgettext


class Cell(NamedTuple):
    """One judge's card for one wagon, in words ready to print."""

    words: str
    look: str
    time: str = ""
    note: str = ""


@dataclass(frozen=True)
class Column:
    """A judge with how many cards are in."""

    code: str
    name: str
    cards_in: int
    cards_expected: int


@dataclass(frozen=True)
class Grid:
    """Wagons down, judges across."""

    columns: list[Column]
    rows: list[tuple[int | None, str, list[Cell]]]


@dataclass(frozen=True)
class PhoneLine:
    """A judge's phone, or that there is none."""

    judge: Judge
    label: str
    words: str
    sign: str
    unsent: int


def clock(at: datetime, tz: tzinfo) -> str:
    """Say what time it is on the show's clock."""
    return f"{at.astimezone(tz):%I:%M %p}".lstrip("0")


def cell(card: CardProgress, *, ends_at: datetime | None, at: datetime, tz: tzinfo) -> Cell:
    """Say how far a card is, whether its visit is over, and who else keyed it."""
    if card.handed_in_at:
        time = clock(card.handed_in_at, tz)
        note = f"{time}. {card.names}" if card.names else ""
        return Cell(pgettext("a card", "in"), "state state-good", time=time, note=note)
    late = ends_at is not None and ends_at < at
    told = (
        [_("visit ended {time}").format(time=clock(ends_at, tz))]
        if ends_at is not None and late
        else []
    )
    note = ". ".join([*told, card.names] if card.names else told)
    if not card.marked:
        return Cell(_("not begun"), "state state-bad" if late else "state", note=note)
    if card.marked < card.expected:
        return Cell(
            _("{marked} of {expected} rows").format(marked=card.marked, expected=card.expected),
            "state state-wait",
            note=note,
        )
    return Cell(_("marked, not handed in"), "state state-wait", note=note)


def grid(
    cards: Sequence[CardProgress],
    ends: dict[tuple[str, int], datetime],
    *,
    at: datetime,
    tz: tzinfo,
) -> Grid:
    """Lay the cards out as a table."""
    expected = Counter(card.judge_code for card in cards)
    handed_in = Counter(card.judge_code for card in cards if card.done)
    names = {card.judge_code: card.judge_name for card in cards}
    cells = {
        (card.entry_number, card.judge_code): cell(
            card, ends_at=ends.get((card.judge_code, card.entry_number or 0)), at=at, tz=tz
        )
        for card in cards
    }
    no_seat = Cell(_("no seat"), "quiet-text")
    wagons = {card.entry_number: card.wagon_name for card in cards}
    codes = sorted(names)
    return Grid(
        columns=[Column(code, names[code], handed_in[code], expected[code]) for code in codes],
        rows=[
            (number, wagons[number], [cells.get((number, code), no_seat) for code in codes])
            for number in sorted(wagons, key=lambda number: number or 0)
        ],
    )


def ago(then: datetime, *, at: datetime) -> str:
    """Say how long ago something was."""
    minutes = int((at - then).total_seconds() // 60)
    if minutes < 1:
        return _("less than a minute ago")
    if minutes < 120:
        return ngettext("{minutes} minute ago", "{minutes} minutes ago", minutes).format(
            minutes=minutes
        )
    return _("{hours} hours ago").format(hours=minutes // 60)


def _phone(judge: Judge, device: Device, at: datetime) -> PhoneLine:
    if device.last_seen_at is None:
        return PhoneLine(judge, str(device), _("no contact yet"), "state-wait", device.unsent)
    quiet = at - device.last_seen_at > QUIET_AFTER
    words = _("last contact {ago}").format(ago=ago(device.last_seen_at, at=at))
    sign = "state-wait" if quiet or device.unsent else "state-good"
    return PhoneLine(judge, str(device), words, sign, device.unsent)


def phones(judges: Iterable[Judge], *, at: datetime) -> list[PhoneLine]:
    """List every judge's phones in use; a judge without one gets a line that says so."""
    lines = []
    for judge in judges:
        in_use = [device for device in judge.devices.all() if device.revoked_at is None]
        lines += [_phone(judge, device, at) for device in in_use]
        if not in_use:
            lines.append(PhoneLine(judge, "", _("no phone paired"), "state-bad", 0))
    return lines
