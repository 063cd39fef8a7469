"""Mend a panel that is drawn: a late wagon, a conflict found late, a judge who fell ill."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from judging.rules.panels.assignment import Seat
from judging.rules.panels.flow import Place, fill, places_of
from judging.rules.panels.integer import Program
from judging.rules.panels.levelling import BalanceBy, level
from judging.rules.panels.pins import Entry, Judge, JudgeOffer, Names, Pin, Task
from judging.rules.panels.shortage import PanelImpossible, minutes_fault, pin_faults, shortages


@dataclass(frozen=True)
class Change:
    """What changed at one place: who left it, and who came."""

    entry: Entry
    section: str
    left: tuple[Judge, ...]
    came: tuple[Judge, ...]


@dataclass(frozen=True)
class Mended:
    """What changes; every other seat stays as it was.

    Parameters
    ----------
    added
        New seats, in the order of entries and sections.
    dropped
        Seats whose judge may not sit there any more, whose entry left the show, or which had to
        be handed on to fill another.
    handed_on
        How many of the dropped seats could have stood by themselves [seats]; 0 where filling
        what is short moves nobody else.
    """

    added: tuple[Seat, ...]
    dropped: tuple[Seat, ...]
    handed_on: int

    @property
    def changes(self) -> tuple[Change, ...]:
        """The same place by place."""
        left: dict[tuple[Entry, str], list[Judge]] = defaultdict(list)
        came: dict[tuple[Entry, str], list[Judge]] = defaultdict(list)
        for seats, at in ((self.dropped, left), (self.added, came)):
            for seat in seats:
                at[seat.entry, seat.section].append(seat.judge)
        return tuple(
            Change(*place, tuple(left.get(place, ())), tuple(came.get(place, ())))
            for place in dict.fromkeys((*left, *came))
        )


def mend(
    *,
    seats: Sequence[Seat],
    entries: Sequence[Entry],
    entry_sections: Mapping[Any, tuple[str, ...]],
    judges: Sequence[JudgeOffer],
    judges_per_section: Mapping[str, int],
    seed: int,
    names: Names | None = None,
    pins: Sequence[Pin] = (),
    novices_beside_seniors: bool = False,
    minutes: Mapping[str, int] | None = None,
    balance_by: BalanceBy = "seats",
    settled: Collection[Seat] = (),
) -> Mended:
    """Make the panel whole again with the fewest new seats there can be.

    Parameters
    ----------
    seats
        The panel as it is, shape ``(n_seats,)``.
    entries, entry_sections, judges, judges_per_section, seed, names
        As in `assignment.draw`, for the show as it is now. A judge not offered any more
        loses all seats.
    pins, novices_beside_seniors, minutes, balance_by
        As in `assignment.draw`.
    settled
        Seats whose cards are in work: they stay wherever the judge may sit at all, even where
        a limit or a number of looks was lowered since.

    Returns
    -------
    Mended

    Raises
    ------
    PanelImpossible
        When the judges left cannot fill a place, whoever were moved; says which, and by how
        much.

    Notes
    -----
    Keeping a seat costs nothing and a new one costs 1; among the panels of least cost the one
    with the most equal loads is taken. Where everybody can keep what may stand, the new looks
    go along a cheapest chain over the new seats only, which is that optimum: fewer new seats
    than looks missing there cannot be. Otherwise an integer program finds the fewest, first the
    number and then the balance; without limits of minutes it is a minimum-cost flow, whose
    linear program has whole corners.

    Source
    ------
    As `assignment.draw`; that a mended panel changes as little as possible is common practice,
    no source.

    Example
    -------
    >>> ann, bob = (JudgeOffer(name, frozenset({"Camp"})) for name in ("Ann", "Bob"))
    >>> mended = mend(seats=[Seat(1, "Camp", "Ann")], entries=[1, 2],
    ...     entry_sections={1: ("Camp",), 2: ("Camp",)}, judges=[ann, bob],
    ...     judges_per_section={"Camp": 1}, seed=1)
    >>> [(seat.entry, seat.judge) for seat in mended.added], mended.dropped
    ([(2, 'Bob')], ())
    """
    task = Task(
        entries=entries,
        entry_sections=entry_sections,
        judges=judges,
        judges_per_section=judges_per_section,
        pins=pins,
        novices_beside_seniors=novices_beside_seniors,
        minutes=minutes,
    )
    return mend_task(
        task, seats=seats, settled=settled, seed=seed, names=names, balance_by=balance_by
    )


def mend_task(
    task: Task,
    *,
    seats: Sequence[Seat],
    settled: Collection[Seat] = (),
    seed: int,
    names: Names | None = None,
    balance_by: BalanceBy = "seats",
) -> Mended:
    """Mend the panel of a task; see `mend`.

    Raises
    ------
    PanelImpossible
        Where no panel fits, with what collides.
    """
    task.check()
    if faults := pin_faults(task, names or {}):
        raise PanelImpossible((), faults)
    places = places_of(task)
    old = _standing(task, places, seats)
    task, places = _with_settled(task, places, old, _standing(task, places, settled))
    sitting = _kept_whole(task, places, old, seed, balance_by)
    if sitting is None:
        sitting = _least_moved(task, places, old, seed, names or {}, balance_by)
    after = [
        Seat(place.entry, place.section, task.judges[j].judge)
        for place, judges_there in zip(places, sitting, strict=True)
        for j in sorted(judges_there)
    ]
    before, now = set(seats), set(after)
    standing = {
        Seat(places[p].entry, places[p].section, task.judges[j].judge)
        for p, there in enumerate(old)
        for j in there
    }
    return Mended(
        added=tuple(seat for seat in after if seat not in before),
        dropped=tuple(seat for seat in seats if seat not in now),
        handed_on=len(standing - now),
    )


def _standing(task: Task, places: Sequence[Place], seats: Collection[Seat]) -> list[set[int]]:
    """Who of those seated may go on sitting, place by place."""
    position = {offer.judge: index for index, offer in enumerate(task.judges)}
    at = {(place.entry, place.section): p for p, place in enumerate(places)}
    found: list[set[int]] = [set() for _ in places]
    for seat in seats:
        p, judge = at.get((seat.entry, seat.section)), position.get(seat.judge)
        if p is not None and judge is not None and judge in places[p].allowed:
            found[p].add(judge)
    return found


def _with_settled(
    task: Task, places: Sequence[Place], old: Sequence[set[int]], settled: Sequence[set[int]]
) -> tuple[Task, list[Place]]:
    """Fix the seats whose cards are in work, and let no lowered limit stand against them."""
    made = []
    seats, minutes = [0] * len(task.judges), [0] * len(task.judges)
    for place, there, before in zip(places, settled, old, strict=True):
        fixed = place.fixed | (there & before)
        for judge in fixed:
            seats[judge] += 1
            minutes[judge] += task.weight(place.section)
        needed = max(place.needed, len(fixed))
        most = place.most_novices
        if most is not None:
            most = max(most, len(fixed & place.novices))
        made.append(replace(place, fixed=fixed, needed=needed, most_novices=most))
    offers = [
        replace(
            offer,
            max_seats=None if offer.max_seats is None else max(offer.max_seats, seats[j]),
            max_minutes=None if offer.max_minutes is None else max(offer.max_minutes, minutes[j]),
        )
        for j, offer in enumerate(task.judges)
    ]
    return replace(task, judges=offers), made


def _kept_whole(
    task: Task, places: Sequence[Place], old: Sequence[set[int]], seed: int, by: BalanceBy
) -> list[set[int]] | None:
    """Fill what is short while everybody keeps what may stand; ``None`` where that cannot be."""
    kept = [
        replace(place, sitting=set(), fixed=place.fixed | there)
        for place, there in zip(places, old, strict=True)
    ]
    for place in kept:
        novices = len(place.fixed & place.novices)
        crowded = place.most_novices is not None and novices > place.most_novices
        if len(place.fixed) > place.needed or crowded:
            return None
    table = fill(task, kept, seed)
    over = any(
        limit is not None and load > limit
        for load, limit in zip(table.loads, table.limits, strict=True)
    )
    if over or any(place.short for place in kept) or level(table, task, by) is None:
        return None
    return [place.sitting for place in kept]


def _least_moved(
    task: Task,
    places: Sequence[Place],
    old: Sequence[set[int]],
    seed: int,
    names: Names,
    by: BalanceBy,
) -> list[set[int]]:
    """Find the panel with the fewest new seats, or say why there is none at all."""
    table = fill(task, [replace(place, sitting=set()) for place in places], seed)
    if any(place.short for place in table.places):
        raise PanelImpossible(shortages(table, names))
    kept = {(p, judge) for p, there in enumerate(old) for judge in there}
    found = Program(task, places, table.limits).least_changed(kept, by)
    if found is None:
        raise PanelImpossible((), minutes_fault(task, names))
    return found.sitting
