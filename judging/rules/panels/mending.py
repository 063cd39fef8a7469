"""Mend a panel that is drawn: a late wagon, a conflict found late, a judge who fell ill."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from judging.rules.panels.assignment import Seat
from judging.rules.panels.flow import Entry, JudgeOffer, Names, Place, Table
from judging.rules.panels.shortage import PanelImpossible, shortages


@dataclass(frozen=True)
class Mended:
    """What changes; every other seat stays as it was.

    Parameters
    ----------
    added
        New seats, in the order of entries and sections.
    dropped
        Seats whose judge may not sit there any more, or whose entry left the show.
    """

    added: tuple[Seat, ...]
    dropped: tuple[Seat, ...]


def mend(
    *,
    seats: Sequence[Seat],
    entries: Sequence[Entry],
    entry_sections: Mapping[Any, tuple[str, ...]],
    judges: Sequence[JudgeOffer],
    judges_per_section: Mapping[str, int],
    seed: int,
    names: Names | None = None,
) -> Mended:
    """Drop the seats that may not stand, and fill what is short; nobody else is moved.

    Parameters
    ----------
    seats
        The panel as it is, shape ``(n_seats,)``.
    entries, entry_sections, judges, judges_per_section, seed, names
        As in `assignment.draw`, for the show as it is now. A judge not offered any more
        loses all seats.

    Returns
    -------
    Mended

    Raises
    ------
    PanelImpossible
        When the judges left cannot fill a place; says which, and by how much.

    Notes
    -----
    The new looks go along a cheapest chain over the new seats only, starting from the loads
    the judges keep, so that the least loaded take them.

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
    position = {offer.judge: index for index, offer in enumerate(judges)}
    wanted = {(entry, section) for entry in entries for section in entry_sections[entry]}
    sitting: dict[tuple[Any, str], set[int]] = defaultdict(set)
    dropped = []
    for seat in seats:
        index = position.get(seat.judge)
        place = (seat.entry, seat.section)
        if index is None or place not in wanted or not judges[index].may_sit(*place):
            dropped.append(seat)
        else:
            sitting[place].add(index)
    places = [
        Place(
            entry,
            section,
            judges_per_section[section] - len(sitting[entry, section]),
            frozenset(
                j
                for j, offer in enumerate(judges)
                if offer.may_sit(entry, section) and j not in sitting[entry, section]
            ),
        )
        for entry in entries
        for section in entry_sections[entry]
        if len(sitting[entry, section]) < judges_per_section[section]
    ]
    table = Table(places, judges, seed)
    for kept in sitting.values():
        for index in kept:
            table.loads[index] += 1
    for turn in table.turns:
        table.add_look(places[turn])
    if any(place.short for place in places):
        raise PanelImpossible(shortages(table, names or {}))
    added = tuple(
        Seat(place.entry, place.section, judges[index].judge)
        for place in places
        for index in sorted(place.sitting)
    )
    return Mended(added, tuple(dropped))
