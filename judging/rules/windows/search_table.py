"""Bare tables of minutes, as people and other programs hand them over, read with care."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from judging.rules.windows.problem import Break, RotationProblem, VisitNeed

# Plain lists and numpy arrays alike; every cell is looked at before it is believed.
Cells = Any
Table = Any
SpanLists = Sequence[Sequence[Sequence[int]]]


def problem_of(
    durations: Table,
    travel: Table | None = None,
    *,
    gate: Cells | None = None,
    reset: int = 0,
    crew_away: SpanLists | None = None,
    judge_breaks: SpanLists | None = None,
) -> RotationProblem:
    """Make a problem of tables; wagons and sections are named by their numbers from 0.

    Parameters
    ----------
    durations, travel, gate, reset, crew_away, judge_breaks
        As in `rotation.solve`.

    Returns
    -------
    RotationProblem
        Wagon w stands on spot w + 1.

    Raises
    ------
    ValueError
        Naming what is wrong with which table.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> problem_of([[5, 0], [7, 4]], [[0, 2], [2, 0]], gate=[1, 3]).walk
    ((0, 1, 3), (1, 0, 2), (3, 2, 0))
    >>> problem_of([[5, 4], [7]])
    Traceback (most recent call last):
        ...
    ValueError: row 1 of the durations has 1 of 2 cells
    """
    minutes = _whole(durations, "durations", None)
    n = len(minutes)
    between = [[0] * n for _ in range(n)] if travel is None else _whole(travel, "travel", n)
    if len(between) != n:
        raise ValueError(f"the travel table has {len(between)} rows for {n} wagons")
    way = [0] * n if gate is None else _whole([gate], "way from the gate", n)[0]
    visits = tuple(
        VisitNeed(w, s, length)
        for w, row in enumerate(minutes)
        for s, length in enumerate(row)
        if length
    )
    return RotationProblem(
        visits=visits,
        walk=((0, *way), *((leg, *row) for leg, row in zip(way, between, strict=True))),
        spot={w: w + 1 for w in range(n)},
        crew_reset_minutes=_cell(reset, "the reset"),
        crew_away={
            w: tuple((int(a), int(b)) for a, b in spans)
            for w, spans in enumerate(_rows(crew_away, n, "times away", "wagons"))
        },
        breaks={
            s: tuple(Break(int(length), int(a), int(b)) for length, a, b in own)
            for s, own in enumerate(_rows(judge_breaks, len(minutes[0]), "breaks", "sections"))
        },
    )


def _rows(lists: SpanLists | None, number: int, name: str, of: str) -> SpanLists:
    if lists is None:
        return ()
    if len(lists) != number:
        raise ValueError(f"there are {len(lists)} lists of {name} for {number} {of}")
    return lists


def _whole(table: Table, name: str, width: int | None) -> list[list[int]]:
    if len(table) == 0 or len(table[0]) == 0:
        raise ValueError(f"the {name} are empty")
    width = len(table[0]) if width is None else width
    for r, row in enumerate(table):
        if len(row) != width:
            raise ValueError(f"row {r} of the {name} has {len(row)} of {width} cells")
    return [
        [_cell(cell, f"row {r} of the {name}, cell {c},") for c, cell in enumerate(row)]
        for r, row in enumerate(table)
    ]


def _cell(cell: Any, where: str) -> int:
    if cell is None:
        return 0
    try:
        whole = int(cell)
    except (TypeError, ValueError, OverflowError):
        raise ValueError(f"{where} is {cell!r}, not a whole number of minutes") from None
    if whole != cell:
        raise ValueError(f"{where} is {cell}, not a whole number of minutes")
    if whole < 0:
        raise ValueError(f"{where} is {whole}, less than no time")
    return whole
