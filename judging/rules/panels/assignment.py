"""Who sits where: every place gets its judges, without conflicts and with fair loads."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from judging.rules.panels.flow import Place, Table, exchange, fill, once, places_of
from judging.rules.panels.levelling import Balance, BalanceBy, level
from judging.rules.panels.pins import Entry, Judge, JudgeOffer, Names, Pin, Task
from judging.rules.panels.shortage import (
    PanelImpossible,
    Shortage,
    minutes_fault,
    pin_faults,
    shortages,
)

__all__ = ["Draw", "JudgeOffer", "PanelImpossible", "Pin", "Seat", "Shortage", "draw", "draw_task"]


@dataclass(frozen=True)
class Seat:
    """One judge looks at one section of one entry."""

    entry: Entry
    section: str
    judge: Judge


@dataclass(frozen=True)
class Draw:
    """A drawn panel.

    Parameters
    ----------
    seats
        In the order of the entries, their sections and the judges as they were given.
    loads
        Seats per judge [seats], every offered judge included.
    connected
        Per section: whether all its judges can be compared through entries they share.
    balance
        What was balanced, and whether it is proved that no panel is more equal.
    """

    seats: tuple[Seat, ...]
    loads: Mapping[Judge, int]
    connected: Mapping[str, bool]
    balance: Balance


def draw(
    *,
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
) -> Draw:
    """Draw a panel: nobody judges where they have a conflict, and loads are as equal as can be.

    Parameters
    ----------
    entries
        Shape ``(n_entries,)``, each once.
    entry_sections
        The sections scored at each entry.
    judges
        Shape ``(n_judges,)``, each judge once.
    judges_per_section
        Looks each entry gets in a section [judges].
    seed
        Decides between panels of equal merit; the same input and seed give the same panel.
    names
        Words for entries, judges and sections in explanations; ``str()`` of those left out.
    pins
        Seats set by hand: must sit, must not sit.
    novices_beside_seniors
        Whether each place with a novice needs a senior; with one look a place no novice sits.
    minutes
        Length of one look in a section [min]; needed to balance by minutes and for judges who
        are there for a part of the time.
    balance_by
        ``"seats"`` or ``"minutes"``: what is made equal.

    Returns
    -------
    Draw
        The seats. Balanced by seats, and where no limit of minutes binds, the sum of squared
        loads is the least possible, which also makes the spread between the busiest and the
        least busy judge the least possible. Balanced by minutes, `Draw.balance` says whether
        that is proved and gives the bound.

    Raises
    ------
    PanelImpossible
        When no panel exists. The sentence comes from the minimum cut, so its sum is a proof.
    ValueError
        For repeated entries or judges, or a section without a number of judges.

    Notes
    -----
    Minimum-cost flow: source to judge on unit arcs of cost 1, 3, 5 ... (the increments of the
    squared load), judge to place on unit arcs where qualified and not barred, place to sink with
    the judges asked for; novices reach a place through a side node of one look less, so that a
    senior sits beside them; seats set by hand are taken out beforehand. Each look is added along
    a cheapest augmenting path, which ends at the least loaded judge that can be reached by
    handing seats on; the flow therefore stays optimal after every look. Two seats of a section
    are then exchanged, at unchanged loads, where this ties groups of judges together that share
    no entry.

    A judge may be seated in several sections of one entry.

    Minutes are no flow, since looks differ in length: that alone is as hard as packing. The
    flow's seats are then handed on and exchanged while the squared minutes fall; where limits
    of minutes still do not hold or the bound is not met, an integer program decides.

    Source
    ------
    Ahuja, Magnanti and Orlin (1993), Network Flows, section 9.7 (successive shortest paths) and
    chapter 14 (convex costs); Harvey, Ladner, Lovasz and Tamir (2006), Semi-matchings for
    bipartite graphs and load balancing, J. Algorithms 59:53-78 (from memory of both).

    Example
    -------
    >>> offers = [
    ...     JudgeOffer("Cole", frozenset({"Harness"})),
    ...     JudgeOffer("Harlan", frozenset({"Harness"}), barred=frozenset({4})),
    ... ]
    >>> panel = draw(
    ...     entries=[1, 2, 3, 4],
    ...     entry_sections={entry: ("Harness",) for entry in (1, 2, 3, 4)},
    ...     judges=offers,
    ...     judges_per_section={"Harness": 1},
    ...     seed=7,
    ... )
    >>> dict(panel.loads)
    {'Cole': 2, 'Harlan': 2}
    >>> [seat.judge for seat in panel.seats if seat.entry == 4]
    ['Cole']
    >>> try:
    ...     draw(
    ...         entries=[1, 2, 3, 4],
    ...         entry_sections={entry: ("Harness",) for entry in (1, 2, 3, 4)},
    ...         judges=offers,
    ...         judges_per_section={"Harness": 2},
    ...         seed=7,
    ...         names={4: "wagon 4"},
    ...     )
    ... except PanelImpossible as impossible:
    ...     print(impossible)  # doctest: +NORMALIZE_WHITESPACE
    Harness at wagon 4 needs 2 looks (1 wagon x 2 judges) but only 1 judge may judge it and can
    give 1: Cole 1, Harlan 0 (in conflict with wagon 4); 1 look short.
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
    return draw_task(task, seed=seed, names=names, balance_by=balance_by)


