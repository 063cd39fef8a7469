"""What a correction changed: places, totals, purse and marks of one version beside another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from judging.rules.cards.scorecard import Mark
from judging.rules.round.replay import Row
from showrun.language import gettext as _


@dataclass(frozen=True)
class VersionLine:
    """One entry's line in a version of a result.

    Attributes
    ----------
    entry : int
        Its number.
    place : int
    total : Decimal [points]
    by_section : mapping of str to Decimal [points]
    purse_cents : int [cents]
    """

    entry: int
    place: int
    total: Decimal
    by_section: Mapping[str, Decimal] = field(default_factory=dict)
    purse_cents: int = 0


@dataclass(frozen=True)
class LineChange:
    """What became of one entry: its line before and after, None where it had or has none."""

    entry: int
    was: VersionLine | None
    now: VersionLine | None

    @property
    def place_moved(self) -> bool:
        """Whether the place is another one."""
        return (self.was.place if self.was else None) != (self.now.place if self.now else None)

    @property
    def total_changed(self) -> bool:
        """Whether the total is another one."""
        return bool(self.was and self.now) and self.total_by != 0

    @property
    def total_by(self) -> Decimal:
        """By how much the total grew [points]; below 0: it shrank."""
        return self.now.total - self.was.total if self.was and self.now else Decimal(0)

    @property
    def purse_by(self) -> int:
        """By how much the purse grew [cents]; an entry without a line has none."""
        now = self.now.purse_cents if self.now else 0
        return now - (self.was.purse_cents if self.was else 0)

    @property
    def sections(self) -> dict[str, tuple[Decimal | None, Decimal | None]]:
        """The points before and after, of the sections where they differ."""
        was = self.was.by_section if self.was else {}
        now = self.now.by_section if self.now else {}
        pairs = {code: (was.get(code), now.get(code)) for code in [*was, *now]}
        return {code: pair for code, pair in pairs.items() if pair[0] != pair[1]}

    @property
    def words(self) -> str:
        """Say where the entry went."""
        if self.was is None and self.now is not None:
            return _("placed {place}, not placed before").format(place=self.now.place)
        if self.now is None and self.was is not None:
            return _("was placed {place}, is not placed any more").format(place=self.was.place)
        assert self.was
        assert self.now
        if not self.place_moved:
            return _("stays at place {place}").format(place=self.now.place)
        return _("from place {was} to place {now}").format(was=self.was.place, now=self.now.place)


def line_changes(
    before: Iterable[VersionLine], after: Iterable[VersionLine]
) -> tuple[LineChange, ...]:
    """List the entries whose line is not what it was, in the order of the new places.

    Parameters
    ----------
    before, after : iterable of VersionLine
        All lines of the former and of the new version; no entry twice.

    Returns
    -------
    tuple of LineChange
        Only entries with another place, total, points of a section, or purse; those that have
        no line any more come last, by their number.

    Raises
    ------
    ValueError
        When an entry has two lines in one version.

    Source
    ------
    Common practice, no source: who reads a correction asks what it changed.

    Example
    -------
    >>> D = Decimal
    >>> was = [VersionLine(4, 1, D(90)), VersionLine(2, 2, D(80)), VersionLine(7, 3, D(70))]
    >>> now = [VersionLine(2, 1, D(95)), VersionLine(4, 2, D(90)), VersionLine(7, 3, D(70))]
    >>> for change in line_changes(was, now):
    ...     print(change.entry, change.words, change.total_by)
    2 from place 2 to place 1 15
    4 from place 1 to place 2 0
    """
    old, new = _by_entry(before), _by_entry(after)
    changed = [
        LineChange(entry, old.get(entry), new.get(entry))
        for entry in old.keys() | new.keys()
        if _unlike(old.get(entry), new.get(entry))
    ]
    return tuple(sorted(changed, key=_in_order))


def mark_changes(
    before: Mapping[Row, Mark | None], after: Mapping[Row, Mark | None]
) -> tuple[tuple[Row, Mark | None, Mark | None], ...]:
    """List the rows on which another mark stands than stood.

    Parameters
    ----------
    before, after : mapping of Row to Mark or None
        The marks that stood when each version was computed; None, or no row: no mark.

    Returns
    -------
    tuple of (Row, Mark or None, Mark or None)
        By entry, judge and row.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> from judging.rules.cards.scorecard import MarkState
    >>> seven, eight = (Mark(MarkState.MARKED, Decimal(value)) for value in (7, 8))
    >>> wheels, hounds = Row(1, 4, "wheels"), Row(1, 4, "hounds")
    >>> changed = mark_changes({wheels: seven, hounds: eight}, {wheels: eight, hounds: eight})
    >>> [(row.criterion, was.value, now.value) for row, was, now in changed]
    [('wheels', Decimal('7'), Decimal('8'))]
    """
    rows = sorted(before.keys() | after.keys(), key=lambda row: (row.entry, row.judge, row[2]))
    pairs = ((row, before.get(row), after.get(row)) for row in rows)
    return tuple((row, was, now) for row, was, now in pairs if was != now)


def _by_entry(lines: Iterable[VersionLine]) -> dict[int, VersionLine]:
    found: dict[int, VersionLine] = {}
    for line in lines:
        if line.entry in found:
            raise ValueError(f"Entry {line.entry} has two lines in one result.")
        found[line.entry] = line
    return found


def _unlike(was: VersionLine | None, now: VersionLine | None) -> bool:
    if was is None or now is None:
        return was is not now
    return (was.place, was.total, was.purse_cents, dict(was.by_section)) != (
        now.place,
        now.total,
        now.purse_cents,
        dict(now.by_section),
    )


def _in_order(change: LineChange) -> tuple[bool, int, int]:
    return (change.now is None, change.now.place if change.now else 0, change.entry)
