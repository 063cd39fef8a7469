"""The progress page's grid and list of phones, from what the queries found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from judging.models import Device, Judge
from judging.queries.progress import CardProgress

# Phones send as they can; after this long without one the office may want to look.
QUIET_AFTER = timedelta(minutes=20)


@dataclass(frozen=True)
class Cell:
    """One judge's card for one wagon, in words."""

    words: str
    sign: str
    note: str = ""
    at: datetime | None = None


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
    rows: list[tuple[int | None, str, list[Cell | None]]]


@dataclass(frozen=True)
class PhoneLine:
    """A judge's phone, or that there is none."""

    judge: Judge
    label: str
    words: str
    sign: str
    unsent: int


def cell(card: CardProgress, *, ends_at: datetime | None, at: datetime) -> Cell:
    """Say how far a card is, and whether its visit is over."""
    if card.handed_in_at:
        return Cell("in", "state-good", at=card.handed_in_at)
    late = ends_at if ends_at is not None and ends_at < at else None
    note = "visit ended" if late else ""
    if not card.marked:
        return Cell("not begun", "state-bad" if late else "", note, late)
    if card.marked < card.expected:
        return Cell(f"{card.marked} of {card.expected} rows", "state-wait", note, late)
    return Cell("marked, not handed in", "state-wait", note, late)


def grid(
    cards: Sequence[CardProgress], ends: dict[tuple[str, int], datetime], *, at: datetime
) -> Grid:
    """Lay the cards out as a table."""
    expected = Counter(card.judge_code for card in cards)
    handed_in = Counter(card.judge_code for card in cards if card.done)
    names = {card.judge_code: card.judge_name for card in cards}
    by_place = {(card.entry_number, card.judge_code): card for card in cards}
    wagons = {card.entry_number: card.wagon_name for card in cards}
    codes = sorted(names)

    def at_place(number: int | None, code: str) -> Cell | None:
        card = by_place.get((number, code))
        ends_at = ends.get((code, number or 0))
        return cell(card, ends_at=ends_at, at=at) if card else None

    return Grid(
        columns=[Column(code, names[code], handed_in[code], expected[code]) for code in codes],
        rows=[
            (number, wagons[number], [at_place(number, code) for code in codes])
            for number in sorted(wagons, key=lambda number: number or 0)
        ],
    )


def ago(then: datetime, *, at: datetime) -> str:
    """Say how long ago something was."""
    minutes = int((at - then).total_seconds() // 60)
    if minutes < 1:
        return "less than a minute ago"
    if minutes < 120:
        return f"{minutes} minute{'s' if minutes > 1 else ''} ago"
    return f"{minutes // 60} hours ago"


def _phone(judge: Judge, device: Device, at: datetime) -> PhoneLine:
    if device.last_seen_at is None:
        return PhoneLine(judge, str(device), "no contact yet", "state-wait", device.unsent)
    quiet = at - device.last_seen_at > QUIET_AFTER
    words = f"last contact {ago(device.last_seen_at, at=at)}"
    sign = "state-wait" if quiet or device.unsent else "state-good"
    return PhoneLine(judge, str(device), words, sign, device.unsent)


def phones(judges: Iterable[Judge], *, at: datetime) -> list[PhoneLine]:
    """List every judge's phones in use; a judge without one gets a line that says so."""
    lines = []
    for judge in judges:
        in_use = [device for device in judge.devices.all() if device.revoked_at is None]
        lines += [_phone(judge, device, at) for device in in_use]
        if not in_use:
            lines.append(PhoneLine(judge, "", "no phone paired", "state-bad", 0))
    return lines