def draw_task(
    task: Task, *, seed: int, names: Names | None = None, balance_by: BalanceBy = "seats"
) -> Draw:
    """Draw the panel of a task; see `draw`.

    Raises
    ------
    ValueError
        Where minutes are to be equal and nobody said how long the sections take.
    PanelImpossible
        Where no panel fits, with what collides.
    """
    task.check()
    if balance_by == "minutes" and task.minutes is None:
        raise ValueError("balance by minutes needs the sections' minutes")
    table = filled(task, seed, names or {})
    balance = level(table, task, balance_by)
    if balance is None:
        raise PanelImpossible((), minutes_fault(task, names or {}))
    _tie_together(table)
    judges = task.judges
    return Draw(
        seats=tuple(
            Seat(place.entry, place.section, judges[judge].judge)
            for place in table.places
            for judge in sorted(place.sitting)
        ),
        loads={offer.judge: table.loads[j] for j, offer in enumerate(judges)},
        connected={
            section: len(_groups(table.of_section(section))) <= 1
            for section in once(place.section for place in table.places)
        },
        balance=balance,
    )


def filled(task: Task, seed: int, names: Names) -> Table:
    """Return the flow with every place filled.

    Raises
    ------
    PanelImpossible
        With what collides.
    """
    if faults := pin_faults(task, names):
        raise PanelImpossible((), faults)
    table = fill(task, places_of(task), seed)
    if any(place.short for place in table.places):
        raise PanelImpossible(shortages(table, names))
    return table


def _groups(places: Sequence[Place]) -> list[set[int]]:
    """Judges tied together by shared entries, by union-find."""
    parent: dict[int, int] = {}

    def root(judge: int) -> int:
        while parent[judge] != judge:
            parent[judge] = parent[parent[judge]]
            judge = parent[judge]
        return judge

    for place in places:
        first: int | None = None
        for judge in sorted(place.sitting):
            parent.setdefault(judge, judge)
            if first is None:
                first = judge
            parent[root(judge)] = root(first)
    groups: dict[int, set[int]] = {}
    for judge in parent:
        groups.setdefault(root(judge), set()).add(judge)
    return list(groups.values())


def _tie_together(table: Table) -> None:
    """Exchange seats inside a section, loads unchanged, as long as this joins groups of judges."""
    for section in once(place.section for place in table.places):
        places = table.of_section(section)
        while len(groups := _groups(places)) > 1 and _join_two(places, groups):
            pass


def _join_two(places: Sequence[Place], groups: list[set[int]]) -> bool:
    home = {judge: g for g, group in enumerate(groups) for judge in group}
    shared = [place for place in places if len(place.sitting) > 1]
    for one, other in _pairs_across(shared, home):
        for a, b in _exchanges(one, other):
            exchange(one, other, a, b)
            if len(_groups(places)) < len(groups):
                return True
            exchange(one, other, b, a)
    return False


def _exchanges(one: Place, other: Place) -> list[tuple[int, int]]:
    """Who could change places between the two."""
    return [
        (a, b)
        for a in sorted(one.sitting)
        for b in sorted(other.sitting)
        if one.may_hand(a, b) and other.may_hand(b, a)
    ]


def _pairs_across(
    places: Sequence[Place], home: Mapping[int, int]
) -> Iterator[tuple[Place, Place]]:
    for p, one in enumerate(places):
        for other in places[p + 1 :]:
            if home[min(one.sitting)] != home[min(other.sitting)]:
                yield one, other
