"""Three-digit codes under which dishes are judged, hard to mix up and saying nothing."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable

LOWEST, HIGHEST = 100, 999


def blind_codes(n: int, *, seed: int, taken: Iterable[str] = ()) -> tuple[str, ...]:
    """Draw codes for dishes, the first for the first wagon.

    Parameters
    ----------
    n
        How many [codes].
    seed
        Who knows it can draw the codes again: keep it as close as the key.
    taken
        Codes other dishes of the show have.

    Returns
    -------
    tuple of str
        Shape ``(n,)``, each from "100" to "999". As long as it can be avoided no code differs
        from another in one digit alone, and none has the digits of another in another order.
        Three or more are neither rising nor falling with the wagons' numbers.

    Raises
    ------
    ValueError
        Where there are not as many codes left.

    Notes
    -----
    The three-digit codes are from practice with assessors; that look-alikes are avoided is our
    own. Of two codes one is always the greater: neither order is ruled out for them, since that
    would give them away.

    Source
    ------
    ISO 13299:2016 (three-digit codes); common practice, no source (look-alikes).

    Example
    -------
    >>> codes = blind_codes(20, seed=5)
    >>> len(set(codes)), any(alike(a, b) for a in codes for b in codes if a != b)
    (20, False)
    """
    rng = random.Random(seed)
    there = list(taken)
    pool = [str(code) for code in range(LOWEST, HIGHEST + 1) if str(code) not in set(there)]
    if n > len(pool):
        raise ValueError(f"there are {len(pool)} three-digit codes left for {n} dishes")
    rng.shuffle(pool)
    chosen: list[str] = []
    for too_close in (alike, _one_digit, lambda one, other: one == other):
        _fill(chosen, n, pool, there, too_close)
    rng.shuffle(chosen)
    while n > 2 and chosen in (sorted(chosen), sorted(chosen, reverse=True)):
        rng.shuffle(chosen)
    return tuple(chosen)


def alike(one: str, other: str) -> bool:
    """Say whether two codes may be mistaken for each other.

    Parameters
    ----------
    one, other
        Codes of three digits.

    Returns
    -------
    bool
        True where they differ in one digit at most, or have the same digits.

    Source
    ------
    Common practice, no source.

    Example
    -------
    >>> alike("417", "471"), alike("417", "427"), alike("417", "528")
    (True, True, False)
    """
    return _one_digit(one, other) or sorted(one) == sorted(other)


def _one_digit(one: str, other: str) -> bool:
    return sum(a != b for a, b in zip(one, other, strict=True)) < 2


def _fill(
    chosen: list[str],
    n: int,
    pool: Iterable[str],
    taken: list[str],
    too_close: Callable[[str, str], bool],
) -> None:
    for code in pool:
        if len(chosen) == n:
            return
        if not any(too_close(code, other) for other in (*chosen, *taken)):
            chosen.append(code)
