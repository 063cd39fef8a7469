"""Who stands where, and what decided between equal totals."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Generic, TypeVar

E = TypeVar("E", bound=Hashable)
Key = Decimal | int | tuple[Decimal | int, ...]


@dataclass(frozen=True)
class Placing(Generic[E]):
    """One entry's place in its class.

    Attributes
    ----------
    entry : hashable
    place : int
        1 is the highest; entries that cannot be separated share a place.
    total : Decimal [points]
    tied_with : tuple
        Other entries with the same place.
    decided_by : str or None
        Section code of the deepest rung of the ladder that was needed to separate this entry from
        another with the same total; None when no equal total was separated.
    """

    entry: E
    place: int
    total: Decimal
    tied_with: tuple[E, ...]
    decided_by: str | None


def competition_ranks(keys: Sequence[Key | None]) -> list[int]:
    """Give the highest key place 1; equal keys share a place and the next ones are skipped.

    Parameters
    ----------
    keys : sequence of Decimal, int or tuple of these, shape (n_entries,) [points]
        A total, or a total followed by the rungs of the tie ladder. Compared exactly.

    Returns
    -------
    list of int, shape (n_entries,)

    Raises
    ------
    ValueError
        When a key is missing (None), a float, not finite, or of another shape than the first.

    Notes
    -----
    Standard competition ranking ("1224"). A missing total has no place; it is never 0.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> competition_ranks([Decimal("9.5"), Decimal("9"), Decimal("9.50"), Decimal("8")])
    [1, 3, 1, 4]
    """
    exact = [_exact(key) for key in keys]
    if len({len(key) for key in exact}) > 1:
        raise ValueError("Every entry needs the same number of rungs to be ranked.")
    first: dict[tuple[Decimal | int, ...], int] = {}
    for place, key in enumerate(sorted(exact, reverse=True), start=1):
        first.setdefault(key, place)
    return [first[key] for key in exact]


def place(
    total: Mapping[E, Decimal | None],
    by_section: Mapping[E, Mapping[str, Decimal]],
    ladder: Sequence[str],
) -> tuple[Placing[E], ...]:
    """Place the entries by total, then by the tie ladder declared before judging.

    Parameters
    ----------
    total : mapping of entry to Decimal [points]
        Complete entries only; an incomplete entry has no place and must be left out.
    by_section : mapping of entry to mapping of section code to Decimal [points]
        Section points used by the ladder; entries not in ``total`` are ignored.
    ladder : sequence of str
        Section codes; between equal totals the higher points in the first section decide, then
        in the second, and so on. May be empty.

    Returns
    -------
    tuple of Placing
        In order of place; entries sharing a place keep the order of ``total``.

    Raises
    ------
    ValueError
        When a total or a section of the ladder is missing, or the ladder names a section twice
        (the second time it could not decide anything).

    Notes
    -----
    Exact comparison; entries equal in total and on every rung share the place.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> total = {"Ace": Decimal(90), "Bell": Decimal(90), "Cook": Decimal(95)}
    >>> trail = {"Ace": 40, "Bell": 42, "Cook": 30}
    >>> by_section = {entry: {"trail": Decimal(points)} for entry, points in trail.items()}
    >>> for placing in place(total, by_section, ("trail",)):
    ...     print(placing.place, placing.entry, placing.decided_by)
    1 Cook None
    2 Bell trail
    3 Ace trail
    """
    if len(set(ladder)) < len(ladder):
        raise ValueError("The tie ladder names a section twice; the second cannot decide.")
    points = {entry: _known_total(entry, value) for entry, value in total.items()}
    rungs = {entry: _rungs(entry, by_section.get(entry, {}), ladder) for entry in points}
    keys: list[Key | None] = [(points[entry], *rungs[entry]) for entry in points]
    places = dict(zip(points, competition_ranks(keys), strict=True))
    equal = _grouped((entry, points[entry]) for entry in points)
    sharing = _grouped(places.items())
    placings = [
        Placing(
            entry=entry,
            place=places[entry],
            total=value,
            tied_with=tuple(other for other in sharing[places[entry]] if other != entry),
            decided_by=_deepest_rung(entry, equal[value], rungs, ladder),
        )
        for entry, value in points.items()
    ]
    return tuple(sorted(placings, key=lambda placing: placing.place))


def borda(placings: Sequence[Mapping[E, int]]) -> dict[E, Decimal]:
    """Total the places the judges gave: a point for each entry beaten, half a one for each equal.

    Parameters
    ----------
    placings : sequence of mapping of entry to int
        One mapping a judge: the place given to each entry, 1 the best. Equal places are equal;
        only the order of the numbers counts.

    Returns
    -------
    dict of entry to Decimal [points]
        Highest is best. Ties in it are real, and the tie ladder's to decide.

    Raises
    ------
    ValueError
        When there is no judge, or the judges placed different entries.

    Notes
    -----
    The same order as the sum of the judges' places, lowest first, with shared places counted as
    their mean. Each judge counts alike, however strict; how far apart entries were is lost, and
    the order of two entries may hang on a third.

    Source
    ------
    Borda count: Borda, J.-C. de, 1781 (from memory).

    Example
    -------
    >>> first, second = {"Ace": 1, "Bell": 2, "Cook": 3}, {"Ace": 2, "Bell": 1, "Cook": 2}
    >>> {entry: str(points) for entry, points in borda([first, second]).items()}
    {'Ace': '2.5', 'Bell': '3', 'Cook': '0.5'}
    """
    if not placings:
        raise ValueError("There are no placings to total.")
    entries = list(placings[0])
    halves = dict.fromkeys(entries, 0)
    for number, given in enumerate(placings, start=1):
        if given.keys() != halves.keys():
            raise ValueError(f"Judge number {number} did not place the same entries as the first.")
        ordered = sorted(given.values())
        for entry, mine in given.items():
            beaten = len(ordered) - bisect_right(ordered, mine)
            level = len(ordered) - beaten - bisect_left(ordered, mine) - 1
            halves[entry] += 2 * beaten + level
    return {
        entry: Decimal(count // 2) if count % 2 == 0 else Decimal(count) / 2
        for entry, count in halves.items()
    }


def rung_proofs(
    ladder: Sequence[str], sections: Sequence[str]
) -> dict[str, tuple[dict[str, Decimal], dict[str, Decimal]] | None]:
    """Show for each rung of a tie ladder two entries which it alone decides, or that none exist.

    Parameters
    ----------
    ladder : sequence of str
        Section codes, first rung first.
    sections : sequence of str
        All sections whose points make up the total.

    Returns
    -------
    dict of section code to pair of mappings of section to Decimal, or None [points]
        Two entries with the same total, equal on every rung above, the first better on this one.
        None for a rung that can never decide.

    Raises
    ------
    ValueError
        When a rung is no section of the total, or the ladder names a section twice.

    Notes
    -----
    With equal totals, points can only move between sections that are not on the rungs above. So a
    rung decides something as long as another section stands below it or off the ladder; the last
    section left is settled by the total and the others.

    Source
    ------
    Arithmetic.

    Example
    -------
    >>> proofs = rung_proofs(("trail", "food"), ("trail", "food"))
    >>> proofs["trail"] is not None, proofs["food"]
    (True, None)
    """
    if len(set(ladder)) < len(ladder):
        raise ValueError("The tie ladder names a section twice; the second cannot decide.")
    unknown = [code for code in ladder if code not in sections]
    if unknown:
        raise ValueError(f"Section {unknown[0]} of the tie ladder is not part of the total.")
    proofs: dict[str, tuple[dict[str, Decimal], dict[str, Decimal]] | None] = {}
    for depth, code in enumerate(ladder):
        free = [section for section in sections if section not in ladder[: depth + 1]]
        if not free:
            proofs[code] = None
            continue
        better = dict.fromkeys(sections, Decimal(10))
        worse = dict(better)
        worse[code] -= 1
        worse[free[0]] += 1
        proofs[code] = better, worse
    return proofs


def _exact(key: Key | None) -> tuple[Decimal | int, ...]:
    """A key as a tuple of exact numbers, or a refusal."""
    parts = key if isinstance(key, tuple) else (key,)
    for part in parts:
        if part is None:
            raise ValueError("An entry without a total cannot be placed; leave it out.")
        exact = isinstance(part, Decimal | int)
        if not exact:
            raise ValueError(f"{part!r} is no exact decimal; floats are never placed.")
        if isinstance(part, Decimal) and not part.is_finite():
            raise ValueError(f"{part} is not a finite number of points.")
    return tuple(part for part in parts if part is not None)


def _known_total(entry: Hashable, value: Decimal | None) -> Decimal:
    if value is None:
        raise ValueError(f"Entry {entry} is incomplete and cannot be placed; leave it out.")
    return value


def _rungs(
    entry: Hashable, sections: Mapping[str, Decimal], ladder: Sequence[str]
) -> tuple[Decimal, ...]:
    for code in ladder:
        if code not in sections:
            raise ValueError(f"Entry {entry} has no points in section {code} of the tie ladder.")
    return tuple(sections[code] for code in ladder)


V = TypeVar("V", bound=Hashable)


def _grouped(pairs: Iterable[tuple[E, V]]) -> dict[V, list[E]]:
    """Entries by value, in order of appearance."""
    groups: dict[V, list[E]] = {}
    for entry, value in pairs:
        groups.setdefault(value, []).append(entry)
    return groups


def _deepest_rung(
    entry: E, peers: Iterable[E], rungs: Mapping[E, tuple[Decimal, ...]], ladder: Sequence[str]
) -> str | None:
    """Last rung at which this entry parted from a peer with the same total."""
    mine = rungs[entry]
    parted = [
        next(depth for depth, (a, b) in enumerate(zip(mine, rungs[peer], strict=True)) if a != b)
        for peer in peers
        if rungs[peer] != mine
    ]
    return ladder[max(parted)] if parted else None
