"""Walking times on the camp plan."""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, dist

Point = tuple[float, float]


def walk_minutes(
    gate: Point, spots: Sequence[Point], *, ft_per_minute: float
) -> tuple[tuple[int, ...], ...]:
    """Tell how long a judge walks between any two places on the ground.

    Parameters
    ----------
    gate : (x, y) [ft]
        Where judges set off.
    spots : sequence of (x, y), shape (n_spots,) [ft]
        The middle of each camp's front.
    ft_per_minute : float [ft/min]
        A judge's pace with a phone in hand.

    Returns
    -------
    tuple of tuple of int, shape (n_spots + 1, n_spots + 1) [min]
        Row 0 is the gate. Whole minutes, rounded up, at least one between two places.

    Raises
    ------
    ValueError
        When the pace is not above zero.

    Notes
    -----
    Straight lines; rounding up keeps every detour at least as long as the direct way.

    Source
    ------
    Common practice, no source.

    Examples
    --------
    >>> walk_minutes((0, 0), [(100, 0), (450, 0)], ft_per_minute=200)
    ((0, 1, 3), (1, 0, 2), (3, 2, 0))
    """
    if ft_per_minute <= 0:
        raise ValueError("A judge's pace must be above zero feet a minute.")
    places = [gate, *spots]
    return tuple(
        tuple(
            0 if i == j else max(1, ceil(dist(a, b) / ft_per_minute)) for j, b in enumerate(places)
        )
        for i, a in enumerate(places)
    )
